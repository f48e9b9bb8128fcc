//! The real image under emulation: its records are those of the host's build, and it keeps its budgets.
//!
//! `cargo test -p tests --test device budgets -- --show-output` prints the budgets and what is measured.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use firmware::{
    fakes::FakePort,
    journal::{Journal, Layout},
    load_cells::Sample,
    memory_flash::MemoryFlash,
    scale::{Identity, Scale},
    settings::Store,
};
use shared::{
    analysis::{Analyser, PassageKind},
    limits::MAX_FRAME_BYTES,
    plate::PerPlate,
    units::{Counts, Milliseconds},
    wire::{
        Decoded, DeviceId, DeviceMessage, Feed, FrameReader, HostHello, HostMessage, OLDEST_SCHEMA,
        ResetCause, SCHEMA, TraceDecoder, decode, encode_frame,
    },
};
use std::{collections::BTreeMap, sync::LazyLock};
use tests::{
    emulator::{Cost, Emulator, Heard, image},
    image::{panicking, sizes},
    recording::{Event, Recording},
};

/// What one run of the image gave.
struct Run {
    /// Payloads of passages, tags and trace chunks by their number.
    items: BTreeMap<u32, Vec<u8>>,
    cost: Cost,
}

static RECORDING: LazyLock<Recording> = LazyLock::new(|| Recording::of(8, 2, 21));

/// The image plays the recording once for all tests.
static RUN: LazyLock<Run> = LazyLock::new(|| {
    let mut emulator = Emulator::start(true);
    let mut host = Host::default();
    emulator.play(&RECORDING.events, |emulator, heard| host.hear(emulator, &heard));
    host.hear_out(&mut emulator);
    Run { items: host.items, cost: emulator.cost() }
});

/// A host that keeps everything and acknowledges it at once.
#[derive(Default)]
struct Host {
    reader: FrameReader,
    items: BTreeMap<u32, Vec<u8>>,
    /// The boot that has been greeted.
    boot: u32,
    /// Boots and their causes, as the health messages told them.
    causes: Vec<(u32, ResetCause)>,
}

impl Host {
    fn hear(&mut self, emulator: &mut Emulator, heard: &Heard) {
        let Heard::Device(bytes) = heard else { return };
        let mut rest = bytes.as_slice();
        let mut answers = Vec::new();
        while !rest.is_empty() {
            rest = match self.reader.push(rest) {
                Feed::NeedMore => &[],
                Feed::Dropped { rest } => rest,
                Feed::Frame { payload, rest } => {
                    let Decoded::Message(message) = decode::<DeviceMessage>(payload) else {
                        panic!("the device speaks our schema: {payload:?}")
                    };
                    match (key(&message), message) {
                        (Some(key), _) => {
                            self.items.insert(key, payload.to_vec());
                            answers.push(HostMessage::Acknowledge { first: key, last: key });
                        }
                        (_, DeviceMessage::Hello(hello)) if hello.boot != self.boot => {
                            self.boot = hello.boot;
                            answers.push(HostMessage::Hello(HostHello {
                                schema: SCHEMA,
                                oldest: OLDEST_SCHEMA,
                            }));
                        }
                        (_, DeviceMessage::Health(health)) => self.causes.push((health.boot, health.reset)),
                        _ => {}
                    }
                    rest
                }
            };
        }
        for answer in &answers {
            let mut frame = [0; MAX_FRAME_BYTES];
            let length = encode_frame(answer, &mut frame).expect("fits");
            emulator.say(&frame[..length]);
        }
    }

    /// Listens until the emulator has ended.
    fn hear_out(&mut self, emulator: &mut Emulator) {
        emulator.finish(true);
        loop {
            match emulator.wait() {
                Heard::Ended => return,
                heard => self.hear(emulator, &heard),
            }
        }
    }
}

fn key(message: &DeviceMessage) -> Option<u32> {
    match message {
        DeviceMessage::Passage(passage) => Some(passage.key.sequence),
        DeviceMessage::TraceChunk(chunk) => Some(chunk.key.sequence),
        DeviceMessage::TagRead(tag) => Some(tag.key.sequence),
        _ => None,
    }
}

fn payload(frame: &[u8]) -> Vec<u8> {
    let mut reader = FrameReader::new();
    let Feed::Frame { payload, .. } = reader.push(frame) else { panic!("a whole frame") };
    payload.to_vec()
}

/// Frames that the host's build of the device keeps for the recording, by their number.
fn frames_on_the_host() -> BTreeMap<u32, Vec<u8>> {
    let bytes = vec![0xFF; 4 << 20];
    let layout = Layout::of::<MemoryFlash<Vec<u8>>>(bytes.len() as u32).expect("large enough");
    let mut journal = Journal::open(MemoryFlash(bytes), &layout).expect("an empty flash");
    let settings = Store::load(journal.flash(), &layout);
    let mut analyser = Analyser::new(f32::from(settings.1.rate_hz));
    let identity = Identity {
        device: DeviceId(1),
        firmware: [0, 1, 0],
        reset: ResetCause::PowerOn,
        full_scale: 0x7F_FFFF,
    };
    let mut scale = Scale::new(identity, FakePort::default(), &mut journal, settings, &mut analyser);
    for event in &RECORDING.events {
        match event {
            Event::Reading(time, counts) => {
                let counts = PerPlate(counts.0.map(Counts));
                scale.sample(*time, &Sample { counts });
            }
            Event::Tag(time, line) => line.iter().for_each(|byte| scale.tag_byte(*time, *byte)),
        }
    }
    scale.finish();
    let mut frames = BTreeMap::new();
    let mut from = 0;
    while let Some((number, frame)) = journal.next_from(from).expect("the flash works") {
        frames.insert(number, frame.to_vec());
        from = number + 1;
    }
    frames
}

