//! By hand, on a cow who usually carries 10 of everything, known to a variance of 1, and carries this much lately.

use super::*;
use crate::report::invented::cow_day;
use crate::score::model::cow::tests::{day_of, sound};
use crate::score::model::hypotheses::{SOUND, STATES, state};
use crate::score::model::rates::Rate;
use jiff::civil::date;

struct Cow {
    filter: Filter,
    recent: Recent,
    charts: [Ewma; 2],
    identity: OddPassages,
    standing: WorkStanding,
    others: Vec<NotHers>,
    grounds: Grounds,
    row: CowDay,
}

fn cow(flag: Flag) -> Cow {
    let grounds = Grounds {
        probability: 0.8,
        severe: 0.0,
        passages: 20,
        unseen_days: 0,
        no_data_days: 3,
        baseline_unsure: false,
        not_hers: false,
        treated: false,
    };
    Cow {
        filter: sound(10.0, 1.0),
        recent: Recent::default(),
        charts: [Ewma::of_cow(); 2],
        identity: OddPassages::default(),
        standing: WorkStanding::default(),
        others: Vec::new(),
        grounds,
        row: cow_day("999000000000001", date(2026, 1, 1), flag),
    }
}

impl Cow {
    fn written(&self) -> CowDay {
        let mut row = self.row.clone();
        let known = FindingInput {
            filter: &self.filter,
            recent: &self.recent,
            charts: &self.charts,
            identity: &self.identity,
            standing: &self.standing,
            others: &self.others,
            grounds: &self.grounds,
            day: 100,
        };
        write(&known, &mut row);
        row
    }

    /// Lately carries this of a measure, known to a variance of 3: 4 with that of her usual value.
    fn lately(mut self, measure: Measure, value: f64) -> Self {
        self.recent.mean[measure as usize] = value;
        self.recent.variance[measure as usize] = 3.0;
        self
    }
}

fn day(value: f64, minutes: f64, events: f64) -> DayMeasure {
    DayMeasure { minutes, events: [events; 6], ..day_of(Measure::FrontSplit, value, 8.0) }
}

// 10, then 20: 15, with a quarter of each variance; two events in a minute, then 4 in half of one: 2 + .3 * 6.
#[test]
fn the_last_days_are_a_running_mean() {
    let mut recent = Recent::default();
    recent.see(&day(10.0, 0.0, 0.0));
    assert_eq!((recent.mean[0], recent.variance[0], recent.events), (10.0, 8.0, None));
    recent.see(&day(20.0, 1.0, 2.0));
    assert_eq!((recent.mean[0], recent.variance[0], recent.events), (15.0, 4.0, Some([2.0; 6])));
    recent.see(&day(f64::NAN, 0.5, 4.0));
    assert_eq!((recent.mean[0], recent.variance[0]), (15.0, 4.0));
    assert!((recent.events.expect("counted")[5] - 3.8).abs() < 1e-12);
    assert!(recent.mean[1].is_nan());
}

// Shares of a cow with 56 % in front and splits of 10 and -20 points.
#[test]
fn shares_of_the_legs_come_from_the_splits() {
    for (found, wanted) in shares(56.0, 10.0, -20.0).into_iter().zip([25.2, 30.8, 26.4, 17.6]) {
        assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
    }
}

// 4.1 off with an SD of 2 is told, 3.9 is not; which leg is spared the sign says.
#[test]
fn a_change_is_told_from_two_sd_with_the_leg_that_is_spared() {
    for (off, leg) in [(3.9, None), (4.1, Some(Leg::LF)), (-4.1, Some(Leg::RF)), (-3.9, None)] {
        let found = cow(Flag::Watch).lately(Measure::FrontPeak, 10.0 + off).written().reasons;
        match leg {
            None => assert_eq!(found, [FlagReason::SeveralSmall]),
            Some(leg) => {
                let sign = if leg == Leg::LF { -2.0 } else { 2.0 };
                let (now_pct, usual_pct, sd) = (sign * (10.0 + off), sign * 10.0, off.abs() / 2.0);
                assert_eq!(
                    found,
                    [FlagReason::PeakLow { leg, other: leg.opposite(), now_pct, usual_pct, sd }]
                );
            }
        }
    }
    let quiet = cow(Flag::Clear).lately(Measure::FrontPeak, 30.0).written().reasons;
    assert_eq!(quiet, [FlagReason::AsWhenSound]);
}

