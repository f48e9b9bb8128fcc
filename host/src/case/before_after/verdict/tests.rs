use super::*;
use crate::case::before_after::model::tests::NOTHING;
use jiff::civil::date;

/// A leg that was `before` and is `now`, in % of its usual load and each known to an SD of 1 %; 4 % are normal.
fn course(leg: Leg, before: f64, now: f64) -> LegCourse {
    let mut belief = NOTHING;
    for (at, mean) in [(state::AT_TREATMENT, before), (state::DEVIATION, now)] {
        belief.mean[at] = mean;
        belief.covariance[at][at] = 1.0;
    }
    let fit = Fit::given(&[(1.0, 8.0, belief)]);
    LegCourse { leg, fit, normal_range: 4.0, passages: [20, 10, 10], block_now: 0.0 }
}

/// The right hind leg was treated three weeks ago; the left hind leg is the other one.
fn legs(treated: LegCourse, other: LegCourse) -> PerLeg<Option<LegCourse>> {
    PerLeg([None, None, Some(other), Some(treated)])
}

fn facts(legs: &PerLeg<Option<LegCourse>>) -> Facts<'_> {
    Facts {
        treated: Leg::RR,
        legs,
        at: date(2026, 3, 2),
        days_since: 21,
        block_until: None,
        block_unreported: None,
        lost_since: None,
        half_time: (14.0, 0.5),
        restless: false,
        until: date(2026, 3, 23),
    }
}

#[test]
fn a_leg_is_low_below_her_normal_range() {
    // At -5 the end of the range at -4 is 1 SD above: 84.13 % of a normal distribution. At 0 it is 4 SD below: 0.003 %.
    let low = |now: f64| course(Leg::LR, 0.0, now).low();
    assert!((low(-5.0) - 0.841_345).abs() < 1e-6, "{}", low(-5.0));
    assert!(low(0.0) < 1e-4 && low(5.0) < 1e-4, "{}", low(0.0));
}

#[test]
fn another_leg_is_named_that_fell_and_carries_less_than_the_treated_one() {
    let named = |treated_now: f64, before: f64, now: f64| {
        let legs = legs(course(Leg::RR, -20.0, treated_now), course(Leg::LR, before, now));
        let treated = legs[Leg::RR].as_ref().expect("the treated leg");
        other_leg(&facts(&legs), treated).map(|other| other.leg)
    };
    assert_eq!(named(-2.0, 0.0, -20.0), Some(Leg::LR));
    assert_eq!(named(-2.0, -20.0, -20.0), None, "as low before");
    assert_eq!(named(-30.0, 0.0, -20.0), None, "the treated one is lower");
    assert_eq!(named(-2.0, 0.0, -3.0), None, "within her range");
}

#[test]
fn a_leg_that_is_more_likely_low_than_not_stands_in_the_way() {
    let found = |now: f64| {
        let legs = legs(course(Leg::RR, -20.0, 0.0), course(Leg::LR, 0.0, now));
        low_other_leg(&facts(&legs)).map(|other| other.leg)
    };
    // The chance of being below -4 is 16 % at -3, a half at -4 and 84 % at -5.
    assert_eq!((found(-3.0), found(-4.0), found(-5.0)), (None, None, Some(Leg::LR)));
}

#[test]
fn a_healed_leg_goes_as_expected_unless_another_one_may_be_low() {
    let judged = |other_now: f64| {
        let legs = legs(course(Leg::RR, -20.0, 0.0), course(Leg::LR, 0.0, other_now));
        judge(&facts(&legs))
    };
    assert_eq!(judged(0.0).verdict, Verdict::AsExpected);
    let low = judged(-4.5);
    assert_eq!(low.verdict, Verdict::CannotTellYet);
    assert!(matches!(low.reason, CourseReason::CarriesOtherLow { other: Leg::LR, .. }), "{low:?}");
}
