//! The power is cut at every byte the journal writes, and what must not be lost is looked for.

use super::*;
use crate::fakes::FailingFlash;
use proptest::{collection::vec, prelude::*};
use std::{collections::BTreeMap, vec::Vec};

const PAGES: usize = 16;

fn layout() -> Layout {
    Layout::of::<FailingFlash>((PAGES * crate::memory_flash::PAGE_BYTES) as u32).unwrap()
}

/// A small flash on which a few items already fill a page: power cuts in page changes are reached quickly.
fn tight_layout() -> Layout {
    let page = crate::memory_flash::PAGE_BYTES as u32;
    Layout {
        settings: [0..page, page..2 * page],
        marks: 2 * page..4 * page,
        records: 4 * page..6 * page,
        traces: 6 * page..8 * page,
        tables: [8 * page..8 * page, 8 * page..8 * page],
        lists: [8 * page..9 * page, 9 * page..10 * page],
        second: 0..0,
        state: 0..0,
    }
}

#[test]
fn a_flash_is_shared_out_without_gap_or_overlap_and_tables_take_no_more_than_half() {
    let page = crate::memory_flash::PAGE_BYTES as u32;
    for (pages, table) in [(16, 0), (127, 0), (128, 32), (1_024, 32)] {
        let layout = Layout::of::<FailingFlash>(pages * page).unwrap();
        let Layout { settings: [s0, s1], marks, records, traces, tables: [t0, t1], lists: [l0, l1], .. } =
            layout.clone();
        let order = [&s0, &s1, &marks, &records, &traces, &t0, &t1, &l0, &l1];
        assert!(order.windows(2).all(|pair| pair[0].end == pair[1].start), "{pages}");
        assert_eq!((s0.start, l1.end), (0, pages * page));
        assert_eq!([t0, t1].map(|slot| (slot.end - slot.start) / page), [table; 2], "{pages}");
        assert!(traces.end - traces.start >= 2 * page);
        // A second slot of programs, a page longer than the first, and a page for the loader, lie behind all that.
        let program = 24 * page;
        let with = Layout::with_second::<FailingFlash>(pages * page + program + 2 * page, program).unwrap();
        let second = pages * page..pages * page + program + page;
        let state = second.end..second.end + page;
        assert_eq!(with, Layout { second, state, ..layout });
    }
    let small = |program| Layout::with_second::<FailingFlash>(32 * page, program);
    assert!(small(14 * page).is_ok());
    assert_eq!(small(15 * page), Err(LayoutError::TooSmall));
    assert_eq!(small(40 * page), Err(LayoutError::TooSmall));
    assert_eq!(small(page + 1), Err(LayoutError::NotAtPages));
    assert_eq!(Layout::of::<FailingFlash>(15 * page), Err(LayoutError::TooSmall));
}

#[derive(Clone, Debug)]
enum Step {
    Keep(Kind, usize),
    /// Acknowledge this many of what is oldest.
    Acknowledge(usize),
    Reboot,
}

/// What the world outside knows.
#[derive(Default)]
struct Witness {
    /// Items whose keeping was confirmed and whose acknowledgement never began.
    must: BTreeMap<u32, (Kind, Vec<u8>)>,
    /// Items that may be there or not: their keeping or their acknowledgement was cut.
    may: BTreeMap<u32, Vec<u8>>,
    used: u32,
}

fn frame(sequence: u32, length: usize) -> Vec<u8> {
    (0..length).map(|n| (sequence as usize * 31 + n * 7) as u8 | 1).collect()
}

