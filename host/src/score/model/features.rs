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
    let mut measured = Measured {
        value: [f64::NAN; MEASURES],
        stated: [0.0; MEASURES],
        class: Class::Walk,
        counts: MovementCounts::default(),
        weight: f64::NAN,
        weight_se: 0.0,
        share: [f64::NAN; 4],
        sway: [f64::NAN; 4],
        peak: [f64::NAN; 4],
    };
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
