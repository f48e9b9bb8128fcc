//! The real image, the real program and a real store: what the device keeps arrives once, whatever dies in between,
//! and its time is right.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use host::{
    link::{Keeper, Notice, Now, Session, StoreKeeper},
    store::{PassageFilter, Store},
};
use jiff::Timestamp;
use shared::{
    analysis::PassageSummary,
    units::Milliseconds,
    wire::{DeviceMessage, FrameReader, HostMessage, ItemKey},
};
use std::{
    collections::BTreeMap,
    io::Write,
    net::TcpStream,
    path::{Path, PathBuf},
};
use tests::{
    emulator::{Emulator, Heard, listen},
    peer::{item_key, kept_on_the_host, message, messages},
    program::Running,
    recording::{Event, Recording},
};

/// After so many items the host is killed, with the last of them on its way to the store.
const KILL_AFTER: usize = 7;

/// The line between the image and the program, which sees all that is said.
struct Line {
    store: PathBuf,
    program: Running,
    stream: Option<TcpStream>,
    from_device: FrameReader,
    from_host: FrameReader,
    /// What the device has delivered.
    items: BTreeMap<ItemKey, DeviceMessage>,
    boot: u32,
    acknowledged: u32,
    killed: bool,
}

fn start(store: &Path) -> Running {
    Running::start(store, &["listen", "--serve", "127.0.0.1:0", "--once"])
}

impl Line {
    fn new(store: &Path) -> Self {
        Self {
            store: store.to_owned(),
            program: start(store),
            stream: None,
            from_device: FrameReader::new(),
            from_host: FrameReader::new(),
            items: BTreeMap::new(),
            boot: 0,
            acknowledged: 0,
            killed: false,
        }
    }

    fn connect(&mut self, emulator: &Emulator) {
        let said = self.program.says("listening at");
        let address = said.trim().rsplit(' ').next().expect("an address");
        let stream = TcpStream::connect(address).expect("the program listens");
        listen(&stream, &emulator.teller(), Heard::Host, Heard::HostGone);
        self.stream = Some(stream);
        self.from_host = FrameReader::new();
    }

    fn pass(&mut self, emulator: &mut Emulator, heard: Heard) {
        match heard {
            Heard::Device(bytes) => {
                for (message, _) in messages::<DeviceMessage>(&mut self.from_device, &bytes) {
                    if let DeviceMessage::Hello(hello) = &message {
                        self.boot = hello.boot;
                    }
                    if let Some(key) = item_key(&message) {
                        self.items.insert(key, message);
                    }
                }
                // A program that has just been killed takes nothing.
                let _ = self.stream.as_mut().map(|stream| stream.write_all(&bytes));
                if !self.killed && self.items.len() >= KILL_AFTER {
                    self.killed = true;
                    self.program.child.kill().expect("it runs");
                    self.program = start(&self.store);
                    self.connect(emulator);
                }
            }
            Heard::Host(bytes) => {
                for (message, _) in messages::<HostMessage>(&mut self.from_host, &bytes) {
                    if let HostMessage::Acknowledge { first, last } = message {
                        self.is_committed(first, last);
                        self.acknowledged += 1;
                    }
                }
                emulator.say(&bytes);
            }
            Heard::Done | Heard::HostGone | Heard::Ended => {}
        }
    }

    /// Another process must see what is acknowledged: it is committed, then.
    fn is_committed(&self, first: u32, last: u32) {
        let sql = "SELECT count(*) FROM device_items WHERE sequence BETWEEN ?1 AND ?2";
        let count: u32 = database(&self.store)
            .query_row(sql, [first, last], |row| row.get(0))
            .expect("the store can be read");
        assert_eq!(count, last - first + 1, "acknowledged and not stored: {first} to {last}");
    }
}

fn database(store: &Path) -> rusqlite::Connection {
    let read_only = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
    rusqlite::Connection::open_with_flags(store, read_only).expect("a store")
}

