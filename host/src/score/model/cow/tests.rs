//! By hand, on a filter whose probabilities and baselines are set: 10 with variance 4 everywhere.

use super::*;
use crate::score::model::features::{Class, Measure, MovementCounts};
use crate::score::model::hypotheses::state;

const FRONT_SPLIT: usize = Measure::FrontSplit as usize;
const REAR_SPLIT: usize = Measure::RearSplit as usize;
/// Variance of a long stance's splits, 3.5^2, and what is to be stated for 16 in all.
const STATED: f64 = 3.75;

/// A cow surely sound, for whom this is usual in every state; each event once a minute.
pub(in crate::score) fn sound(mean: f64, variance: f64) -> Filter {
    let usual = Baseline::new(&[mean; MEASURES], &[variance; MEASURES]);
    let mut filter = Filter::new(&Hypotheses::new(), &usual, [Rate::new(1.0); 6]);
    *filter.baseline = [usual; STATES];
    filter.probability = [0.0; STATES];
    filter.probability[SOUND] = 1.0;
    filter
}

fn filter(probabilities: &[(usize, f64)]) -> Filter {
    let mut filter = sound(10.0, 4.0);
    filter.probability = [0.0; STATES];
    for &(state, probability) in probabilities {
        filter.probability[state] = probability;
    }
    filter
}

fn passage(values: &[(usize, f64)]) -> Measured {
    let mut value = [f64::NAN; MEASURES];
    values.iter().for_each(|&(measure, of)| value[measure] = of);
    Measured {
        value,
        stated: [STATED; MEASURES],
        class: Class::Long,
        counts: MovementCounts { minutes: 2.0, shifts: [1.0, 2.0], lifts: [3.0, 4.0, 5.0, 6.0] },
        ..Measured::NOTHING
    }
}

/// A day on which this alone was measured.
pub(in crate::score) fn day_of(measure: Measure, value: f64, variance: f64) -> DayMeasure {
    let mut day = DayMeasure {
        value: [f64::NAN; MEASURES],
        variance: [f64::INFINITY; MEASURES],
        minutes: 0.0,
        events: [0.0; 6],
        passages: 1,
    };
    (day.value[measure as usize], day.variance[measure as usize]) = (value, variance);
    day
}

const EXPECTED: Expected = Expected { mean: [10.0; MEASURES], variance: [9.0; MEASURES] };

#[track_caller]
fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-6 * wanted.abs().max(1.0), "{found} {wanted}");
}

// Halves at 10 with variance 4 and at 14 with variance 6: 5 within and 4 between them.
#[test]
fn her_usual_value_over_all_states() {
    let mut filter = filter(&[(SOUND, 0.5), (1, 0.5)]);
    filter.baseline[1] = Baseline::new(&[14.0; MEASURES], &[6.0; MEASURES]);
    let base = filter.base(FRONT_SPLIT);
    near(base.mean, 12.0);
    near(base.variance, 9.0);
    near(filter.lame(), 0.5);
}

// Half sound, half with an effect of 6 known to a variance of 5: 10 and 16; 4 and 4 + 5 within, 9 between them. What is
// as good as impossible does not count.
#[test]
fn what_is_expected_of_her_has_the_effects_in_it() {
    let mut hypotheses = Hypotheses::new();
    hypotheses.shown[1].effect[FRONT_SPLIT] = 6.0;
    hypotheses.spread[1][FRONT_SPLIT] = 5.0;
    hypotheses.shown[2].effect[FRONT_SPLIT] = 1e12;
    let filter = filter(&[(SOUND, 0.5), (1, 0.5), (2, 0.9e-9)]);
    let expected = filter.expected(&hypotheses);
    near(expected.mean[FRONT_SPLIT], 13.0);
    near(expected.variance[FRONT_SPLIT], 15.5);
}

// Variance 4 + 16: 10 off is 100 / 20 = 5; with a measure that fits, half of it; one state has an effect of 10, and fits.
// Of sway and pace nothing is asked.
#[test]
fn a_passage_is_odd_by_the_state_that_fits_it_best() {
    let mut hypotheses = Hypotheses::new();
    hypotheses.shown.iter_mut().for_each(|shown| shown.effect = Default::default());
    let filter = filter(&[(SOUND, 1.0)]);
    let noise = Noise::new();
    let odd = |hypotheses: &Hypotheses, values: &[(usize, f64)]| {
        filter.oddness(hypotheses, &noise, &passage(values))
    };
    let front = (FRONT_SPLIT, 20.0);
    for (values, wanted, used) in [
        (&[front][..], 5.0, 1),
        (&[front, (REAR_SPLIT, 10.0)], 2.5, 2),
        (&[front, (Measure::RearSway as usize, 50.0)], 5.0, 1),
        (&[], 0.0, 0),
    ] {
        let (found, of) = odd(&hypotheses, values);
        near(found, wanted);
        assert_eq!(of, used);
    }
    hypotheses.shown[7].effect[FRONT_SPLIT] = 10.0;
    near(odd(&hypotheses, &[front]).0, 0.0);
}

