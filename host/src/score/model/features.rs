//! What one passage says, as a vector of measures with their errors.

use shared::analysis::{PassageKind, PassageSummary, Reason, Standing};
use shared::lane_score::measures::LONG_STANCE_S;
pub use shared::lane_score::{CLASSES, Class};
use shared::plate::Leg;

/// How many measures have a baseline.
pub const MEASURES: usize = 11;

/// A value for each measure.
pub type PerMeasure = [f64; MEASURES];

/// A measure with a baseline. Splits are 100 (R - L) / (R + L) of a pair: half the symmetry index, in points of the
/// pair's load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(usize)]
pub enum Measure {
    /// Standing split of the front pair, points.
    FrontSplit = 0,
    /// Standing split of the rear pair, points.
    RearSplit = 1,
    /// Front share while standing, % of body weight.
    FrontShare = 2,
    /// Walking: split of the peaks of the front pair, points.
    FrontPeak = 3,
    /// Walking: split of the peaks of the rear pair, points.
    RearPeak = 4,
    /// Walking: front part of all four peaks, %.
    PeakFront = 5,
    /// Walking: split of the stance times of the front pair, points.
    FrontTime = 6,
    /// Walking: split of the stance times of the rear pair, points.
    RearTime = 7,
    /// Logarithm of the SD of the front shares while standing.
    FrontSway = 8,
    /// Logarithm of the SD of the rear shares while standing.
    RearSway = 9,
    /// Logarithm of the mean stance time while walking.
    Slow = 10,
}

impl Measure {
    /// Every measure, in order.
    pub const ALL: [Self; MEASURES] = [
        Self::FrontSplit,
        Self::RearSplit,
        Self::FrontShare,
        Self::FrontPeak,
        Self::RearPeak,
        Self::PeakFront,
        Self::FrontTime,
        Self::RearTime,
        Self::FrontSway,
        Self::RearSway,
        Self::Slow,
    ];
}

/// Counted events of a passage.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MovementCounts {
    /// Time stood, min.
    pub minutes: f64,
    /// Weight shifts, front and rear pair.
    pub shifts: [f64; 2],
    /// Leg lifts by leg.
    pub lifts: [f64; 4],
}

/// One passage as measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The values; NaN where not measured.
    pub value: PerMeasure,
    /// The part of the error variance that the lane itself states; 0 where it states none.
    pub stated: PerMeasure,
    /// How it was measured.
    pub class: Class,
    /// Events counted while standing.
    pub counts: MovementCounts,
    /// Natural logarithm of the body weight in kg; NaN where not weighed.
    pub weight: f64,
    /// Its stated standard error, as a fraction.
    pub weight_se: f64,
    /// Shares of body weight by leg while standing, %; NaN where she did not stand.
    pub share: [f64; 4],
    /// SD of the shares while standing, points; NaN likewise.
    pub sway: [f64; 4],
    /// Peaks by leg while walking, % of body weight; NaN where one is missing.
    pub peak: [f64; 4],
}

impl Measured {
    /// Of which nothing was measured.
    pub const NOTHING: Self = Self {
        value: [f64::NAN; MEASURES],
        stated: [0.0; MEASURES],
        class: Class::Walk,
        counts: MovementCounts { minutes: 0.0, shifts: [0.0; 2], lifts: [0.0; 4] },
        weight: f64::NAN,
        weight_se: 0.0,
        share: [f64::NAN; 4],
        sway: [f64::NAN; 4],
        peak: [f64::NAN; 4],
    };
}

fn positive(value: f32) -> Option<f64> {
    (value.is_finite() && value > 0.0).then_some(f64::from(value))
}

fn split(left: Option<f64>, right: Option<f64>) -> f64 {
    match (left, right) {
        (Some(left), Some(right)) => 100.0 * (right - left) / (right + left),
        _ => f64::NAN,
    }
}