#[test]
fn each_measure_has_its_own_words() {
    let told = |measure, value| cow(Flag::Check).lately(measure, value).written().reasons[0].clone();
    let e = 100.0 * 5.0f64.exp_m1();
    for (measure, wanted) in [
        (Measure::FrontShare, FlagReason::FrontShare { now_pct: 15.0, usual_pct: 10.0, sd: 2.5 }),
        (Measure::PeakFront, FlagReason::FrontPeaks { now_pct: 15.0, usual_pct: 10.0, sd: 2.5 }),
        (Measure::FrontSway, FlagReason::Sway { pair: Pair::Front, change_pct: e, sd: 2.5 }),
        (Measure::RearSway, FlagReason::Sway { pair: Pair::Rear, change_pct: e, sd: 2.5 }),
        (Measure::Slow, FlagReason::Pace { change_pct: e, sd: 2.5 }),
    ] {
        assert_eq!(told(measure, 15.0), wanted);
    }
    let short = |measure, value, leg: Leg, now_pct, usual_pct| {
        let wanted = FlagReason::TimeShort { leg, other: leg.opposite(), now_pct, usual_pct, sd: 2.5 };
        assert_eq!(told(measure, value), wanted);
    };
    short(Measure::FrontTime, 15.0, Leg::LF, -30.0, -20.0);
    short(Measure::RearTime, 5.0, Leg::RR, 10.0, 20.0);
    // 50 % in front lately and when sound; splits of 10 when sound, of 15 in front lately: 25 * .85 in place of 25 * .9.
    let mut shared = cow(Flag::Check)
        .lately(Measure::FrontSplit, 15.0)
        .lately(Measure::RearSplit, 10.0)
        .lately(Measure::FrontShare, 50.0);
    for baseline in shared.filter.baseline.iter_mut() {
        baseline.mean[Measure::FrontShare as usize] = 50.0;
    }
    let FlagReason::ShareLow { leg: Leg::LF, now_pct, usual_pct, sd } = shared.written().reasons[0] else {
        panic!("{:?}", shared.written().reasons)
    };
    assert_eq!([now_pct, usual_pct, sd], [21.25, 22.5, 2.5]);
}

// The stronger first, four at most, and none of the other pair than the one that is sore.
#[test]
fn reasons_are_of_the_sore_pair_and_few() {
    let mut many = cow(Flag::Check);
    for (i, measure) in Measure::ALL.into_iter().enumerate().skip(2) {
        many = many.lately(measure, 15.0 + i as f64);
    }
    let found = many.written().reasons;
    assert_eq!(found.len(), 4);
    assert!(matches!(found[0], FlagReason::Pace { .. }), "{found:?}");
    many.row.place = Some(Place::One(Leg::LF));
    let rear = |reason: &FlagReason| {
        matches!(
            reason,
            FlagReason::TimeShort { leg: Leg::LR | Leg::RR, .. }
                | FlagReason::PeakLow { leg: Leg::LR | Leg::RR, .. }
        )
    };
    assert!(found.iter().any(rear), "{found:?}");
    assert!(!many.written().reasons.iter().any(rear));
    for (place, measure) in [
        (Place::BothRear, Measure::FrontSplit),
        (Place::BothRear, Measure::FrontTime),
        (Place::BothFront, Measure::RearSplit),
        (Place::One(Leg::RF), Measure::RearPeak),
    ] {
        let mut elsewhere = cow(Flag::Check).lately(measure, 20.0);
        elsewhere.row.place = Some(place);
        assert_eq!(elsewhere.written().reasons, [FlagReason::SeveralSmall], "{place:?}");
    }
}

