//! Ten thousand milkings at a gate in virtual time: links that drop, power that goes at any byte, tags read twice or by the
//! cow behind, stops, cows close together. No gate moves for a cow who is not listed, and each listed cow who was read alone is
//! held, or the reason is kept.
//!
//! `cargo test -p firmware --test gate -- --show-output` prints the figures.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use firmware::{
    fakes::{Chance, SharedFlash, code},
    gate::{
        DeckNow, Gate,
        hold_list::{HeldList, ListStore},
    },
    journal::{Journal, Kind, Layout},
    scale::Moment,
};
use shared::{
    identity::AnimalCode,
    units::{Kilograms, Milliseconds},
    wire::*,
};
use std::collections::{BTreeMap, BTreeSet};

const MILKINGS: u32 = 10_000;
const COWS: u64 = 12;
/// A turn of the loop, ms.
const TURN_MS: u64 = 100;
const SETTINGS: GateSettings = GateSettings {
    moves_high: true,
    delay_ms: 3_000,
    pulse_ms: 1_000,
    hold_ms: 6_000,
    silence_s: 90,
    first_kg: Kilograms(20.0),
};
const UTC: i64 = 1_767_225_600_000;

/// A device with its flash, as far as the gate goes.
struct Device {
    gate: Gate,
    lists: ListStore,
    journal: Journal<SharedFlash>,
    booted: u64,
}

impl Device {
    fn boot(flash: &SharedFlash, now: u64) -> Self {
        let layout = Layout::of::<SharedFlash>(64 * 4096).expect("large enough");
        let mut journal = Journal::open(flash.clone(), &layout).expect("opens");
        let (mut lists, mut gate) = (ListStore::new(layout.lists), Gate::new());
        lists.load(journal.flash(), &mut gate.list);
        gate.set(Some(SETTINGS));
        Self { gate, lists, journal, booted: now }
    }

    fn clock(&self, now: u64) -> Moment {
        let clock = Milliseconds(now - self.booted);
        Moment { clock, timer: clock }
    }

    /// Lets the gate work, with a witness that writes as the application does.
    fn with(
        &mut self,
        work: impl FnOnce(&mut Gate, &mut dyn FnMut(usize, AnimalCode, Milliseconds, GateOutcome) -> bool),
    ) {
        let Self { gate, lists, journal, .. } = self;
        let mut keep = |place, code, time, outcome| {
            if outcome == GateOutcome::Held && !lists.mark(journal.flash(), place) {
                return false;
            }
            let key = ItemKey { boot: journal.boot(), sequence: journal.next_sequence() };
            let event = DeviceMessage::GateEvent(GateEvent { key, time, code, outcome });
            journal.keep_with(Kind::Record, |room| encode_frame(&event, room).ok()).is_ok()
        };
        work(gate, &mut keep);
    }
}

/// What came to light over all milkings.
#[derive(Default)]
struct Seen {
    listed: u32,
    held: u32,
    reasons: BTreeMap<String, u32>,
    cut_off: u32,
    moves: u32,
    cuts: u32,
}

/// The events in the journal, which are then acknowledged.
fn events(device: &mut Device) -> Vec<GateEvent> {
    let (mut found, mut from) = (Vec::new(), 0);
    while let Ok(Some((number, frame))) = device.journal.next_from(from) {
        let mut reader = FrameReader::new();
        if let Feed::Frame { payload, .. } = reader.push(frame)
            && let Decoded::Message(DeviceMessage::GateEvent(event)) = decode(payload)
        {
            found.push(event);
        }
        from = number + 1;
    }
    device.journal.acknowledge(0, u32::MAX).expect("acknowledged");
    found
}

