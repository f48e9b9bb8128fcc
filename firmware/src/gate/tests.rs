use super::{hold_list::ListStore, *};
use crate::fakes::{FailingFlash, GATE, at, code};
use heapless::Vec;
use std::vec::Vec as Found;

type Told = Found<(u64, GateOutcome)>;

const EMPTY: Option<DeckNow> = Some(DeckNow { first: Kilograms(0.0), all: Kilograms(0.0) });
const UTC: i64 = 1_767_225_600_000;

fn with(settings: Option<GateSettings>, list: HeldList) -> Gate {
    let mut gate = Gate::new();
    gate.set(settings);
    gate.list = list;
    gate
}

fn loaded(flash: &mut FailingFlash, copies: &[core::ops::Range<u32>; 2]) -> (ListStore, HeldList) {
    let (mut store, mut list) = (ListStore::new(copies.clone()), HeldList::default());
    store.load(flash, &mut list);
    (store, list)
}

/// A gate whose list of cows 1, 2 and 3 is in force for an hour from 0 on.
struct Bench {
    gate: Gate,
    told: Told,
    /// Whether what is told can be kept.
    keeps: bool,
}

impl Bench {
    fn new() -> Self {
        Self::on(GATE)
    }

    fn on(settings: GateSettings) -> Self {
        let codes = Vec::from_slice(&[code(1), code(2), code(3)]).unwrap();
        let mut gate = with(Some(settings), HeldList::new(7, 2, codes));
        gate.heard(Milliseconds(0));
        assert!(gate.confirm(&confirmed(7, 3_600_000), at(0)));
        Self { gate, told: Found::new(), keeps: true }
    }

    fn tag(&mut self, ms: u64, national: u64) {
        let (told, keeps) = (&mut self.told, self.keeps);
        self.gate.tag(Milliseconds(ms), code(national), &mut |_, code, _, outcome| {
            told.push((code.national(), outcome));
            keeps
        });
    }

    fn turn(&mut self, ms: u64, deck: Option<DeckNow>, stopped: bool) -> bool {
        let (told, keeps) = (&mut self.told, self.keeps);
        self.gate.turn(at(ms), deck, stopped, &mut |_, code, _, outcome| {
            told.push((code.national(), outcome));
            keeps
        })
    }
}

fn confirmed(list: u32, left_ms: i64) -> ConfirmList {
    ConfirmList { list, now_utc_ms: UTC, until_utc_ms: UTC + left_ms }
}

#[test]
fn a_listed_cow_is_held_once_after_the_delay_for_the_pulse() {
    let mut bench = Bench::new();
    bench.tag(1_000, 1);
    assert!(!bench.turn(4_999, EMPTY, false) && bench.told.is_empty());
    assert!(bench.turn(5_000, EMPTY, false));
    assert!(bench.turn(5_499, EMPTY, false));
    assert!(!bench.turn(5_500, EMPTY, false));
    assert_eq!(bench.told, [(1, GateOutcome::Held)]);
    assert_eq!(bench.gate.list.held(), 1);
    // She comes again later.
    bench.gate.passage_ended(false);
    bench.tag(60_000, 1);
    assert!(!bench.turn(64_000, EMPTY, false));
    assert_eq!(bench.told[1..], [(1, GateOutcome::HeldBefore)]);
}

#[test]
fn a_cow_who_is_not_listed_moves_nothing_and_says_nothing() {
    let mut bench = Bench::new();
    bench.tag(1_000, 9);
    assert!((1_000..30_000).step_by(50).all(|ms| !bench.turn(ms, EMPTY, false)));
    assert!(bench.told.is_empty());
}

#[test]
fn one_read_moves_once_however_often_the_reader_repeats_it() {
    let mut bench = Bench::new();
    let mut moves = 0;
    let mut before = false;
    for ms in (1_000..40_000).step_by(50) {
        // She stands in the field for half a minute.
        if ms < 31_000 && ms % 1_000 == 0 {
            bench.tag(ms, 1);
        }
        let moved = bench.turn(ms, EMPTY, false);
        moves += u32::from(moved && !before);
        before = moved;
    }
    assert_eq!((moves, bench.told.clone()), (1, std::vec![(1, GateOutcome::Held)]));
}