// One of each event a minute is usual: shifts 2 and lifts 4 in all. Told above 1.4 times as many, and one more.
#[test]
fn more_shifts_or_lifts_than_hers_are_told() {
    let found = |shifts: f64, lifts: f64| {
        let mut cow = cow(Flag::Watch);
        cow.recent.events =
            Some([shifts / 2.0, shifts / 2.0, lifts / 4.0, lifts / 4.0, lifts / 4.0, lifts / 4.0]);
        cow.written().reasons[0].clone()
    };
    assert_eq!(found(2.99, 5.59), FlagReason::SeveralSmall);
    assert_eq!(found(3.01, 9.0), FlagReason::Shifts { now_per_minute: 3.01, usual_per_minute: 2.0 });
    let FlagReason::Lifts { now_per_minute, usual_per_minute } = found(2.0, 5.61) else { panic!("lifts") };
    assert!((now_per_minute - 5.61).abs() < 1e-9 && usual_per_minute == 4.0);
    let mut rare = cow(Flag::Watch);
    rare.filter.rates = [Rate::new(0.25); 6];
    rare.recent.events = Some([0.74, 0.74, 0.0, 0.0, 0.0, 0.0]);
    assert_eq!(rare.written().reasons, [FlagReason::SeveralSmall], "three times as many, but not one more");
}

// A drift shows in the chart of a pair before any day does.
#[test]
fn a_drift_is_told_by_its_chart() {
    let mut drifting = cow(Flag::Watch);
    (0..30).for_each(|_| drifting.charts[1].see(3.0));
    let (value_sd, limit_sd) = (drifting.charts[1].value, drifting.charts[1].limit());
    assert_eq!(drifting.written().reasons, [FlagReason::Drift { pair: Pair::Rear, value_sd, limit_sd }]);
    drifting.row.flag = Flag::Clear;
    assert_eq!(drifting.written().reasons, [FlagReason::AsWhenSound]);
}

#[test]
fn what_was_set_aside_or_missed_is_said_first_and_last() {
    let mut odd = cow(Flag::CannotTell);
    odd.others = vec![NotHers::Weight(700.0, 600.0), NotHers::Pattern];
    odd.grounds.unseen_days = 2;
    let first = FlagReason::SetAsideByWeight { passages: 2, seen_kg: 700.0, usual_kg: 600.0 };
    assert_eq!(odd.written().reasons, [first, FlagReason::NotSeen { days: 2 }]);
    odd.others = vec![NotHers::Pattern];
    assert_eq!(odd.written().reasons[0], FlagReason::SetAsideByLoads { passages: 1 });
    assert_eq!(unseen(0, 5), FlagReason::NoTrustedPassage);
    assert_eq!(unseen(1, 5), FlagReason::NotSeen { days: 5 });
}

#[test]
fn foot_work_is_said_as_far_as_it_is_known() {
    let said = |standing: WorkStanding, flag: Flag| {
        let mut cow = cow(flag);
        (cow.standing, cow.grounds.treated) = (standing, standing.treated());
        cow.row.place = Some(Place::One(Leg::RR));
        let row = cow.written();
        (row.reasons, row.advice, row.confidence)
    };
    let block = WorkStanding { block: Some(Some(Leg::LR)), block_since: 93, ..WorkStanding::default() };
    let leg = Some(Leg::LR);
    let (reasons, advice, confidence) = said(block, Flag::Watch);
    assert_eq!(reasons, [FlagReason::BlockOn { leg, days: 7 }]);
    assert_eq!((advice, confidence), (Some(Advice::RecheckFoot), Confidence::Low));
    let overdue = WorkStanding { block_overdue: Some(4), ..block };
    let (reasons, advice, _) = said(overdue, Flag::Watch);
    assert_eq!(reasons, [FlagReason::BlockEndNotReported { leg, days: 4 }]);
    assert_eq!(advice, Some(Advice::SayBlock));
    let trimmed = WorkStanding { unsettled: Some(3), ..WorkStanding::default() };
    let (reasons, advice, _) = said(trimmed, Flag::Watch);
    assert_eq!(reasons, [FlagReason::FootWork { days: 3 }]);
    assert_eq!(advice, Some(Advice::WaitAfterFootWork));
    let (reasons, advice, _) = said(trimmed, Flag::Urgent);
    assert_eq!(reasons[0], FlagReason::MoreThanTreatment { leg: Some(Leg::RR) });
    assert_eq!(advice, Some(Advice::CallVet));
}