/// A recording in two parts, the second with a clock that starts anew, as after a reset.
fn cut(events: &[Event], at: u64) -> (Vec<Event>, Vec<Event>) {
    let (before, after) = events.split_at(events.partition_point(|event| event.time().0 < at));
    let after = after.iter().map(|event| {
        let time = Milliseconds(event.time().0 - at + 1_000);
        match event {
            Event::Reading(_, counts) => Event::Reading(time, *counts),
            Event::Tag(_, line) => Event::Tag(time, line.clone()),
        }
    });
    (before.to_vec(), after.collect())
}

/// Takes the numbers away, which a reset lets skip some.
fn nameless(mut message: DeviceMessage) -> DeviceMessage {
    match &mut message {
        DeviceMessage::Passage(passage) => (passage.key, passage.passage) = (ItemKey::default(), 0),
        DeviceMessage::TraceChunk(chunk) => (chunk.key, chunk.passage) = (ItemKey::default(), 0),
        DeviceMessage::TagRead(tag) => tag.key = ItemKey::default(),
        _ => {}
    }
    message
}

fn expected(events: &[Event], over: bool) -> Vec<DeviceMessage> {
    kept_on_the_host(events, over).values().map(|frame| nameless(message(frame).0)).collect()
}

fn summaries<'a>(messages: impl IntoIterator<Item = &'a DeviceMessage>) -> Vec<PassageSummary> {
    let of = |message: &DeviceMessage| match message {
        DeviceMessage::Passage(passage) => Some(passage.summary),
        _ => None,
    };
    messages.into_iter().filter_map(of).collect()
}

#[test]
fn all_passages_arrive_once_whatever_dies() {
    let folder = tempfile::tempdir().expect("temporary folder");
    let store = folder.path().join("store.sqlite");
    let recording = Recording::of(4, 2, 33);
    // The device is reset while the second cow of the second milking is on the plates.
    let (begin, end) = recording.spans[5];
    let (before, after) = cut(&recording.events, begin.midpoint(end));

    let mut emulator = Emulator::start(false);
    let mut line = Line::new(&store);
    line.connect(&emulator);
    emulator.play(&before, |emulator, heard| line.pass(emulator, heard));
    assert!(line.killed, "the host was not killed before the reset");
    emulator.reset();
    while line.boot < 2 {
        let heard = emulator.wait();
        line.pass(&mut emulator, heard);
    }
    emulator.play(&after, |emulator, heard| line.pass(emulator, heard));
    emulator.finish(true);
    loop {
        match emulator.wait() {
            Heard::Ended => break,
            heard => line.pass(&mut emulator, heard),
        }
    }
    assert!(line.acknowledged > 0);
    drop(emulator);
    if let Some(stream) = line.stream.take() {
        stream.shutdown(std::net::Shutdown::Both).expect("connected");
    }
    assert!(line.program.child.wait().expect("it ends").success());

    // What the device kept is what the host's build of it keeps; the cow on the plates at the reset is cut off.
    let of_boot = |boot: u32| line.items.iter().filter(move |(key, _)| key.boot == boot);
    for (boot, wanted) in [(1, expected(&before, false)), (2, expected(&after, true))] {
        let found: Vec<_> = of_boot(boot).map(|(_, message)| nameless(message.clone())).collect();
        assert_eq!(found.len(), wanted.len(), "items of boot {boot}");
        assert!(found == wanted, "items of boot {boot}");
    }

    // The store holds each once, and nothing else.
    let database = database(&store);
    let mut statement =
        database.prepare("SELECT boot, sequence FROM device_items").expect("the store's tables");
    let keys = statement
        .query_map([], |row| Ok(ItemKey { boot: row.get(0)?, sequence: row.get(1)? }))
        .expect("rows")
        .collect::<Result<std::collections::BTreeSet<_>, _>>()
        .expect("rows");
    assert!(keys.iter().eq(line.items.keys()), "items in the store");
    let mut wanted = summaries(line.items.values());
    assert!(wanted.len() >= recording.spans.len(), "{} passages", wanted.len());
    let stored = Store::open(&store).expect("a store").passages(&PassageFilter::default()).expect("passages");
    assert_eq!(stored.len(), wanted.len(), "passages in the store");
    for passage in stored {
        let at =
            wanted.iter().position(|summary| *summary == passage.summary).expect("one that was delivered");
        wanted.swap_remove(at);
    }
}