#[test]
fn the_same_tag_is_the_same_cow_until_ten_seconds_without_it() {
    for (gap, told) in [(9_999, 1), (10_000, 2)] {
        let mut bench = Bench::new();
        bench.tag(1_000, 1);
        bench.turn(5_000, EMPTY, false);
        bench.tag(1_000 + gap, 1);
        bench.turn(30_000, EMPTY, false);
        assert_eq!(bench.told.len(), told, "{gap}");
    }
}

#[test]
fn another_tag_before_the_move_leaves_the_name_unsure() {
    let mut bench = Bench::new();
    bench.tag(1_000, 1);
    bench.tag(4_900, 9);
    assert!(!bench.turn(5_000, EMPTY, false));
    assert_eq!(bench.told, [(1, GateOutcome::NameUnsure)]);
}

#[test]
fn another_tag_shortly_before_hers_leaves_the_name_unsure() {
    for (gap, outcome) in [(2_999, GateOutcome::NameUnsure), (3_000, GateOutcome::Held)] {
        let mut bench = Bench::new();
        bench.tag(1_000, 9);
        bench.tag(1_000 + gap, 1);
        bench.turn(1_000 + gap + 4_000, EMPTY, false);
        assert_eq!(bench.told, [(1, outcome)], "{gap}");
    }
}

#[test]
fn nothing_moves_within_the_hold_of_the_move_before() {
    for (gap, outcome) in [(14_999, GateOutcome::Busy), (15_000, GateOutcome::Held)] {
        let mut bench = Bench::new();
        bench.tag(1_000, 1);
        bench.turn(5_000, EMPTY, false);
        bench.tag(1_000 + gap, 2);
        bench.turn(5_000 + gap, EMPTY, false);
        assert_eq!(bench.told[1..], [(2, outcome)], "{gap}");
    }
}

#[test]
fn no_more_are_held_than_the_list_allows() {
    let mut bench = Bench::new();
    for (n, national) in (1..=3).enumerate() {
        bench.tag(1_000 + 20_000 * n as u64, national);
        bench.turn(5_000 + 20_000 * n as u64, EMPTY, false);
    }
    assert_eq!(bench.told, [(1, GateOutcome::Held), (2, GateOutcome::Held), (3, GateOutcome::Enough)]);
}

#[test]
fn a_load_on_the_first_plates_puts_the_move_off_and_then_out() {
    let on = |kg| Some(DeckNow { first: Kilograms(kg), all: Kilograms(kg) });
    let mut bench = Bench::new();
    bench.tag(1_000, 1);
    assert!(!bench.turn(5_000, on(20.1), false) && bench.told.is_empty(), "she waits");
    assert!(bench.turn(9_999, on(20.0), false), "left in time");
    let mut bench = Bench::new();
    bench.tag(1_000, 1);
    bench.turn(5_000, on(20.1), false);
    assert!(!bench.turn(10_000, on(20.1), false));
    assert_eq!(bench.told, [(1, GateOutcome::FirstPlates)]);
    assert!(!bench.turn(11_000, on(0.0), false), "and no later");
}

#[test]
fn more_weight_than_one_animal_has_and_plates_that_are_not_sure_leave_it_at_rest() {
    let on = |kg| Some(DeckNow { first: Kilograms(0.0), all: Kilograms(kg) });
    for (deck, outcome) in [
        (on(1_300.0), GateOutcome::Held),
        (on(1_300.1), GateOutcome::TwoOnDeck),
        (on(f32::NAN), GateOutcome::TwoOnDeck),
        (Some(DeckNow { first: Kilograms(f32::NAN), all: Kilograms(0.0) }), GateOutcome::FirstPlates),
        (None, GateOutcome::PlatesUnsure),
    ] {
        let mut bench = Bench::new();
        bench.tag(1_000, 1);
        bench.turn(5_000, deck, false);
        bench.turn(10_000, deck, false);
        assert_eq!(bench.told, [(1, outcome)], "{deck:?}");
    }
}