fn standing_measures(standing: &Standing, measured: &mut Measured) {
    let share = standing.share_pct.0.map(|s| if s.is_finite() { f64::from(s).max(0.01) } else { f64::NAN });
    let sum: f64 = share.iter().sum();
    // Shares that do not add up are no shares; the comparison also drops NaN.
    if !((80.0..=120.0).contains(&sum)) {
        return;
    }
    measured.share = share.map(|s| 100.0 * s / sum);
    let [lf, rf, lr, rr] = measured.share;
    measured.value[Measure::FrontSplit as usize] = split(Some(lf), Some(rf));
    measured.value[Measure::RearSplit as usize] = split(Some(lr), Some(rr));
    measured.value[Measure::FrontShare as usize] = lf + rf;
    if let [Some(a), Some(b), Some(c), Some(d)] = standing.share_se_pct.0.map(positive) {
        // Left and right errors of a pair are opposite: what one leg gains the other loses.
        measured.stated[Measure::FrontSplit as usize] = (100.0 * (a + b) / (lf + rf)).powi(2);
        measured.stated[Measure::RearSplit as usize] = (100.0 * (c + d) / (lr + rr)).powi(2);
        measured.stated[Measure::FrontShare as usize] = 0.25 * (a + b + c + d).powi(2);
    }
    if let [Some(a), Some(b), Some(c), Some(d)] = standing.share_sd_pct.0.map(positive) {
        measured.sway = [a, b, c, d];
        measured.value[Measure::FrontSway as usize] = (0.5 * (a + b)).ln();
        measured.value[Measure::RearSway as usize] = (0.5 * (c + d)).ln();
    }
}

fn walking_measures(summary: &PassageSummary, measured: &mut Measured) {
    let of = |leg: Leg, field: fn(&shared::analysis::LegContacts) -> f32| {
        let contacts = &summary.walking[leg];
        (contacts.count > 0).then(|| positive(field(contacts))).flatten()
    };
    let peak = Leg::ALL.map(|leg| of(leg, |c| c.peak_pct));
    let time = Leg::ALL.map(|leg| of(leg, |c| c.stance_s));
    measured.value[Measure::FrontPeak as usize] = split(peak[0], peak[1]);
    measured.value[Measure::RearPeak as usize] = split(peak[2], peak[3]);
    measured.value[Measure::FrontTime as usize] = split(time[0], time[1]);
    measured.value[Measure::RearTime as usize] = split(time[2], time[3]);
    if let [Some(a), Some(b), Some(c), Some(d)] = peak {
        measured.peak = [a, b, c, d];
        measured.value[Measure::PeakFront as usize] = 100.0 * (a + b) / (a + b + c + d);
    }
    if let [Some(a), Some(b), Some(c), Some(d)] = time {
        measured.value[Measure::Slow as usize] = (0.25 * (a + b + c + d)).ln();
    }
}

/// Measures a passage; `None` where it must not be scored.
#[must_use]
pub fn measure(summary: &PassageSummary) -> Option<Measured> {
    if !summary.quality.trusted() {
        return None;
    }
    let mut measured = Measured::NOTHING;
    if let Some(standing) = &summary.standing {
        standing_measures(standing, &mut measured);
        let seconds = positive(standing.seconds).unwrap_or_else(|| f64::from(summary.duration.seconds()));
        let counted = standing.front_shifts > 0
            || standing.rear_shifts > 0
            || standing.lifts.0.iter().any(|&n| n > 0)
            || standing.seconds > 0.0;
        if counted {
            measured.counts = MovementCounts {
                minutes: seconds / 60.0,
                shifts: [f64::from(standing.front_shifts), f64::from(standing.rear_shifts)],
                lifts: standing.lifts.0.map(f64::from),
            };
        }
        if summary.kind == PassageKind::Stance && !summary.quality.has(Reason::NoStance) {
            measured.class = if seconds >= f64::from(LONG_STANCE_S) { Class::Long } else { Class::Short };
        }
    }
    walking_measures(summary, &mut measured);
    if let Some(weight) = summary.body_weight
        && let Some(kilograms) = positive(weight.value)
    {
        measured.weight = kilograms.ln();
        measured.weight_se = positive(weight.se).map_or(0.0, |se| se / kilograms);
    }
    let nothing = measured.value.iter().all(|v| v.is_nan()) && measured.counts.minutes <= 0.0;
    (!nothing).then_some(measured)
}