/// UTC when the device starts, ms since the Unix epoch.
const START_UTC_MS: u64 = 1_767_225_600_000;
/// How fast the device's clock runs, ppm; our choice: the tolerance of a cheap crystal.
const DRIFT_PPM: f64 = 100.0;
/// Ways there and back of the exchanges, ms, in turn: a slow line that is seldom even.
const WAYS_MS: [(u64, u64); 4] = [(40, 5), (3, 30), (12, 9), (35, 35)];
/// The device is off for this long, ms.
const OFF_MS: f64 = 20_000.0;
/// Between two readings, ms.
const READING_MS: u64 = 5;
/// Readings that a turn lasts, at most.
const LONGEST_TURN: usize = 20;
/// The host does what is due this often, ms.
const TURN_MS: u64 = 500;
/// The time of passages must be right to this, ms.
const RIGHT_MS: f64 = 50.0;

/// A boot of the device: UTC at its clock's zero.
struct Boot {
    utc_ms: f64,
}

impl Boot {
    #[allow(clippy::cast_precision_loss, reason = "a clock is far below 2^53 ms")]
    fn utc(&self, device_ms: u64) -> f64 {
        self.utc_ms + device_ms as f64 / (1.0 + DRIFT_PPM * 1e-6)
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "times of this century")]
    fn now(&self, device_ms: u64) -> Now {
        let utc_ms = self.utc(device_ms);
        Now { utc_ms: utc_ms.round() as i64, monotonic_ms: utc_ms.round() as u64 - START_UTC_MS }
    }
}

/// What the device has said.
#[derive(Default)]
struct Ear {
    reader: FrameReader,
    /// Not yet given to the session.
    bytes: Vec<u8>,
    boot: u32,
    replies: u32,
    /// When passages began, on the clock of their boot.
    starts: BTreeMap<ItemKey, Milliseconds>,
}

impl Ear {
    fn hear(&mut self, heard: Heard) {
        let Heard::Device(bytes) = heard else { return };
        for (message, _) in messages::<DeviceMessage>(&mut self.reader, &bytes) {
            match message {
                DeviceMessage::Hello(hello) => self.boot = hello.boot,
                DeviceMessage::TimeReply(_) => self.replies += 1,
                DeviceMessage::Passage(passage) => {
                    self.starts.insert(passage.key, passage.summary.start);
                }
                _ => {}
            }
        }
        self.bytes.extend(bytes);
    }
}

/// The image and a session, in the test's own time.
struct Hosted<'s> {
    session: Session<StoreKeeper<'s>>,
    emulator: Emulator,
    ear: Ear,
    compared: usize,
}

