//! A measure, a row and a passage against the judgement, by hand.

use super::*;
use crate::lane_score::{Class, tests};

/// One measure, with an error variance of 3 about a usual value of 0 with variance 1.
fn one(value: f32) -> [Seen; MEASURES] {
    let none = Seen { value: f32::NAN, ..Seen::default() };
    let mut all = [none; MEASURES];
    all[1] = Seen { value, error: 3.0, usual: 0.0, usual_variance: 1.0 };
    all
}

fn sore(
    effect: &'static [(f32, f32); MEASURES],
    must_show: &'static [bool; MEASURES],
    points: f32,
) -> Option<Sore> {
    Some(Sore { place: 2, level: 0, points, effect, must_show, onset: 0.0 })
}

fn head() -> TableHead {
    TableHead {
        variance: [[9.0; MEASURES]; 3],
        scored: [0.0; 6],
        watch: [0.2, 0.1],
        weight: 0.5,
        ..tests::head()
    }
}

/// A cow who is sound, or in one state, with these likelihoods.
fn row(sound: u8, state: u8, likely: u8) -> CowRow {
    let own = OwnState { state, likely, ..OwnState::default() };
    CowRow { usual: [0; MEASURES], sound, states: heapless::Vec::from_slice(&[own]).unwrap(), ..tests::row() }
}

fn nothing() -> Measures {
    Measures { value: [f32::NAN; MEASURES], stated: [0.0; MEASURES], class: Class::Walk }
}

/// By hand: variance and tail of the measure, and the price of an effect.
fn near(found: f32, variance: f32, tail: f32, price: f32) {
    let wanted = -4.5 * logf(tail) - 0.5 * logf(variance * price);
    assert!((found - wanted).abs() < 1e-4, "{found} {wanted}");
}

// By hand, 8 degrees of freedom: 4 away with variance 1 + 3 has a tail of 1 + 16 / 4 / 8.
#[test]
fn a_measure_away_from_what_is_usual_speaks_against_sound() {
    near(weigh(&one(4.0), None, None), 4.0, 1.5, 1.0);
    near(weigh(&one(-4.0), None, None), 4.0, 1.5, 1.0);
    near(weigh(&one(0.0), None, None), 4.0, 1.0, 1.0);
}

// By hand: at 10 points an effect of .5 and a spread of .3 make 5 expected, and 9 more of variance; 4 is 1 below.
#[test]
fn an_effect_that_must_show_is_expected_with_its_spread() {
    const EFFECT: [(f32, f32); MEASURES] = [(0.5, 0.3); MEASURES];
    near(weigh(&one(4.0), None, sore(&EFFECT, &[true; MEASURES], 10.0)), 13.0, 1.0 + 1.0 / 13.0 / 8.0, 1.0);
}

// By hand: 4 away a tail of 1.5 to the ninth is below 400, and the effect is taken as hidden, also where half of it shows
// (1.5 against 1.125); 8 away a tail of 3 is not, and the effect that shows costs 400.
#[test]
fn an_effect_that_need_not_show_is_hidden_or_costs() {
    const EFFECT: [(f32, f32); MEASURES] = [(1.0, 0.0); MEASURES];
    const NEED_NOT: [bool; MEASURES] = [false; MEASURES];
    near(weigh(&one(4.0), None, sore(&EFFECT, &NEED_NOT, 4.0)), 4.0, 1.5, 1.0);
    near(weigh(&one(4.0), None, sore(&EFFECT, &NEED_NOT, 2.0)), 4.0, 1.5, 1.0);
    near(weigh(&one(8.0), None, sore(&EFFECT, &NEED_NOT, 8.0)), 4.0, 1.0, 400.0);
}

// By hand: quarters and twentieths: usual 2 with SD 3 in a state of her own; 4 is 2 away with variance 9 + 3.
#[test]
fn a_state_of_her_own_has_her_own_usual_value() {
    let own = OwnState { state: 1, likely: 0, usual: [8; MEASURES], usual_sd: [60; MEASURES] };
    near(weigh(&one(4.0), Some(&own), None), 12.0, 1.0 + 4.0 / 12.0 / 8.0, 1.0);
}