// Sure from twenty passages on, but not of .15 to .75.
#[test]
fn how_sure_it_is() {
    let of = |flag: Flag, change: fn(&mut Grounds)| {
        let mut cow = cow(flag);
        change(&mut cow.grounds);
        cow.written().confidence
    };
    assert_eq!(of(Flag::Check, |_| ()), Confidence::High);
    assert_eq!(of(Flag::Check, |g| g.passages = 19), Confidence::Fair);
    assert_eq!(of(Flag::Check, |g| g.unseen_days = 1), Confidence::Fair);
    for (probability, confidence) in [
        (0.15, Confidence::High),
        (0.16, Confidence::Fair),
        (0.74, Confidence::Fair),
        (0.75, Confidence::High),
    ] {
        let mut cow = cow(Flag::Watch);
        cow.grounds.probability = probability;
        assert_eq!(cow.written().confidence, confidence, "{probability}");
    }
    assert_eq!(of(Flag::CannotTell, |_| ()), Confidence::Low);
    assert_eq!(of(Flag::Check, |g| g.baseline_unsure = true), Confidence::Low);
    assert_eq!(of(Flag::Check, |g| g.treated = true), Confidence::Low);
}

#[test]
fn what_would_settle_it() {
    let of = |flag: Flag, place: f64, change: fn(&mut Cow)| {
        let mut cow = cow(flag);
        cow.row.place_probability = Some(place);
        change(&mut cow);
        cow.written().advice
    };
    assert_eq!(of(Flag::Check, 0.8, |_| ()), Some(Advice::LiftFoot));
    assert_eq!(of(Flag::Check, 0.79, |_| ()), Some(Advice::LiftPair));
    assert_eq!(of(Flag::Urgent, 0.9, |_| ()), Some(Advice::LiftFoot));
    assert_eq!(of(Flag::Watch, 0.9, |_| ()), Some(Advice::NextDays));
    assert_eq!(of(Flag::Clear, 0.9, |_| ()), None);
    let few = |passages| Some(Advice::MorePassages { passages });
    assert_eq!(of(Flag::CannotTell, 0.9, |cow| cow.grounds.passages = 1), few(3));
    assert_eq!(of(Flag::CannotTell, 0.9, |cow| cow.grounds.passages = 3), few(2));
    assert_eq!(of(Flag::Check, 0.9, |cow| cow.grounds.not_hers = true), Some(Advice::ReadTag));
    assert_eq!(of(Flag::Check, 0.9, |cow| cow.identity.odd_days = 1), Some(Advice::ReadTag));
}

// Half sound; of the lame half, .6 the right hind leg and .4 both hind legs.
#[test]
fn where_it_is_and_each_legs_probability() {
    let mut cow = cow(Flag::Check);
    cow.filter.probability = [0.0; STATES];
    for (of, probability) in [(SOUND, 0.5), (state(3, 1), 0.1), (state(3, 2), 0.2), (state(5, 0), 0.2)] {
        cow.filter.probability[of] = probability;
    }
    place(&cow.filter, &mut cow.row);
    assert_eq!(cow.row.place, Some(Place::One(Leg::RR)));
    assert!((cow.row.place_probability.expect("lame") - 0.6).abs() < 1e-9);
    for (found, wanted) in cow.row.leg_probability.0.into_iter().zip([0.0, 0.0, 0.4, 1.0]) {
        assert!((found - wanted).abs() < 1e-9, "{found} {wanted}");
    }
    assert_eq!(since(&self::cow(Flag::Check).filter, &Hypotheses::new(), 100), None);
}
