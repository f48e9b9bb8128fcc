//! The time of passages: from the real image's clock, through a session and into a store, held against UTC.
//!
//! `cargo test -p tests --test passage_times -- --show-output` prints how right it is.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use host::{
    link::{Keeper, Line, Notice, Now, Session, StoreKeeper},
    store::{PassageFilter, Store},
};
use jiff::Timestamp;
use shared::{
    units::Milliseconds,
    wire::{DeviceMessage, FrameReader, HostMessage, ItemKey},
};
use std::collections::BTreeMap;
use tests::{
    emulator::{Emulator, Heard},
    peer::messages,
    recording::{Event, Recording, cut},
};

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
        session: Session::new(StoreKeeper::new(&store, source), Line::Cable, zero.now(0)),
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