#[test]
fn two_animals_in_her_passage_leave_it_at_rest() {
    let mut bench = Bench::new();
    bench.tag(1_000, 1);
    bench.gate.passage_ended(true);
    bench.turn(5_000, EMPTY, false);
    assert_eq!(bench.told, [(1, GateOutcome::TwoOnDeck)]);
}

#[test]
fn the_stop_input_overrides_all_and_ends_a_pulse() {
    let mut bench = Bench::new();
    bench.tag(1_000, 1);
    assert!(!bench.turn(5_000, EMPTY, true));
    assert_eq!(bench.told, [(1, GateOutcome::Stopped)]);
    bench.tag(30_000, 2);
    assert!(bench.turn(34_000, EMPTY, false));
    assert!(!bench.turn(34_100, EMPTY, true));
    assert!(!bench.turn(34_200, EMPTY, false), "and does not go on");
}

#[test]
fn a_cow_on_her_way_is_not_forgotten_when_list_or_gate_change() {
    let list =
        |name, nationals: &[u64]| HeldList::new(name, 2, nationals.iter().copied().map(code).collect());
    // She is on the next list, at another place; nobody has confirmed it, or somebody has.
    for (confirm, outcome) in [(false, GateOutcome::NotConfirmed), (true, GateOutcome::Held)] {
        let mut bench = Bench::new();
        bench.tag(1_000, 3);
        bench.gate.replace(list(8, &[9, 3]));
        if confirm {
            assert!(bench.gate.confirm(&confirmed(8, 60_000), at(2_000)));
        }
        bench.turn(5_000, EMPTY, false);
        assert_eq!(bench.told, [(3, outcome)]);
        assert_eq!((bench.gate.list.is_held(1), bench.gate.list.is_held(0)), (confirm, false));
    }
    let mut bench = Bench::new();
    bench.tag(1_000, 3);
    bench.gate.replace(list(8, &[9]));
    bench.turn(5_000, EMPTY, false);
    assert!(bench.told.is_empty(), "nobody wants her any more");
    let mut bench = Bench::new();
    bench.tag(1_000, 3);
    bench.gate.set(Some(GateSettings { pulse_ms: 700, ..GATE }));
    bench.turn(5_000, EMPTY, false);
    assert_eq!(bench.told, [(3, GateOutcome::NotConfirmed)]);
}

#[test]
fn nothing_is_in_force_before_it_is_confirmed_or_after_it_is_over() {
    let mut bench = Bench::new();
    bench.gate = with(Some(GATE), bench.gate.list.clone());
    bench.tag(1_000, 1);
    bench.turn(5_000, EMPTY, false);
    assert_eq!(bench.told, [(1, GateOutcome::NotConfirmed)]);
    for (now, outcome) in [(59_999, GateOutcome::Held), (60_000, GateOutcome::Over)] {
        let mut bench = Bench::new();
        assert!(bench.gate.confirm(&confirmed(7, 60_000), at(0)));
        bench.tag(now - 4_000, 1);
        bench.turn(now, EMPTY, false);
        assert_eq!(bench.told, [(1, outcome)]);
    }
}

#[test]
fn a_confirmation_is_of_this_list_and_for_no_more_than_a_day() {
    for (list, left, good) in [
        (7, 1, true),
        (7, 0, false),
        (7, -1, false),
        (7, LONGEST_LIST_MS, true),
        (7, LONGEST_LIST_MS + 1, false),
        (8, 60_000, false),
        (0, 60_000, false),
    ] {
        let mut bench = Bench::new();
        assert_eq!(bench.gate.confirm(&confirmed(list, left), at(0)), good, "{list} {left}");
        assert_eq!(bench.gate.in_force(Milliseconds(0)), good, "what was in force is so no more");
    }
    let mut ten_years = confirmed(7, 60_000);
    ten_years.now_utc_ms -= 10 * 365 * 86_400_000;
    assert!(!Bench::new().gate.confirm(&ten_years, at(0)));
}