impl Witness {
    /// Runs steps until the power goes or they are over; true if they were all done.
    fn run(&mut self, steps: &[Step], flash: &mut FailingFlash, layout: &Layout) -> bool {
        let Ok(mut journal) = Journal::open(&mut *flash, layout) else { return false };
        for step in steps {
            assert!(journal.next_sequence() >= self.used, "a number is given out twice");
            let done = match step {
                Step::Keep(kind, length) => {
                    let sequence = journal.next_sequence();
                    let frame = frame(sequence, *length);
                    self.may.insert(sequence, frame.clone());
                    let kept = journal.keep(*kind, &frame);
                    if kept.is_ok() {
                        self.used = sequence + 1;
                        self.may.remove(&sequence);
                        self.must.insert(sequence, (*kind, frame));
                    }
                    kept.map(|_| ())
                }
                Step::Acknowledge(count) => {
                    let numbers: Vec<u32> = self.must.keys().copied().take(*count).collect();
                    let (Some(&first), Some(&last)) = (numbers.first(), numbers.last()) else { continue };
                    for number in numbers {
                        let (_, frame) = self.must.remove(&number).unwrap();
                        self.may.insert(number, frame);
                    }
                    let done = journal.acknowledge(first, last);
                    if done.is_ok() {
                        self.may.retain(|number, _| !(first..=last).contains(number));
                    }
                    done
                }
                Step::Reboot => {
                    let flash = journal.release();
                    match Journal::open(flash, layout) {
                        Ok(next) => journal = next,
                        Err(_) => return false,
                    }
                    Ok(())
                }
            };
            if done.is_err() {
                return false;
            }
        }
        true
    }

    /// Everything that must be there is, whole and in order; nothing else is but what may be.
    fn check(&self, flash: &mut FailingFlash, layout: &Layout) {
        let mut journal = Journal::open(&mut *flash, layout).expect("the journal opens after any power cut");
        let next = journal.next_sequence();
        assert!(next >= self.used, "a number is given out twice");
        let mut from = 0;
        let mut seen = Vec::new();
        while let Some((number, frame)) = journal.next_from(from).unwrap() {
            let known = self.must.get(&number).map(|(_, frame)| frame).or_else(|| self.may.get(&number));
            assert_eq!(Some(frame), known.map(Vec::as_slice), "item {number} is torn or strange");
            assert!(number < next, "a number is given out twice");
            seen.push(number);
            from = number + 1;
        }
        for number in self.must.keys() {
            assert!(seen.contains(number), "item {number} is lost");
        }
        assert_eq!(journal.waiting() as usize, seen.len());
        // And it still works.
        let sequence = journal.keep(Kind::Record, b"after").unwrap();
        assert_eq!(journal.next_from(sequence).unwrap(), Some((sequence, &b"after"[..])));
    }
}

fn day() -> Vec<Step> {
    let mut steps = Vec::new();
    for cow in 0..9 {
        steps.extend([
            Step::Keep(Kind::Trace, 230),
            Step::Keep(Kind::Trace, 120 + cow),
            Step::Keep(Kind::Record, 241),
        ]);
        if cow % 2 == 1 {
            steps.push(Step::Acknowledge(5));
        }
        if cow % 4 == 2 {
            steps.push(Step::Reboot);
        }
    }
    steps
}

#[test]
fn power_cut_at_every_byte_loses_nothing() {
    let steps = day();
    let mut whole = FailingFlash::new(PAGES);
    assert!(Witness::default().run(&steps, &mut whole, &layout()));
    assert!(whole.used > 5_000);
    for cut in 0..whole.used {
        let mut flash = FailingFlash::new(PAGES);
        let mut witness = Witness::default();
        flash.die_after(cut);
        assert!(!witness.run(&steps, &mut flash, &layout()), "the power went at {cut} of {}", whole.used);
        flash.revive();
        witness.check(&mut flash, &layout());
    }
}

/// As above, with pages that are reused: erasing is cut as well. Every 7th byte, for time.
#[test]
fn power_cut_while_pages_are_reused_loses_nothing() {
    let steps: Vec<Step> = (0..90)
        .flat_map(|_| [Step::Keep(Kind::Record, 200), Step::Keep(Kind::Trace, 200), Step::Acknowledge(2)])
        .collect();
    let mut whole = FailingFlash::new(8);
    assert!(Witness::default().run(&steps, &mut whole, &tight_layout()));
    assert!(whole.erases > 4);
    for cut in (0..whole.used).step_by(7) {
        let mut flash = FailingFlash::new(8);
        let mut witness = Witness::default();
        flash.die_after(cut);
        assert!(!witness.run(&steps, &mut flash, &tight_layout()));
        flash.revive();
        witness.check(&mut flash, &tight_layout());
    }
}

