//! The real image under emulation: its records are those of the host's build, and it keeps its budgets.
//!
//! `cargo test -p tests --test device budgets -- --show-output` prints the budgets and what is measured.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use shared::{
    analysis::PassageKind,
    units::Milliseconds,
    wire::{DeviceMessage, ResetCause, TraceDecoder},
};
use std::{collections::BTreeMap, sync::LazyLock};
use tests::{
    emulator::{Cost, Emulator, Heard, image, image_for},
    image::Image,
    peer::{Host, kept_on_the_host, message},
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

#[test]
fn the_records_are_those_of_the_hosts_build_to_the_byte() {
    let here = kept_on_the_host(&RECORDING.events, true);
    let passages = || {
        here.values().filter_map(|frame| match message(frame).0 {
            DeviceMessage::Passage(passage) => Some(passage),
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
        assert_eq!(message(frame).1, RUN.items[number], "item {number}");
    }
}

#[test]
fn budgets_hold() {
    let image = Image::of(&image());
    let cost = RUN.cost;
    assert_eq!(cost.readings as usize, RECORDING.readings());
    assert!(cost.occupied > cost.readings / 3, "cows on the deck for {} readings", cost.occupied);
    let (mut passage, mut trace, mut samples) = (0, 0, 0);
    for frame in kept_on_the_host(&RECORDING.events, true).values() {
        match message(frame).0 {
            DeviceMessage::Passage(_) => passage = passage.max(frame.len()),
            DeviceMessage::TraceChunk(chunk) => {
                trace += frame.len();
                samples += TraceDecoder::new(&chunk.data).count();
            }
            _ => {}
        }
    }
    #[allow(clippy::cast_precision_loss, reason = "far below 2^53")]
    let measured = BTreeMap::from([
        ("flash_bytes", image.flash as f64),
        ("static_ram_bytes", image.static_ram as f64),
        ("stack_bytes", f64::from(cost.stack)),
        ("stack_bound_bytes", image.stack_bound() as f64),
        ("frame_bytes", image.largest_frame().0 as f64),
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
    println!("largest stack frame: {}", image.largest_frame().1);
    println!("deepest stack: {:?}", image.deepest_chain());
    let over: Vec<_> = budgets.iter().filter(|(name, budget)| measured[*name] > **budget).collect();
    assert!(over.is_empty(), "over budget: {over:?}");
}

/// The code of a Cortex-M0+, which has no floats of its own: the emulated processor runs it too, and counts what it takes.
#[test]
fn the_smallest_processor_gives_the_same_records_with_more_instructions() {
    // A milking is enough: the code is slow here too.
    let recording = Recording::of(4, 1, 21);
    let mut emulator = Emulator::start_image(&image_for("thumbv6m-none-eabi"), true);
    let mut host = Host::default();
    emulator.play(&recording.events, |emulator, heard| host.hear(emulator, &heard));
    host.hear_out(&mut emulator);
    let cost = emulator.cost();
    let here = kept_on_the_host(&recording.events, true);
    let payloads: BTreeMap<u32, Vec<u8>> =
        here.iter().map(|(number, frame)| (*number, message(frame).1)).collect();
    assert_eq!(host.items, payloads);
    println!(
        "ARMv6-M: {:.0} instructions a reading with somebody on the deck, {:.0} over all, {:.0} the costliest; stack {} bytes",
        cost.mean_occupied, cost.mean, cost.most, cost.stack
    );
    // At 80 readings a second and 12 million instructions a second a reading may take 150,000.
    assert!(cost.mean_occupied < 75_000.0 && cost.stack <= 4_096, "{cost:?}");
}

#[test]
fn only_explained_functions_can_panic() {
    let explained: Vec<&str> = include_str!("panic_paths.txt")
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .collect();
    let image = Image::of(&image());
    let found = image.panicking();
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