// Each has a variance of 16; 0.21 of it is common to a day: 0.21 * 16 + 0.79 * 16 / 2.
#[test]
fn passages_of_a_day_are_weighed_and_counted_together() {
    let (filter, noise) = (filter(&[(SOUND, 1.0)]), Noise::new());
    let two = [passage(&[(FRONT_SPLIT, 8.0)]), passage(&[(FRONT_SPLIT, 12.0)])];
    for wider in [1.0, 3.0] {
        let day = filter.combine(&two, &EXPECTED, &noise, wider);
        near(day.value[FRONT_SPLIT], 10.0);
        near(day.variance[FRONT_SPLIT], wider * wider * (0.21 * 16.0 + 0.79 * 8.0));
        assert!(day.value[REAR_SPLIT].is_nan() && day.variance[REAR_SPLIT].is_infinite());
        assert_eq!((day.minutes, day.passages), (4.0, 2));
        assert_eq!(day.events, [2.0, 4.0, 6.0, 8.0, 10.0, 12.0]);
    }
    let mut surer = two;
    surer[1].stated[FRONT_SPLIT] = -4.25;
    near(filter.combine(&surer, &EXPECTED, &noise, 1.0).value[FRONT_SPLIT], (8.0 + 2.0 * 12.0) / 3.0);
}

// 20 off where 16 + 9 are expected are 4 SD: it counts 1.5 / 4 of the other. Alone, it is all there is.
#[test]
fn an_odd_passage_among_several_is_held_back() {
    let (filter, noise) = (filter(&[(SOUND, 1.0)]), Noise::new());
    for odd in [30.0, -10.0] {
        let passages = [passage(&[(FRONT_SPLIT, 10.0)]), passage(&[(FRONT_SPLIT, odd)])];
        let day = filter.combine(&passages, &EXPECTED, &noise, 1.0);
        near(day.value[FRONT_SPLIT], (10.0 + 0.375 * odd) / 1.375);
        near(day.variance[FRONT_SPLIT], 0.21 * 16.0 + 0.79 * 16.0 / 1.375);
        near(filter.combine(&passages[1..], &EXPECTED, &noise, 1.0).value[FRONT_SPLIT], odd);
    }
}

// By hand: 8 off what she showed lately, with variances of 16 and 48, is 1, in place of the .995 that a normal one cut at 9 has;
// 100 off is cut at 9. Ten days of the herd's noise stand beside it.
#[test]
fn her_own_noise_is_learned_beside_the_herds() {
    let lately = |k: usize, value: f64| {
        let mut values = [f64::NAN; MEASURES];
        values[k] = value;
        (values, [48.0; MEASURES])
    };
    let at = |value: f64| day_of(Measure::FrontSplit, value, 16.0);
    for (off, ratio) in [(8.0, 1.0 / 0.995), (-8.0, 1.0 / 0.995), (100.0, 9.0 / 0.995)] {
        let mut filter = filter(&[(SOUND, 1.0)]);
        filter.learn_scale(&at(10.0 + off), &lately(FRONT_SPLIT, 10.0));
        let first = (10.0 + ratio) / 11.0;
        near(filter.scale(FRONT_SPLIT), first);
        assert_eq!(filter.scale(REAR_SPLIT), 1.0);
        filter.learn_scale(&at(10.0 + off), &lately(FRONT_SPLIT, 10.0));
        near(filter.scale(FRONT_SPLIT), (10.0 + 0.985 * ratio + first * ratio) / (10.0 + 0.985 + 1.0));
        // What was not seen lately, or not today, teaches nothing.
        filter.learn_scale(&at(10.0 + off), &lately(REAR_SPLIT, 10.0));
        near(filter.scale(FRONT_SPLIT), (10.0 + 0.985 * ratio + first * ratio) / (10.0 + 0.985 + 1.0));
        assert_eq!(filter.scale(REAR_SPLIT), 1.0);
    }
    let mut quiet = filter(&[(SOUND, 1.0)]);
    (0..400).for_each(|_| quiet.learn_scale(&at(10.0), &lately(FRONT_SPLIT, 10.0)));
    assert_eq!(quiet.scale(FRONT_SPLIT), 0.3);
    (0..400).for_each(|_| quiet.learn_scale(&at(900.0), &lately(FRONT_SPLIT, 10.0)));
    assert_eq!(quiet.scale(FRONT_SPLIT), 6.0);
}