#[test]
fn the_records_are_those_of_the_hosts_build_to_the_byte() {
    let here = frames_on_the_host();
    let passages = || {
        here.values().filter_map(|frame| match decode::<DeviceMessage>(&payload(frame)) {
            Decoded::Message(DeviceMessage::Passage(passage)) => Some(passage),
            _ => None,
        })
    };
    for kind in [PassageKind::Stance, PassageKind::WalkThrough] {
        assert!(passages().any(|passage| passage.summary.kind == kind), "the recording has no {kind:?}");
    }
    assert!(passages().count() >= RECORDING.spans.len(), "{} passages", passages().count());
    let numbers = |items: &BTreeMap<u32, Vec<u8>>| items.keys().copied().collect::<Vec<_>>();
    assert_eq!(numbers(&here), numbers(&RUN.items));
    for (number, frame) in &here {
        assert_eq!(payload(frame), RUN.items[number], "item {number}");
    }
}

#[test]
fn budgets_hold() {
    let sizes = sizes(&image());
    let cost = RUN.cost;
    assert_eq!(cost.readings as usize, RECORDING.readings());
    assert!(cost.occupied > cost.readings / 3, "cows on the deck for {} readings", cost.occupied);
    let (mut passage, mut trace, mut samples) = (0, 0, 0);
    for frame in frames_on_the_host().values() {
        match decode::<DeviceMessage>(&payload(frame)) {
            Decoded::Message(DeviceMessage::Passage(_)) => passage = passage.max(frame.len()),
            Decoded::Message(DeviceMessage::TraceChunk(chunk)) => {
                trace += frame.len();
                samples += TraceDecoder::new(&chunk.data).count();
            }
            _ => {}
        }
    }
    #[allow(clippy::cast_precision_loss, reason = "far below 2^53")]
    let measured = BTreeMap::from([
        ("flash_bytes", sizes.flash as f64),
        ("static_ram_bytes", sizes.static_ram as f64),
        ("stack_bytes", f64::from(cost.stack)),
        ("frame_bytes", sizes.frame.0 as f64),
        ("instructions_a_reading_occupied", cost.mean_occupied),
        ("instructions_a_reading", cost.mean),
        ("instructions_of_one_reading", cost.most),
        ("passage_bytes", passage as f64),
        ("trace_bytes_a_sample", trace as f64 / (4 * samples) as f64),
    ]);
    let budgets = include_str!("budgets.toml").lines().filter(|line| !line.starts_with('#'));
    let budgets: BTreeMap<&str, f64> = budgets
        .filter_map(|line| line.split_once(" = "))
        .map(|(name, budget)| (name, budget.parse().expect("a number")))
        .collect();
    assert_eq!(budgets.keys().collect::<Vec<_>>(), measured.keys().collect::<Vec<_>>());
    println!("{:34} {:>10} {:>10}", "", "measured", "budget");
    for (name, budget) in &budgets {
        println!("{name:34} {:>10.2} {budget:>10}", measured[name]);
    }
    println!("{} readings, {} of them with somebody on the deck", cost.readings, cost.occupied);
    println!("largest stack frame: {}", sizes.frame.1);
    let over: Vec<_> = budgets.iter().filter(|(name, budget)| measured[*name] > **budget).collect();
    assert!(over.is_empty(), "over budget: {over:?}");
}

#[test]
fn only_explained_functions_can_panic() {
    let explained: Vec<&str> = include_str!("panic_paths.txt")
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .collect();
    let found = panicking(&image());
    let unexplained: Vec<_> =
        found.iter().filter(|name| !explained.iter().any(|part| name.contains(part))).collect();
    assert!(unexplained.is_empty(), "not in panic_paths.txt: {unexplained:#?}");
    for part in explained {
        assert!(found.iter().any(|name| name.contains(part)), "nothing of {part} panics any more");
    }
}

#[test]
fn a_panic_is_told_and_loses_nothing() {
    let mut emulator = Emulator::start(false);
    let mut host = Host::default();
    let tag = [Event::Tag(Milliseconds(1_000), b"999000000112233\r\n".to_vec())];
    for boot in 1..=2 {
        while host.causes.len() < boot {
            let heard = emulator.wait();
            assert_ne!(heard, Heard::Ended);
            host.hear(&mut emulator, &heard);
        }
        emulator.play(&tag, |emulator, heard| host.hear(emulator, &heard));
        if boot == 1 {
            emulator.panic();
        }
    }
    assert_eq!(host.causes, [(1, ResetCause::PowerOn), (2, ResetCause::Panic)]);
    host.hear_out(&mut emulator);
    assert_eq!(host.items.len(), 2, "a tag of each boot");
}