// By hand, where nothing was measured: sound e^(-11/16) = .502_836, LF at the second level e^-1 = .367_879; of what is
// left, .129_285, .225 are at the second level elsewhere, and the .025 of her own state are not given twice:
// (.367_879 + .029_089) / (1 - .003_232).
#[test]
fn what_the_row_leaves_over_is_spread_as_new_cases_are() {
    let head = TableHead { scored: [0.0, 0.0, 1.0, 0.0, 0.0, 0.0], ..head() };
    let judged = judge(&head, &row(11, 2, 16), &nothing());
    assert!((judged.probability - 0.398_255).abs() < 1e-5, "{}", judged.probability);
    assert_eq!((judged.flag, judged.leg), (LaneFlag::Watch, Some(Leg::LF)));
}

// By hand: LF at the fourth level e^(-9/16) = .569_783; with .14 of the .233_305 left over, .603_9 are severe: urgent
// from .6. The leg has .592 of .803 lame: more than half of that, less than what would be half if lame were larger.
#[test]
fn severe_states_make_her_urgent_and_half_of_the_lame_ones_name_the_leg() {
    let head = TableHead { scored: [0.0, 1.0, 1.0, 1.0, 1.0, 1.0], ..head() };
    let judged = judge(&head, &row(26, 4, 9), &nothing());
    assert_eq!((judged.flag, judged.leg), (LaneFlag::Urgent, Some(Leg::LF)));
    let judged = judge(&head, &row(26, 4, 10), &nothing());
    assert_eq!((judged.flag, judged.leg), (LaneFlag::Check, Some(Leg::LF)), ".573 are severe");
}

// The weight of the day's evidence is half: what a measure says counts by its square root, a factor of 40 at most.
#[test]
fn evidence_counts_by_its_weight_and_no_more_than_forty_fold() {
    let measured = |value: f32| {
        let mut measures = nothing();
        measures.value[1] = value;
        measures
    };
    let row = row(0, 13, 0);
    let odds = |weight: f32, value: f32| {
        let head = TableHead { weight, ..head() };
        let mut p = before(&row);
        see(&head, &row, &measured(value), &mut p);
        let sum: f32 = p.iter().sum();
        assert!((sum - 1.0).abs() < 1e-5);
        p[13] / p[0]
    };
    // LR at 14 points: as expected, with variance 9; sound, 14 away with variance 10.
    let evidence = 4.5 * logf(1.0 + 196.0 / 10.0 / 8.0) + 0.5 * logf(10.0 / 9.0);
    assert!((odds(0.5, 14.0) / expf(0.5 * evidence) - 1.0).abs() < 1e-4);
    assert!((odds(0.25, 14.0) / expf(0.25 * evidence) - 1.0).abs() < 1e-4);
    assert!(expf(evidence) > 40.0 && (odds(1.0, 14.0) / 40.0 - 1.0).abs() < 1e-4);
}

// By hand: 1.5 times her 9, 1 stated and 2 of the lane are 16.5; four times that on unsettled days.
#[test]
fn what_is_seen_adds_up_the_errors_and_takes_the_lane_out() {
    let head = TableHead { shift: [1.0; MEASURES], shift_variance: [2.0; MEASURES], ..head() };
    let mut row =
        CowRow { usual: [250; MEASURES], usual_sd: [30; MEASURES], noise: [24; MEASURES], ..row(1, 1, 255) };
    let measures = Measures { value: [5.0; MEASURES], stated: [1.0; MEASURES], ..nothing() };
    for (unsettled, error) in [(false, 16.5), (true, 66.0)] {
        row.unsettled = unsettled;
        for seen in seen(&head, &row, &measures) {
            assert_eq!((seen.value, seen.error), (4.0, error));
            assert_eq!((seen.usual, seen.usual_variance), (2.5, 2.25));
        }
    }
}