/// The power fails again while the journal is opened after a power cut, at every byte of that.
#[test]
fn power_cut_while_recovering_loses_nothing() {
    let steps = day();
    for first in (700..4_000).step_by(211) {
        let mut torn = FailingFlash::new(PAGES);
        let mut witness = Witness::default();
        torn.die_after(first);
        assert!(!witness.run(&steps, &mut torn, &layout()));
        for second in 0..40 {
            let mut flash = torn.clone();
            flash.die_after(second);
            let _ = Journal::open(&mut flash, &layout());
            flash.revive();
            witness.check(&mut flash, &layout());
        }
    }
}

#[test]
fn a_full_flash_gives_up_oldest_traces_first() {
    let mut flash = FailingFlash::new(PAGES);
    let mut journal = Journal::open(&mut flash, &layout()).unwrap();
    let mut newest_lost = None;
    // A passage as it comes: some trace, then the record.
    for cow in 0..400_u32 {
        for _ in 0..5 {
            journal.keep(Kind::Trace, &frame(cow, 240)).unwrap();
        }
        journal.keep(Kind::Record, &frame(cow, 250)).unwrap();
        if journal.records_dropped() == 0 {
            continue;
        }
        // The record that went had lost its traces before.
        let (oldest, _) = journal.next_from(0).unwrap().unwrap();
        newest_lost = Some(oldest);
        assert!(journal.traces_dropped() / 5 >= journal.records_dropped());
    }
    assert!(newest_lost.is_some(), "the flash was never full");
    assert!(journal.fill_pct().unwrap() > 80);
    let before = journal.waiting();
    let journal = Journal::open(&mut flash, &layout()).unwrap();
    assert_eq!(journal.waiting(), before);
}

/// 12 h without a host: 1,000 cows, each with a tag, a passage and the trace of ten seconds at 50 Hz.
#[test]
fn a_thousand_cows_wait_for_a_host_in_4_mib() {
    let pages = 1024;
    let layout = Layout::of::<FailingFlash>((pages * crate::memory_flash::PAGE_BYTES) as u32).unwrap();
    let mut flash = FailingFlash::new(pages);
    let mut journal = Journal::open(&mut flash, &layout).unwrap();
    for cow in 0..1_000 {
        journal.keep(Kind::Record, &frame(cow, 30)).unwrap();
        for _ in 0..10 {
            journal.keep(Kind::Trace, &frame(cow, 250)).unwrap();
        }
        journal.keep(Kind::Record, &frame(cow, 256)).unwrap();
    }
    assert_eq!((journal.records_dropped(), journal.traces_dropped()), (0, 0));
    assert_eq!(journal.waiting(), 12_000);
    // A host comes and acknowledges as it stores.
    let mut from = 0;
    while let Some((number, _)) = journal.next_from(from).unwrap() {
        from = number + 1;
        journal.acknowledge(number, number).unwrap();
    }
    assert_eq!((from, journal.waiting()), (12_000, 0));
}