/// A milking: the cows come one after the other, some too close, and anything may go wrong.
fn milking(number: u32, flash: &SharedFlash, now: &mut u64, chance: &mut Chance, seen: &mut Seen) {
    let mut device = Device::boot(flash, *now);
    let wanted: BTreeSet<u64> = (0..COWS).filter(|_| chance.happens(0.25)).collect();
    let list = HeldList::new(number + 1, 8, wanted.iter().copied().map(code).collect());
    assert!(device.lists.save(device.journal.flash(), &list));
    device.gate.replace(list);
    let until = *now + 20 * 60_000;
    let confirm = |device: &mut Device, now: u64| {
        let utc = UTC + now.cast_signed();
        let confirmed =
            ConfirmList { list: number + 1, now_utc_ms: utc, until_utc_ms: UTC + until.cast_signed() };
        device.gate.heard(device.clock(now).timer);
        let _ = device.gate.confirm(&confirmed, device.clock(now));
    };
    confirm(&mut device, *now);
    let begin = *now;
    // When each cow is read, and how often; a link that is down for a while; moments of stop.
    let mut reads: BTreeMap<u64, Vec<u64>> = BTreeMap::new();
    let mut at = *now + 2_000;
    for cow in 0..COWS {
        let repeats = if chance.happens(0.3) { chance.between(1, 5).unsigned_abs() } else { 0 };
        (0..=repeats).for_each(|n| reads.entry(at + 1_100 * n).or_default().push(cow));
        at += if chance.happens(0.2) { chance.between(800, 4_000) } else { chance.between(7_000, 20_000) }
            .unsigned_abs();
    }
    let down = chance.happens(0.3).then(|| begin + chance.between(0, 200_000).unsigned_abs());
    let stops = chance.happens(0.1).then(|| begin + chance.between(0, 200_000).unsigned_abs());
    if chance.happens(0.2) {
        flash.die_after(u32::try_from(chance.between(1, 2_000)).expect("small"));
    }
    let (mut told, mut moved_for, mut high) = (Vec::new(), BTreeMap::<u64, u32>::new(), false);
    let mut lost_power: Vec<u64> = Vec::new();
    let mut next_confirm = begin + 60_000;
    let mut flash_died = false;
    while *now < at + 10_000 {
        *now += TURN_MS;
        if *now >= next_confirm && !down.is_some_and(|down| (down..down + 150_000).contains(now)) {
            confirm(&mut device, *now);
            next_confirm = *now + 60_000;
        }
        let come: Vec<u64> = reads.range(*now - TURN_MS..*now).flat_map(|read| read.1.clone()).collect();
        for cow in come {
            let clock = device.clock(*now).clock;
            device.with(|gate, keep| gate.tag(clock, code(cow), &mut |a, b, c, d| keep(a, b, c, d)));
        }
        // Somebody stands on the first plates now and then.
        let first = if chance.happens(0.02) { 200.0 } else { 0.0 };
        let all = first + if chance.happens(0.002) { 1_400.0 } else { 500.0 };
        let deck =
            (!chance.happens(0.001)).then_some(DeckNow { first: Kilograms(first), all: Kilograms(all) });
        let stopped = stops.is_some_and(|stop| (stop..stop + 15_000).contains(now));
        let moment = device.clock(*now);
        let mut output = false;
        device
            .with(|gate, keep| output = gate.turn(moment, deck, stopped, &mut |a, b, c, d| keep(a, b, c, d)));
        if output && !high {
            // Whose turn it was by the truth: the cow who was read last, a delay before.
            let due = *now - u64::from(SETTINGS.delay_ms);
            let last = reads.range(..=due).next_back().map(|read| read.1.clone()).expect("somebody was read");
            assert_eq!(last.len(), 1);
            assert!(
                wanted.contains(&last[0]),
                "milking {number}: moved for cow {}, who is not listed",
                last[0]
            );
            assert!(!stopped && deck.is_some_and(|deck| deck.first.0 <= 20.0 && deck.all.0 <= 1_300.0));
            *moved_for.entry(last[0]).or_default() += 1;
        }
        high = output;
        // The power went at some byte of a write, or goes with the dice.
        flash_died |= flash.is_dead();
        if flash_died || chance.happens(0.000_1) {
            seen.cuts += 1;
            flash.revive();
            lost_power.push(*now);
            device = Device::boot(flash, *now);
            (flash_died, high) = (false, false);
            if !chance.happens(0.2) {
                confirm(&mut device, *now);
            }
        }
    }
    flash.revive();
    told.extend(events(&mut device));
    assert!(moved_for.values().all(|moves| *moves == 1), "milking {number}: {moved_for:?}");
    for cow in &wanted {
        seen.listed += 1;
        let hers: Vec<GateOutcome> =
            told.iter().filter(|event| event.code == code(*cow)).map(|event| event.outcome).collect();
        let read = reads.iter().find(|read| read.1.contains(cow)).map(|read| *read.0).expect("she came");
        let cut = lost_power.iter().any(|at| (read..read + 30_000).contains(at));
        if hers.contains(&GateOutcome::Held) {
            seen.held += 1;
        } else if let Some(reason) = hers.first() {
            *seen.reasons.entry(format!("{reason:?}")).or_default() += 1;
        } else {
            assert!(cut, "milking {number}: of cow {cow} nothing is known, and the power was never gone");
            seen.cut_off += 1;
        }
        let moves = moved_for.get(cow).copied().unwrap_or(0);
        assert!(moves == 0 || hers.contains(&GateOutcome::Held), "moved for cow {cow} without a word");
    }
    seen.moves += moved_for.values().sum::<u32>();
}

#[test]
fn ten_thousand_milkings_move_no_gate_for_a_cow_who_is_not_listed() {
    let (mut chance, mut now, mut seen) = (Chance(13), 0, Seen::default());
    let flash = SharedFlash::new(64);
    for number in 0..MILKINGS {
        milking(number, &flash, &mut now, &mut chance, &mut seen);
        now += 60_000;
    }
    println!(
        "{MILKINGS} milkings of {COWS} cows, {} losses of power: {} listed cows came, {} held, {} let by with a reason, {} read as \
         the power went; {} moves, none for another cow, none twice",
        seen.cuts,
        seen.listed,
        seen.held,
        seen.reasons.values().sum::<u32>(),
        seen.cut_off,
        seen.moves
    );
    println!("reasons: {:?}", seen.reasons);
    assert_eq!(seen.held + seen.reasons.values().sum::<u32>() + seen.cut_off, seen.listed);
    assert!(f64::from(seen.held) > 0.5 * f64::from(seen.listed), "most are held");
    assert!(seen.cuts > 1_000 && seen.reasons.len() >= 8, "{} cuts, {:?}", seen.cuts, seen.reasons);
}