#[cfg(test)]
mod tests {
    use super::*;
    use shared::analysis::{LegContacts, Quality};
    use shared::plate::PerLeg;
    use shared::units::{Estimate, Milliseconds};

    fn summary() -> PassageSummary {
        let contacts =
            |peak_pct, stance_s| LegContacts { count: 1, peak_pct, stance_s, ..LegContacts::default() };
        PassageSummary {
            start: Milliseconds(0),
            duration: Milliseconds(30_000),
            kind: PassageKind::Stance,
            quality: Quality::default(),
            readings: 3000,
            lost_readings: 0,
            body_weight: Some(Estimate { value: 500.0, se: 5.0 }),
            standing: Some(Standing {
                seconds: 12.0,
                share_pct: PerLeg([30.0, 20.0, 20.0, 30.0]),
                share_sd_pct: PerLeg([1.0, 3.0, 2.0, 6.0]),
                share_se_pct: PerLeg([0.5, 0.75, 1.0, 1.5]),
                front_shifts: 1,
                rear_shifts: 2,
                lifts: PerLeg([3, 4, 5, 6]),
            }),
            walking: PerLeg([
                contacts(60.0, 1.0),
                contacts(40.0, 0.6),
                contacts(45.0, 0.8),
                contacts(55.0, 1.2),
            ]),
        }
    }

    fn changed(change: impl Fn(&mut PassageSummary)) -> Option<Measured> {
        let mut all = summary();
        change(&mut all);
        measure(&all)
    }

    fn stood(change: impl Fn(&mut Standing)) -> Measured {
        changed(|all| change(all.standing.as_mut().expect("stood"))).expect("measured")
    }

    #[track_caller]
    fn near(found: f64, wanted: f64) {
        assert!((found - wanted).abs() < 1e-5 * wanted.abs().max(1.0), "{found} {wanted}");
    }

    // 30 and 20, 20 and 30 % of her weight; peaks of 60 and 40, 45 and 55 %; 1 and .6 s, .8 and 1.2 s.
    #[test]
    fn a_passage_as_measures() {
        let all = measure(&summary()).expect("measured");
        let of = |measure: Measure| all.value[measure as usize];
        for (measure, wanted) in [
            (Measure::FrontSplit, -20.0),
            (Measure::RearSplit, 20.0),
            (Measure::FrontShare, 50.0),
            (Measure::FrontPeak, -20.0),
            (Measure::RearPeak, 10.0),
            (Measure::PeakFront, 50.0),
            (Measure::FrontTime, -25.0),
            (Measure::RearTime, 20.0),
            (Measure::FrontSway, 2f64.ln()),
            (Measure::RearSway, 4f64.ln()),
            (Measure::Slow, 0.9f64.ln()),
        ] {
            near(of(measure), wanted);
        }
        near(all.stated[Measure::FrontSplit as usize], 2.5 * 2.5);
        near(all.stated[Measure::RearSplit as usize], 5.0 * 5.0);
        near(all.stated[Measure::FrontShare as usize], 1.875 * 1.875);
        near(all.weight, 500f64.ln());
        near(all.weight_se, 0.01);
        near(all.counts.minutes, 0.2);
        assert_eq!((all.counts.shifts, all.counts.lifts), ([1.0, 2.0], [3.0, 4.0, 5.0, 6.0]));
        assert_eq!((all.share, all.sway), ([30.0, 20.0, 20.0, 30.0], [1.0, 3.0, 2.0, 6.0]));
        assert_eq!(all.class as usize, Class::Long as usize);
        near(all.peak[3], 55.0);
    }