#[test]
fn an_acknowledgement_of_the_future_or_the_past_harms_nothing() {
    let mut flash = FailingFlash::new(PAGES);
    let mut journal = Journal::open(&mut flash, &layout()).unwrap();
    let sequence = journal.keep(Kind::Record, b"cow").unwrap();
    journal.acknowledge(sequence + 1, u32::MAX).unwrap();
    journal.acknowledge(5, 2).unwrap();
    assert_eq!(journal.waiting(), 1);
    journal.acknowledge(sequence, sequence).unwrap();
    journal.acknowledge(sequence, sequence).unwrap();
    assert_eq!(journal.waiting(), 0);
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        5 => (any::<bool>(), 1_usize..256)
            .prop_map(|(trace, length)| Step::Keep(if trace { Kind::Trace } else { Kind::Record }, length)),
        2 => (1_usize..12).prop_map(Step::Acknowledge),
        1 => Just(Step::Reboot),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// Any history, any power cut, then any history again, against the plain model of what was confirmed.
    #[test]
    fn model_holds_for_any_history(
        before in vec(step(), 1..40),
        cut in 0_u32..12_000,
        after in vec(step(), 0..10),
    ) {
        let mut flash = FailingFlash::new(PAGES);
        let mut witness = Witness::default();
        flash.die_after(cut);
        witness.run(&before, &mut flash, &layout());
        flash.revive();
        // What a cut left in doubt may stay in doubt.
        witness.run(&after, &mut flash, &layout());
        witness.check(&mut flash, &layout());
    }

    /// Flash full of rubbish: opening may fail, but never panics or hangs, and what it delivers after an erase
    /// is what was kept.
    #[test]
    fn rubbish_never_panics(seed in vec(any::<u8>(), 64)) {
        let mut flash = FailingFlash::new(8);
        let length = flash.bytes().len();
        for (n, byte) in flash.bytes().iter_mut().enumerate() {
            *byte = seed[n % 64] ^ (n / 64 % 251) as u8;
        }
        prop_assert_eq!(length, 8 * crate::memory_flash::PAGE_BYTES);
        if let Ok(mut journal) = Journal::open(&mut flash, &tight_layout()) {
            let _ = journal.next_from(0);
            let _ = journal.keep(Kind::Record, b"cow");
        }
    }
}

#[test]
fn a_frame_that_is_too_long_is_refused_and_costs_its_number_alone() {
    let mut flash = FailingFlash::new(PAGES);
    let mut journal = Journal::open(&mut flash, &layout()).unwrap();
    // The longest frame of 256 bytes and 4 of its number, in words of 32, are 288: 284 without the number.
    assert_eq!(journal.keep(Kind::Record, &frame(0, 284)), Ok(0));
    assert_eq!(journal.keep(Kind::Record, &frame(1, 285)), Err(JournalError::TooLong));
    assert_eq!(journal.keep(Kind::Record, &frame(2, 1)), Ok(2));
    assert_eq!(journal.waiting(), 2);
    assert_eq!(journal.next_from(1), Ok(Some((2, &frame(2, 1)[..]))));
}

#[test]
fn a_journal_is_named_once_and_keeps_its_name() {
    let mut flash = FailingFlash::new(PAGES);
    let mut journal = Journal::open(&mut flash, &layout()).unwrap();
    assert_eq!(journal.name(), 0);
    journal.flash().die_after(0);
    assert_eq!(journal.give_name(7), Err(JournalError::Flash));
    assert_eq!(journal.name(), 0);
    journal.flash().revive();
    assert_eq!(journal.give_name(7), Ok(()));
    assert_eq!(journal.give_name(8), Ok(()));
    assert_eq!(journal.name(), 7);
    assert_eq!(Journal::open(&mut flash, &layout()).unwrap().name(), 7);
}

#[test]
fn the_fuller_queue_says_how_full_the_flash_is() {
    let mut flash = FailingFlash::new(10);
    let mut journal = Journal::open(&mut flash, &tight_layout()).unwrap();
    assert_eq!(journal.fill_pct(), Ok(0));
    // An item of 4 + 252 bytes and a head of 8, of two pages of 4,096: eight are 2,112 of 8,192, or 25.8 %; twelve 38.7 %.
    for n in 0..8 {
        journal.keep(Kind::Trace, &frame(n, 252)).unwrap();
    }
    assert_eq!(journal.fill_pct(), Ok(25));
    for n in 8..20 {
        journal.keep(Kind::Record, &frame(n, 252)).unwrap();
    }
    assert_eq!(journal.fill_pct(), Ok(38));
}
