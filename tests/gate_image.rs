//! The gate and the table of cows on the real image under emulation, with the host's session at the other end.
//!
//! `cargo test -p tests --test gate_image -- --show-output` prints what an answer costs.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use host::{
    link::{
        Line, Notice, Now, Session, StoreKeeper,
        orders::{OrdersSpoken, Wanted, WantedList},
    },
    store::Store,
};
use jiff::Timestamp;
use shared::{
    identity::AnimalCode,
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
    wire::{DeviceId, DeviceMessage, GateOutcome, GateSettings, HostMessage, LaneAnswer, LinkKey},
};
use tests::{
    cow_rows::{square, table},
    emulator::{Emulator, Heard},
    recording::{Event, Recording},
};

/// The number of the emulated board.
const DEVICE: DeviceId = DeviceId(0x0386_0386);
const KEY: LinkKey = LinkKey([0x3C; 32]);
const START_UTC_MS: i64 = 1_767_225_600_000;
/// A gate that is moved so long after a tag is read.
const fn gate(delay_ms: u16) -> GateSettings {
    GateSettings {
        moves_high: true,
        delay_ms,
        pulse_ms: 1_000,
        hold_ms: 6_000,
        silence_s: 3_600,
        first_kg: Kilograms(60.0),
    }
}
/// Instructions that judging a cow may take.
const ANSWER_BUDGET: f64 = 200_000.0;

struct Bench<'s> {
    emulator: Emulator,
    store: &'s Store,
    session: Session<StoreKeeper<'s>>,
    orders: OrdersSpoken,
    wanted: Wanted,
    /// The lane's clock, as far as it was played, ms.
    clock: u64,
    answers: Vec<LaneAnswer>,
}

impl<'s> Bench<'s> {
    fn new(store: &'s Store) -> Self {
        let source = store.begin_source("link", "image", Timestamp::UNIX_EPOCH).expect("stored");
        let now = Now { utc_ms: START_UTC_MS, monotonic_ms: 0 };
        Self {
            emulator: Emulator::start(true),
            store,
            session: Session::new(StoreKeeper::new(store, source), Line::Cable, now),
            orders: OrdersSpoken::default(),
            wanted: Wanted::default(),
            clock: 0,
            answers: Vec::new(),
        }
    }

    fn now(&self) -> Now {
        Now { utc_ms: START_UTC_MS + self.clock.cast_signed(), monotonic_ms: self.clock }
    }

    fn hear(&mut self, heard: &Heard) {
        if let Heard::Device(bytes) = heard {
            let now = self.now();
            self.session.receive(bytes, now).expect("the store works");
        }
        self.turn();
    }

    fn turn(&mut self) {
        let now = self.now();
        self.session.tick(now).expect("not silent");
        for notice in self.session.take_notices() {
            match notice {
                Notice::Hello(_) => self.orders.met(),
                Notice::Answer(message) => {
                    if let DeviceMessage::Answer(answer) = &*message {
                        self.answers.push(*answer);
                    }
                    let heard = self.orders.hear(&self.session, self.store, &message, &self.wanted, now);
                    let _ = heard.expect("the store works");
                }
                _ => {}
            }
        }
        self.orders.turn(&mut self.session, self.store, &self.wanted, now).expect("the store works");
        let bytes = self.session.take_output();
        if !bytes.is_empty() {
            self.emulator.say(&bytes);
        }
    }

    /// Lets both talk until it is so, with readings of the empty plates by which the clock goes on.
    fn until(&mut self, what: &str, done: impl Fn(&Self) -> bool) {
        for _ in 0..30_000 {
            if done(self) {
                return;
            }
            let reading = Event::Reading(Milliseconds(self.clock + 20), PerPlate::default());
            self.play(&[reading], 0);
        }
        panic!("{what} never came: {:?}", self.orders);
    }

    /// Plays events, moved on so that the clock never goes back.
    fn play(&mut self, events: &[Event], by: u64) {
        for events in events.chunks(40) {
            let moved: Vec<Event> = events.iter().map(|event| event.later(by)).collect();
            let mut all = Vec::new();
            self.emulator.play(&moved, |_, heard| all.push(heard));
            self.clock = moved.last().map_or(self.clock, |event| event.time().0);
            for heard in all {
                self.hear(&heard);
            }
            self.turn();
        }
    }
}