#[test]
fn a_passage_teaches_what_it_differs_by() {
    let lesson = filter(&[(SOUND, 1.0)]).lesson(&passage(&[(0, 13.0)]), &EXPECTED, 5, 0.02);
    assert_eq!((lesson.residual[0], lesson.known[0]), (3.0, 9.0 + STATED));
    assert!(lesson.residual[1].is_nan());
    assert_eq!((lesson.hour, lesson.weight, lesson.class as usize), (5, 0.02, Class::Long as usize));
}

// A lesion is found in .142 of sound feet and in .680 of those scored lame, here surely; in sound cows .004 are.
#[test]
fn a_lifted_foot_speaks_for_what_was_found_and_where() {
    let mut hypotheses = Hypotheses::new();
    let right_hind = state(3, 4);
    hypotheses.scored[right_hind] = 1.0;
    let sound = 0.142 + 0.004 * 0.538;
    for (lesions, sound, lame) in [
        (&[][..], 1.0 - sound, 1.0 - 0.680),
        (&[Some(Leg::RR)], sound, 0.680),
        (&[None], sound, 0.680),
        (&[Some(Leg::LF), Some(Leg::RR)], sound, 0.680),
        // At another leg it says nothing of this one.
        (&[Some(Leg::LF)], sound, sound),
    ] {
        let mut filter = filter(&[(SOUND, 0.5), (right_hind, 0.5)]);
        filter.miss();
        filter.lift(&hypotheses, lesions);
        near(filter.probability[right_hind], lame / (lame + sound));
        let last = filter.chain_days.back().expect("a day");
        near(f64::from(last.probability[right_hind]), lame / (lame + sound));
        near(f64::from(last.seen[right_hind]), lame);
        near(f64::from(last.seen[SOUND]), sound);
    }
}

// Ten hours with 60 shifts and lifts a minute speak for a lame cow beyond all bounds: by 40 a passage, of at most two.
#[test]
fn a_passage_changes_the_odds_by_so_much_at_most() {
    let hypotheses = Hypotheses::new();
    let lame = state(3, 4);
    for (passages, most) in [(1, 40.0), (2, 1600.0), (3, 1600.0)] {
        let mut filter = filter(&[(SOUND, 0.5), (lame, 0.5)]);
        let day = DayMeasure {
            minutes: 600.0,
            events: [0.0, 36e3, 0.0, 0.0, 0.0, 36e3],
            passages,
            ..day_of(Measure::FrontSplit, f64::NAN, f64::INFINITY)
        };
        filter.see(&hypotheses, &day, &[1.0; 6], 1.0);
        near(filter.probability[lame] / filter.probability[SOUND], most);
        assert_eq!(filter.days_seen, 1);
        let rates = filter.rates.map(|rate| rate.per_minute() > 1.0);
        assert_eq!(rates, [false, true, false, false, false, true]);
    }
}

#[test]
fn counts_speak_as_her_rates_do_and_not_without_minutes() {
    let hypotheses = Hypotheses::new();
    let filter = filter(&[(SOUND, 1.0)]);
    let day = DayMeasure {
        minutes: 3.0,
        events: [9.0, 8.0, 7.0, 6.0, 5.0, 4.0],
        ..day_of(Measure::FrontSplit, 10.0, 16.0)
    };
    let counted = [1.0, 2.0, 1.0, 1.0, 1.0, 3.0];
    let all = filter.count_evidence(&hypotheses, &day, &counted);
    let right_hind = state(3, 2);
    let [shifts, lifts] = [hypotheses.shifts[right_hind][1], hypotheses.lifts[right_hind][3]];
    assert!(shifts > 1.0 && lifts > 1.0);
    let rate = Rate::new(1.0);
    near(all[right_hind], rate.evidence(8.0, 6.0, shifts) + rate.evidence(4.0, 9.0, lifts));
    assert_eq!(all[SOUND], 0.0);
    let unseen = DayMeasure { minutes: 0.0, ..day };
    assert_eq!(filter.count_evidence(&hypotheses, &unseen, &counted), [0.0; STATES]);
}

#[test]
fn as_many_days_are_kept_as_are_looked_back_on() {
    let hypotheses = Hypotheses::new();
    let mut filter = filter(&[(SOUND, 1.0)]);
    (0..KEPT_DAYS).for_each(|_| filter.miss());
    assert_eq!(filter.chain_days.len(), KEPT_DAYS);
    assert_eq!(filter.chain_days[0].seen, [1.0; STATES]);
    filter.see(&hypotheses, &day_of(Measure::FrontSplit, 40.0, 16.0), &[1.0; 6], 1.0);
    assert_eq!(filter.chain_days.len(), KEPT_DAYS);
    assert_ne!(filter.chain_days[KEPT_DAYS - 1].seen, [1.0; STATES]);
}