impl Hosted<'_> {
    /// Plays what comes up to a time of the device's clock.
    fn play(&mut self, rest: &mut &[Event], until: u64) {
        let (now, later) = rest.split_at(rest.partition_point(|event| event.time().0 <= until));
        *rest = later;
        self.emulator.play(now, |_, heard| self.ear.hear(heard));
    }

    fn deliver(&mut self, now: Now) {
        self.session.receive(&std::mem::take(&mut self.ear.bytes), now).expect("the store works");
    }

    /// The host's turn: what it says comes to the device a way later, and the answer back to it another.
    fn turn(&mut self, rest: &mut &[Event], boot: &Boot, at: u64, (there, back): (u64, u64)) {
        self.play(rest, at);
        self.deliver(boot.now(at));
        self.session.tick(boot.now(at)).expect("not silent");
        let said = self.session.take_output();
        let asked = messages::<HostMessage>(&mut FrameReader::new(), &said)
            .iter()
            .any(|(message, _)| matches!(message, HostMessage::TimeRequest(_)));
        self.play(rest, at + there);
        let before = self.ear.replies;
        self.emulator.say(&said);
        while asked && self.ear.replies == before {
            let heard = self.emulator.wait();
            self.ear.hear(heard);
        }
        self.play(rest, at + there + back);
        self.deliver(boot.now(at + there + back));
        let notices = self.session.take_notices();
        self.compared += notices.iter().filter(|notice| matches!(notice, Notice::Clock(_))).count();
    }

    /// One boot: its readings, and a turn of the host now and then while there are some.
    fn run(&mut self, mut rest: &[Event], boot: &Boot, ways: &mut impl Iterator<Item = (u64, u64)>) {
        let mut due = 0;
        while let Some(event) = rest.first() {
            let at = event.time().0.max(due);
            self.play(&mut rest, at);
            // The device's clock stands still between the runs of readings: no turn at the end of one.
            let near = |pair: &[Event]| pair[1].time().0 <= pair[0].time().0 + 2 * READING_MS;
            let run = rest.get(..LONGEST_TURN).is_some_and(|run| run.windows(2).all(near));
            if run && rest[0].time().0 <= at + 2 * READING_MS {
                let way = ways.next().expect("endless");
                self.turn(&mut rest, boot, at, way);
                due = at + TURN_MS;
            }
        }
    }

    /// Lets the device deliver what is left.
    fn end(&mut self, now: Now) {
        self.emulator.finish(true);
        loop {
            match self.emulator.wait() {
                Heard::Ended => return,
                heard => self.ear.hear(heard),
            }
            self.deliver(now);
            let said = self.session.take_output();
            self.emulator.say(&said);
        }
    }
}

/// The image's clock is that of the readings played in, and the host's is the test's own: no real time is in it.
#[test]
fn passage_times_are_right_across_drift_and_a_reset() {
    let recording = Recording::of(4, 2, 34);
    let (begin, _) = recording.spans[4];
    let (first, second) = cut(&recording.events, begin - 3_000);
    let store = Store::in_memory().expect("a store");
    let source = store.begin_source("link", "test", Timestamp::UNIX_EPOCH).expect("a source");
    #[allow(clippy::cast_precision_loss, reason = "times of this century")]
    let zero = Boot { utc_ms: START_UTC_MS as f64 };
    let last = first.last().expect("readings").time().0;
    let boots = [Boot { utc_ms: zero.utc_ms }, Boot { utc_ms: zero.utc(last) + OFF_MS }];
    let mut hosted = Hosted {
        session: Session::new(StoreKeeper::new(&store, source), zero.now(0)),
        emulator: Emulator::start(false),
        ear: Ear::default(),
        compared: 0,
    };
    let mut ways = WAYS_MS.into_iter().cycle();
    for (number, (boot, events)) in (1..).zip(boots.iter().zip([&first, &second])) {
        while hosted.ear.boot < number {
            let heard = hosted.emulator.wait();
            hosted.ear.hear(heard);
        }
        hosted.run(events, boot, &mut ways);
        if number == 1 {
            hosted.emulator.reset();
        }
    }
    hosted.end(boots[1].now(second.last().expect("readings").time().0));
    let device = hosted.session.device().expect("met").device;
    hosted.session.keeper().settle(device).expect("the store works");

    let truth = hosted.ear.starts.iter().map(|(key, start)| boots[key.boot as usize - 1].utc(start.0));
    let mut truth: Vec<f64> = truth.collect();
    truth.sort_by(f64::total_cmp);
    let stored = store.passages(&PassageFilter::default()).expect("passages");
    assert_eq!(stored.len(), truth.len());
    assert!(truth.len() >= recording.spans.len());
    #[allow(clippy::cast_precision_loss, reason = "times of this century")]
    let errors =
        stored.iter().zip(&truth).map(|(passage, truth)| passage.time.as_millisecond() as f64 - truth);
    let worst = errors.fold(0.0, |worst: f64, error| worst.max(error.abs()));
    println!(
        "{} passages of two boots, {} exchanges: within {worst:.1} ms of UTC",
        truth.len(),
        hosted.compared
    );
    assert!(worst <= RIGHT_MS, "off by {worst} ms");
    assert!(hosted.compared >= 8, "{} exchanges", hosted.compared);
}
