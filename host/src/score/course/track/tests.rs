//! By hand: one cow, known for ten days to carry 10 of everything with a variance of 4.

use super::*;
use crate::arithmetic::dates::date_of_number;
use crate::record::VersionSpan;
use crate::score::model::cow::tests::{day_of, sound};
use crate::score::model::features::Class;
use crate::score::model::hypotheses::{LEVELS, SOUND};
use jiff::civil::date;
use shared::plate::Leg;

fn animal() -> AnimalId {
    AnimalId("999000000000001".to_owned())
}

fn works(leg: Leg, from: i64, to: i64) -> DatedWork {
    let record = FootWork {
        look: false,
        date: date_of_number(from),
        animal: animal(),
        leg: Some(leg),
        lesion: false,
        block: true,
        block_off: Some(date_of_number(to)),
        block_due: None,
        known: VersionSpan::ALWAYS,
    };
    DatedWork::new(&record)
}

fn known() -> Track {
    let mut filter = sound(10.0, 4.0);
    filter.days_seen = 10;
    let mut track = Track::new(animal());
    (track.filter, track.last_day) = (Some(filter), 100);
    track
}

fn entry(calving_date: Option<jiff::civil::Date>, parity: u8) -> HerdEntry {
    HerdEntry { animal: animal(), parity: Some(parity), calving_date }
}

// Of day 60 of a lactation and before; of 61 to 200; later. A calving to come is not known: a lactation younger, its day
// unknown.
#[test]
fn her_group_is_of_her_last_calving() {
    let mut cow = Track::new(animal());
    assert_eq!(cow.group(0), group(None, None));
    cow.register(&entry(None, 1));
    assert_eq!(cow.group(0), group(Some(1), None));
    let calved = date(2026, 3, 1);
    let day = day_number(calved);
    cow.register(&entry(Some(calved), 2));
    for (later, days) in [(-1, None), (0, Some(0)), (60, Some(60)), (61, Some(61)), (201, Some(201))] {
        let parity = if days.is_none() { 1 } else { 2 };
        assert_eq!(cow.group(day + later), group(Some(parity), days), "{later}");
    }
    cow.register(&entry(Some(date(2025, 3, 1)), 1));
    assert_eq!(cow.group(day - 1), group(Some(1), Some(364)));
    cow.forget_records();
    assert_eq!(cow.group(day), group(None, None));
}

// A calving makes the front share less sure, by a point squared, that of the peaks by half of it; the day before and after
// do not.
#[test]
fn a_calving_moves_the_front_share() {
    let (hypotheses, noise) = (Hypotheses::new(), Noise::new());
    let calved = date(2026, 3, 1);
    let widened = |day: i64, measure: Measure| {
        let mut cow = known();
        cow.register(&entry(Some(calved), 2));
        let plain = {
            let mut plain = known();
            plain.begin(day, &hypotheses, &noise);
            plain.filter.expect("known").baseline[SOUND].variance[measure as usize]
        };
        cow.begin(day, &hypotheses, &noise);
        cow.filter.expect("known").baseline[SOUND].variance[measure as usize] - plain
    };
    let day = day_number(calved);
    for (measure, more) in [(Measure::FrontShare, 1.0), (Measure::PeakFront, 0.5), (Measure::RearSplit, 0.0)]
    {
        assert!((widened(day, measure) - more).abs() < 1e-4, "{measure:?}");
        assert_eq!(widened(day - 1, measure), 0.0);
        assert_eq!(widened(day + 1, measure), 0.0);
    }
}

// On from day 100 up to 110 on one leg, then on the other.
#[test]
fn a_block_that_goes_to_another_leg_gives_the_first_back() {
    let (hypotheses, noise) = (Hypotheses::new(), Noise::new());
    let mut cow = known();
    cow.works = vec![works(Leg::LF, 100, 110), works(Leg::RR, 110, 120)];
    let mut leg_on = |day: i64| {
        cow.begin(day, &hypotheses, &noise);
        let filter = cow.filter.as_ref().expect("known");
        let wide = |measure: Measure| filter.baseline[SOUND].variance[measure as usize] > 50.0;
        (cow.saved.as_ref().map(Saved::leg), wide(Measure::FrontSplit), wide(Measure::RearSplit))
    };
    assert_eq!(leg_on(99), (None, false, false));
    assert_eq!(leg_on(100), (Some(Some(Leg::LF)), true, false));
    assert_eq!(leg_on(109), (Some(Some(Leg::LF)), true, false));
    assert_eq!(leg_on(110), (Some(Some(Leg::RR)), false, true));
    assert_eq!(leg_on(120), (None, false, false));
}