    // Shares are brought to a hundred from 80 on and up to 120; a leg never carries nothing.
    #[test]
    fn shares_that_do_not_add_up_are_none() {
        for (of, kept) in [(19.9, false), (20.1, true), (29.9, true), (30.1, false)] {
            let found = stood(|standing| standing.share_pct = PerLeg([of; 4]));
            assert_eq!(!found.share[0].is_nan(), kept, "{of}");
            assert_eq!(!found.value[Measure::FrontShare as usize].is_nan(), kept, "{of}");
            if kept {
                near(found.share[2], 25.0);
            }
        }
        let none = stood(|standing| standing.share_pct = PerLeg([50.0, -1.0, 25.0, 25.0]));
        near(none.share[1], 0.01 * 100.0 / 100.01);
        let unknown = stood(|standing| standing.share_pct.0[1] = f32::NAN);
        assert!(unknown.value[Measure::RearSplit as usize].is_nan());
    }

    #[test]
    fn what_is_not_stated_or_not_there_is_left_out() {
        let plain = stood(|standing| standing.share_se_pct = PerLeg([0.0; 4]));
        assert_eq!(plain.stated[Measure::FrontSplit as usize], 0.0);
        let still = stood(|standing| standing.share_sd_pct.0[3] = 0.0);
        assert!(still.value[Measure::RearSway as usize].is_nan() && still.sway[0].is_nan());
        let one_foot = changed(|all| all.walking.0[3].count = 0).expect("measured");
        for measure in [Measure::RearPeak, Measure::RearTime, Measure::PeakFront, Measure::Slow] {
            assert!(one_foot.value[measure as usize].is_nan());
        }
        assert!(!one_foot.value[Measure::FrontPeak as usize].is_nan() && one_foot.peak[0].is_nan());
        assert!(changed(|all| all.body_weight = None).expect("measured").weight.is_nan());
        let unsure = changed(|all| all.body_weight = Some(Estimate { value: 500.0, se: 0.0 }));
        assert_eq!(unsure.expect("measured").weight_se, 0.0);
    }

    // Eight seconds make it long; without seconds the passage's own count, without any event nothing is counted.
    #[test]
    fn how_long_she_stood_decides_the_class_and_the_counts() {
        let class = |seconds: f32| stood(|standing| standing.seconds = seconds).class as usize;
        assert_eq!(class(7.9), Class::Short as usize);
        assert_eq!(class(8.0), Class::Long as usize);
        assert_eq!(class(0.0), Class::Long as usize);
        near(stood(|standing| standing.seconds = 0.0).counts.minutes, 0.5);
        let nothing = |standing: &mut Standing| {
            (standing.seconds, standing.front_shifts, standing.rear_shifts) = (0.0, 0, 0);
            standing.lifts = PerLeg([0; 4]);
        };
        assert_eq!(stood(nothing).counts, MovementCounts::default());
        for event in [0, 1, 2] {
            let counted = stood(|standing| {
                nothing(standing);
                match event {
                    0 => standing.front_shifts = 1,
                    1 => standing.rear_shifts = 1,
                    _ => standing.lifts.0[2] = 1,
                }
            });
            near(counted.counts.minutes, 0.5);
        }
        let walked = changed(|all| all.kind = PassageKind::WalkThrough).expect("measured");
        assert_eq!(walked.class as usize, Class::Walk as usize);
        let no_stance = changed(|all| all.quality.add(Reason::NoStance)).expect("measured");
        assert_eq!(no_stance.class as usize, Class::Walk as usize);
    }

    #[test]
    fn what_cannot_be_trusted_or_says_nothing_is_no_measure() {
        assert_eq!(changed(|all| all.quality.add(Reason::Saturated)), None);
        let nothing = |all: &mut PassageSummary| {
            all.standing = None;
            all.walking = PerLeg([LegContacts::default(); 4]);
        };
        assert_eq!(changed(nothing), None);
        let only_counted = changed(|all| {
            nothing(all);
            all.standing = summary().standing.map(|s| Standing { share_pct: PerLeg([0.0; 4]), ..s });
        });
        near(only_counted.expect("counts").counts.minutes, 0.2);
    }
}