#[test]
fn a_host_that_is_silent_for_too_long_leaves_it_at_rest() {
    for (now, outcome) in [(120_000, GateOutcome::Held), (120_001, GateOutcome::HostSilent)] {
        let mut bench = Bench::new();
        bench.tag(now - 4_000, 1);
        bench.turn(now, EMPTY, false);
        assert_eq!(bench.told, [(1, outcome)]);
        bench.gate.heard(Milliseconds(now));
        assert!(bench.gate.in_force(Milliseconds(now)), "and is back when it speaks");
    }
}

#[test]
fn a_clock_that_jumps_leaves_it_at_rest_until_it_is_confirmed_anew() {
    for (jump, outcome) in
        [(60_000, GateOutcome::Held), (60_001, GateOutcome::ClockUnsure), (-60_001, GateOutcome::ClockUnsure)]
    {
        let mut bench = Bench::new();
        bench.gate.host_clock(UTC + 500 + jump, Milliseconds(500));
        bench.tag(1_000, 1);
        bench.turn(5_000, EMPTY, false);
        assert_eq!(bench.told, [(1, outcome)], "{jump}");
        assert!(
            bench.gate.confirm(&confirmed(7, 60_000), at(5_000)) && bench.gate.in_force(Milliseconds(5_000))
        );
    }
}

#[test]
fn a_reader_that_was_silent_for_three_passages_is_believed_after_the_next() {
    for (untagged, outcome) in [(2, GateOutcome::Held), (3, GateOutcome::ReaderSilent)] {
        let mut bench = Bench::new();
        (0..untagged).for_each(|_| bench.gate.passage_ended(false));
        bench.tag(1_000, 1);
        bench.turn(5_000, EMPTY, false);
        assert_eq!(bench.told, [(1, outcome)]);
        bench.gate.passage_ended(false);
        bench.tag(40_000, 2);
        bench.turn(44_000, EMPTY, false);
        assert_eq!(bench.told[1..], [(2, GateOutcome::Held)]);
    }
}

#[test]
fn what_cannot_be_written_down_is_not_done() {
    let mut bench = Bench::new();
    bench.keeps = false;
    bench.tag(1_000, 1);
    assert!(!bench.turn(5_000, EMPTY, false));
    assert_eq!(bench.told, [(1, GateOutcome::Held), (1, GateOutcome::NotKept)]);
    assert_eq!(bench.gate.list.held(), 0);
}

#[test]
fn settings_keep_to_their_bounds() {
    let with = |change: fn(&mut GateSettings)| {
        let mut settings = GATE;
        change(&mut settings);
        settings.valid()
    };
    for (good, change) in [
        (true, (|s| s.delay_ms = 60_000) as fn(&mut GateSettings)),
        (false, |s| s.delay_ms = 60_001),
        (true, |s| s.pulse_ms = 50),
        (false, |s| s.pulse_ms = 49),
        (true, |s| s.pulse_ms = 10_000),
        (false, |s| (s.pulse_ms, s.hold_ms) = (10_001, 20_000)),
        (true, |s| s.hold_ms = 500),
        (false, |s| s.hold_ms = 499),
        (true, |s| s.hold_ms = 120_000),
        (false, |s| s.hold_ms = 120_001),
        (true, |s| s.silence_s = 90),
        (false, |s| s.silence_s = 89),
        (true, |s| s.silence_s = 3_600),
        (false, |s| s.silence_s = 3_601),
        (true, |s| s.first_kg = Kilograms(5.0)),
        (false, |s| s.first_kg = Kilograms(4.9)),
        (true, |s| s.first_kg = Kilograms(60.0)),
        (false, |s| s.first_kg = Kilograms(60.1)),
        (false, |s| s.first_kg = Kilograms(f32::NAN)),
    ] {
        assert_eq!(with(change), good);
    }
}