#[test]
fn scores_and_feet_are_held_against_what_was_said_before() {
    let mut cow = known();
    cow.settled = [Some((96, [0.1; LEVELS + 1])), Some((98, [0.2; LEVELS + 1]))];
    assert_eq!(cow.levels_before(99), Some([0.2; LEVELS + 1]));
    assert_eq!(cow.levels_before(98), Some([0.1; LEVELS + 1]));
    assert_eq!(cow.levels_before(96), None);
    assert_eq!((cow.levels_before(101), cow.levels_before(102)), (Some([0.2; LEVELS + 1]), None));
    // A flag is answered once, within two weeks.
    for (day, answer) in [(114, Some(0.6)), (115, None)] {
        cow.news = Some((100, 0.6));
        assert_eq!(cow.answered(day), answer);
        assert_eq!(cow.answered(day), None);
    }
}

#[test]
fn the_herd_learns_from_cows_who_are_known_and_sound() {
    let mut cow = known();
    cow.recent.mean[2] = 50.0;
    let (_, value, variance) = cow.known_baseline().expect("known");
    assert_eq!((value[2], variance[2]), (10.0, 4.0));
    assert!(value[3].is_nan(), "never measured");
    let lame = |cow: &mut Track, p: f64| {
        let filter = cow.filter.as_mut().expect("known");
        (filter.probability[SOUND], filter.probability[3]) = (1.0 - p, p);
    };
    for (p, sound) in [(0.29, true), (0.31, false)] {
        lame(&mut cow, p);
        assert_eq!((cow.known_baseline().is_some(), cow.steady()), (sound, sound), "{p}");
    }
    lame(&mut cow, 0.0);
    cow.saved = cow.filter.as_mut().map(|filter| block_on(filter, None, 100));
    assert!(!cow.steady());
    for (days, known) in [(1, false), (2, true)] {
        cow.filter.as_mut().expect("known").days_seen = days;
        assert_eq!(cow.known_baseline().is_some(), known);
    }
}

// 14 where 10 is usual, with variances of 12 for the day and 4 for what is usual: one SD. Sways and shares have no chart; nor
// has a cow known for six days.
#[test]
fn the_charts_follow_the_splits_of_a_known_cow() {
    let cow = known();
    let filter = cow.filter.clone().expect("known");
    let day = day_of(Measure::RearSplit, 14.0, 12.0);
    for (days_seen, variance, value) in [(7, 9.0, 0.2), (6, 9.0, 0.0), (7, -3.0, 0.2 * 4.0 / 3.0)] {
        let mut cow = cow.clone();
        let mut filter = filter.clone();
        filter.days_seen = days_seen;
        cow.chart(&day, &Expected { mean: [0.0; MEASURES], variance: [variance; MEASURES] }, &filter);
        assert!((cow.charts[1].value - value).abs() < 1e-12, "{}", cow.charts[1].value);
        assert_eq!(cow.charts[0].value, 0.0);
    }
}

// What her passages are off, by measure and as a weight; 16 of a long stance and 4 of hers.
#[test]
fn she_bears_witness_of_a_lane_by_all_her_passages() {
    let mut cow = known();
    let weighed = |kg: f64, split: f64| {
        let mut passage = Measured { class: Class::Long, weight: kg.ln(), ..Measured::NOTHING };
        (passage.value[1], passage.stated[1]) = (split, 3.75);
        passage
    };
    let (hypotheses, noise) = (Hypotheses::new(), Noise::new());
    let (unweighed, _) = cow.witness(&[weighed(600.0, 13.0)], &hypotheses, &noise).expect("known");
    assert!(unweighed.residual[WEIGHT].is_nan(), "her weight is not known yet");
    cow.identity.learn(&[weighed(600.0, 13.0)], noise.weight(), None, 0);
    let passages = [weighed(606.0, 12.0), weighed(612.0, 14.0)];
    let (witness, day) = cow.witness(&passages, &hypotheses, &noise).expect("known");
    assert!((witness.residual[1] - 3.0).abs() < 1e-9 && witness.residual[0].is_nan());
    assert!((witness.variance[1] - day.variance[1] - 4.0).abs() < 1e-6);
    let usual = cow.identity.weight;
    let off = 0.5 * (606f64.ln() + 612f64.ln()) - usual.mean;
    assert!((witness.residual[WEIGHT] - off).abs() < 1e-12);
    assert!((witness.variance[WEIGHT] - usual.variance - noise.weight()).abs() < 1e-12);
}