fn code(line: &[u8]) -> AnimalCode {
    let text = String::from_utf8_lossy(line);
    text.chars().filter(char::is_ascii_digit).collect::<String>().parse().expect("a code")
}

#[test]
fn the_image_takes_its_orders_moves_the_gate_for_the_listed_cow_and_judges_each() {
    let recording = Recording::of(3, 1, 33);
    let tags: Vec<(u64, AnimalCode)> = recording
        .events
        .iter()
        .filter_map(|event| match event {
            Event::Tag(time, line) => Some((time.0, code(line))),
            Event::Reading(..) => None,
        })
        .collect();
    let mut cows: Vec<AnimalCode> = tags.iter().map(|tag| tag.1).collect();
    cows.dedup();
    assert!(cows.len() >= 3, "{cows:?}");
    // The gate is meant for the second: it is moved as she leaves the plates.
    let read = tags.iter().find(|tag| tag.1 == cows[1]).expect("she was read").0;
    let (_, off) = *recording.spans.iter().find(|span| span.1 > read).expect("she passed");
    let gate = gate(u16::try_from(off - read - 1_500).expect("seconds"));
    let store = Store::in_memory().expect("memory");
    store.put_link_key(DEVICE, Some(KEY)).expect("kept");
    let mut bench = Bench::new(&store);
    bench.until("hello", |bench| bench.session.device().is_some());
    bench.session.say(&HostMessage::Pair(KEY));
    bench.until("the seal", |bench| bench.session.is_sealed() && bench.session.device().is_some());
    bench.until("orders", |bench| bench.orders.state().is_some());
    bench.session.say(&HostMessage::SetGate(Some(gate)));
    bench.until("the gate", |bench| bench.orders.state().is_some_and(|state| state.gate == Some(gate)));
    // A full table, in which the cows of the recording are some of many.
    let others = (0..990).map(|n| AnimalCode::new(999, 700_000 + n).expect("a code"));
    let all: Vec<AnimalCode> = cows.iter().copied().chain(others).collect();
    let (head, rows) = table(all.into_iter().map(|code| square(code, 5_400, 60, 2)).collect());
    let until_ms = START_UTC_MS + 20 * 3_600_000;
    bench.wanted = Wanted {
        list: Some(WantedList { codes: vec![cows[1]], most: 5, until_ms }),
        ..Wanted::default().with_table(head, rows)
    };
    let name = bench.wanted.table.as_ref().expect("a table").0.table;
    bench.until("the table", |bench| bench.orders.state().is_some_and(|state| state.table == name));
    bench.until("the list", |bench| bench.orders.state().is_some_and(|state| state.in_force));
    bench.emulator.count_anew();
    let by = bench.clock + 1_000;
    bench.play(&recording.events, by);
    bench.emulator.finish(true);
    loop {
        match bench.emulator.wait() {
            Heard::Ended => break,
            heard => bench.hear(&heard),
        }
    }
    host::link::Keeper::settle(bench.session.keeper(), DEVICE).expect("the store works");
    let events = store.gate_events(Timestamp::UNIX_EPOCH, Timestamp::MAX).expect("readable");
    let outcomes: Vec<(String, GateOutcome)> =
        events.iter().map(|event| (event.animal.0.clone(), event.outcome)).collect();
    assert_eq!(outcomes, [(cows[1].to_string(), GateOutcome::Held)]);
    let passages = recording.spans.len();
    assert!(bench.answers.len() + 1 >= passages, "{} answers of {passages} passages", bench.answers.len());
    assert!(bench.answers.iter().all(|answer| answer.table == name && cows.contains(&answer.code)));
    let (cost, moves) = bench.emulator.end();
    assert_eq!(moves.len(), 1, "{moves:?}");
    let after = moves[0] - by - read;
    let due = u64::from(gate.delay_ms);
    assert!((due..due + 5_100).contains(&after), "{after} ms after her tag, due at {due}");
    println!("to judge a cow among 993: {:.0} instructions", cost.most_answer);
    assert!(cost.most_answer > 1_000.0 && cost.most_answer <= ANSWER_BUDGET, "{}", cost.most_answer);
}