fn lists() -> (FailingFlash, [core::ops::Range<u32>; 2]) {
    (FailingFlash::new(2), [0..4096, 4096..8192])
}

fn listed(list: u32, cows: u64) -> HeldList {
    HeldList::new(list, 9, (1..=cows).map(code).collect())
}

#[test]
fn a_list_and_who_was_held_outlive_the_power() {
    let (mut flash, copies) = lists();
    let (mut store, none) = loaded(&mut flash, &copies);
    assert_eq!(none, HeldList::default());
    for (list, cows) in [(1, 0), (2, 1), (3, 4), (4, 5), (5, 48)] {
        assert!(store.save(&mut flash, &listed(list, cows)));
        assert_eq!(loaded(&mut flash, &copies).1, listed(list, cows));
    }
    assert!(store.mark(&mut flash, 0) && store.mark(&mut flash, 47));
    let (_, found) = loaded(&mut flash, &copies);
    let held: Found<usize> = (0..48).filter(|place| found.is_held(*place)).collect();
    assert_eq!((held, found.held()), (std::vec![0, 47], 2));
}

#[test]
fn a_power_cut_at_any_byte_leaves_the_old_list_or_the_new_and_half_a_mark_is_a_mark() {
    let (mut flash, copies) = lists();
    let (mut store, _) = loaded(&mut flash, &copies);
    assert!(store.save(&mut flash, &listed(1, 3)) && store.save(&mut flash, &listed(2, 5)));
    let before = flash.used;
    let mut whole = flash.clone();
    assert!(loaded(&mut whole, &copies).0.save(&mut whole, &listed(3, 7)));
    let cost = whole.used - before;
    let mut whole_before = false;
    for cut in 0..=cost {
        let mut torn = flash.clone();
        let (mut store, _) = loaded(&mut torn, &copies);
        torn.die_after(cut);
        let saved = store.save(&mut torn, &listed(3, 7));
        torn.revive();
        let (mut store, found) = loaded(&mut torn, &copies);
        // The last bytes of a word are padding: it may be whole although the power went.
        let new = found == listed(3, 7);
        assert!(new || found == listed(2, 5), "cut after {cut}: {found:?}");
        assert!(new || !(saved || whole_before || cut == cost), "cut after {cut}");
        whole_before = new;
        assert!(store.save(&mut torn, &listed(4, 2)), "and the next one is kept");
        assert_eq!(loaded(&mut torn, &copies).1, listed(4, 2));
    }
    for cut in 1..=32 {
        let mut torn = flash.clone();
        let (mut store, _) = loaded(&mut torn, &copies);
        torn.die_after(cut);
        let _ = store.mark(&mut torn, 2);
        torn.revive();
        assert!(loaded(&mut torn, &copies).1.is_held(2), "cut after {cut}");
    }
}

#[test]
fn a_list_that_cannot_be_erased_is_not_kept_although_its_like_lies_there() {
    let (mut flash, copies) = lists();
    let (mut store, _) = loaded(&mut flash, &copies);
    assert!(store.save(&mut flash, &listed(1, 3)));
    // The first list of another store would be of the same generation and in the same place, which is no page here.
    let mut other = ListStore::new([0..4_095, 4_096..8_192]);
    assert!(!other.save(&mut flash, &listed(1, 3)));
}

#[test]
fn a_mark_beyond_the_last_cow_is_the_last_ones() {
    let (mut flash, copies) = lists();
    let (mut store, _) = loaded(&mut flash, &copies);
    assert!(store.save(&mut flash, &listed(1, 48)) && store.mark(&mut flash, 48));
    // The 48th mark lies 448 + 47 * 32 = 1,952 bytes after the start of the page.
    assert_eq!(flash.bytes()[1_951..=1_952], [0xFF, 0]);
    assert_eq!(flash.bytes()[1_983..=1_984], [0, 0xFF]);
}