// The last day of the four counts, the fifth does not; a new flag begins anew.
#[test]
fn news_settle_for_four_days() {
    let news = super::row::news;
    assert_eq!(news(None, false, (100, 0.7)), None);
    assert_eq!(news(None, true, (100, 0.7)), Some((100, 0.7)));
    assert_eq!(news(Some((100, 0.7)), false, (104, 0.8)), Some((100, 0.8)));
    assert_eq!(news(Some((100, 0.8)), false, (105, 0.9)), Some((100, 0.8)));
    assert_eq!(news(Some((100, 0.8)), true, (105, 0.9)), Some((105, 0.9)));
}

/// A day of the rear split alone, read with a variance of 16 where 10 is expected with one of 9, teaches.
fn taught(cow: &mut Track, filter: &mut Filter, day: i64, value: f64) -> DayFigures {
    let (hypotheses, noise) = (Hypotheses::new(), Noise::new());
    let learner = Learner::new(crate::record::ObserverPrior::default());
    let context = Context {
        day,
        date: date_of_number(day),
        hypotheses: &hypotheses,
        noise: &noise,
        learner: &learner,
        counted: [1.0; 6],
        limits: Limits { watch: (0.2, 0.1), check: (0.6, 0.4) },
        no_data_days: 3,
        history: false,
    };
    let expected = Expected { mean: [10.0; MEASURES], variance: [9.0; MEASURES] };
    let mut done = DayFigures {
        row: cow.empty_row(context.date),
        lessons: Vec::new(),
        pairs: Vec::new(),
        neighbours: None,
        swing: None,
        rises: None,
    };
    let measured = day_of(Measure::RearSplit, value, 16.0);
    cow.teach(filter, &[], &expected, &measured, &context, &mut done);
    done
}

// Days of 10, 12 and 14: 0, 2 / 5 and 4 / 5 of an SD. Days that follow each other are neighbours; what they swing is told from
// 14 and 2 days before.
#[test]
fn days_teach_how_they_hang_together_and_swing() {
    let mut cow = known();
    let mut filter = cow.filter.take().expect("known");
    let mut taught = |day: i64, value: f64| {
        let done = taught(&mut cow, &mut filter, day, value);
        (done.neighbours.map(|(one, other)| (one[1], other[1])), done.swing)
    };
    assert_eq!(taught(100, 10.0).0, None);
    assert_eq!(taught(101, 12.0).0, Some((0.0, 0.4)));
    assert_eq!(taught(103, 14.0).0, None, "a day lies between");
    assert!(taught(112, 11.0).1.is_none());
    let (neighbours, swing) = taught(114, 17.0);
    let swing = swing.expect("days 100 and 112");
    assert_eq!(neighbours, None);
    assert_eq!((swing.long[1], swing.short[1], swing.variance[1]), (7.0, 6.0, 32.0));
    // Day 100 is forgotten by then.
    assert!(taught(116, 10.0).1.is_none());
}

// By hand: 4 more, against variances of 16 and 16, is a half; it stays, and the day after is as the one before: nothing. A day
// that is the last for more than a fortnight is nothing to hold another against.
#[test]
fn a_trouble_that_stays_is_not_taken_for_her_noise() {
    let mut cow = known();
    let mut filter = cow.filter.take().expect("known");
    let mut scale = |day: i64, value: f64| {
        taught(&mut cow, &mut filter, day, value);
        filter.scale(Measure::RearSplit as usize)
    };
    assert_eq!(scale(100, 10.0), 1.0);
    let once = (10.0 + 0.5 / 0.995) / 11.0;
    let twice = (10.0 + 0.985 * 0.5 / 0.995) / 11.985;
    let near = |found: f64, wanted: f64| assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
    near(scale(101, 14.0), once);
    near(scale(102, 14.0), twice);
    near(scale(117, 30.0), twice);
    assert!(scale(131, 14.0) > twice, "a fortnight later it still counts");
}
