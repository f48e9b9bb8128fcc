//! How well the measures repeat, learned from the herd as it comes in.

use crate::score::model::features::{CLASSES, Class, MEASURES, Measure, PerMeasure};

use crate::score::settings::EVIDENCE_WEIGHT;

/// What a passage differs from what was expected of her by, with the part of the variance that is not the lane's.
#[derive(Clone, Copy, Debug)]
pub struct Lesson {
    /// How it was measured.
    pub class: Class,
    /// Hour bin of the day.
    pub hour: usize,
    /// Difference from what was expected; NaN where not measured or not to be learned from.
    pub residual: PerMeasure,
    /// Variance of the expectation and of the stated error.
    pub known: PerMeasure,
    /// Difference of the logarithm of weight from hers; NaN where unknown.
    pub weight: f64,
}

/// First guess of the SD of a passage by class. Our choice for an exit lane: no published figure is for seconds.
const FIRST_SD: [PerMeasure; CLASSES] = [
    [3.5, 3.5, 1.5, 4.0, 4.0, 1.5, 5.0, 5.0, 0.30, 0.30, 0.12],
    [6.0, 6.0, 2.5, 4.0, 4.0, 1.5, 5.0, 5.0, 0.45, 0.45, 0.12],
    [8.0, 8.0, 3.0, 4.0, 4.0, 1.5, 5.0, 5.0, 0.50, 0.50, 0.12],
];
/// How many passages the first guess is worth.
const FIRST_WEIGHT: f64 = 60.0;
/// Passages over which the noise is remembered.
const MEMORY: f64 = 20_000.0;
/// Residuals beyond this many SD count as this many.
pub const WINSOR: f64 = 3.0;
/// E[min(z^2, 9)] of a standard normal z.
pub const WINSOR_MEAN: f64 = 0.9950;
/// Part of the variance common to the passages of one day: 0.21 is the day-to-day correlation of live weight (Alawneh
/// 2011), taken as the first guess.
const FIRST_COMMON: f64 = 0.21;
/// How far consecutive days hang together: 0.21 is the lag-1 correlation of live weight (Alawneh 2011), the first guess.
const FIRST_HANG: f64 = crate::score::settings::DAY_AUTOCORRELATION;
/// The most that is believed of it. Our choice: beyond, the days would hardly count.
const MOST_HANG: f64 = 0.5;
/// How many pairs of days the first guess is worth. Our choice.
const HANG_WORTH: f64 = 300.0;
/// The measures by which it is learned: the splits, which decide.
const HANG_MEASURES: [Measure; 4] =
    [Measure::FrontSplit, Measure::RearSplit, Measure::FrontPeak, Measure::RearPeak];
/// Drift of a baseline, as the SD of a day's step in SD of a passage. Our choice.
const DRIFT: f64 = 0.02;
/// Part of a swing of her usual value that stays over night. Our choice: half is forgotten in two weeks.
pub const SWING_STAYS: f64 = 0.95;
/// First guess of the SD of that swing, in SD of a passage. Our choice.
const FIRST_SWING: f64 = 0.4;
/// How many pairs of days that guess is worth. Our choice.
const SWING_WORTH: f64 = 300.0;
/// Least and most of the same. Our choice.
const SWING_RANGE: (f64, f64) = (0.1, 1.2);
/// Days between the two days that tell the swing, and between two that hardly do: what differs more over the longer time
/// is no error of measuring.
pub const SWING_LAGS: (i64, i64) = (14, 2);

/// Differences of a day from two earlier ones, [`SWING_LAGS`] before it, and the error variance of such a difference.
#[derive(Clone, Copy, Debug)]
pub struct SwingLesson {
    /// From the day long before.
    pub long: PerMeasure,
    /// From the day shortly before.
    pub short: PerMeasure,
    /// Error variance of the longer one.
    pub variance: PerMeasure,
}

/// What is known of the noise.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct Noise {
    variance: [PerMeasure; CLASSES],
    seen: [PerMeasure; CLASSES],
    common: PerMeasure,
    common_seen: PerMeasure,
    swing: PerMeasure,
    swing_seen: PerMeasure,
    hang: f64,
    hang_seen: f64,
    weight: f64,
    weight_seen: f64,
}

fn toward(value: &mut f64, seen: &mut f64, target: f64) {
    *seen = (*seen + 1.0).min(MEMORY);
    *value += (target - *value) / *seen;
}

impl Noise {
    /// The first guess.
    #[must_use]
    pub fn new() -> Self {
        let variance = FIRST_SD.map(|row| row.map(|sd| sd * sd));
        Self {
            variance,
            seen: [[FIRST_WEIGHT; MEASURES]; CLASSES],
            common: [FIRST_COMMON; MEASURES],
            common_seen: [FIRST_WEIGHT; MEASURES],
            swing: variance[0].map(|v| v * FIRST_SWING * FIRST_SWING),
            swing_seen: [SWING_WORTH; MEASURES],
            hang: FIRST_HANG,
            hang_seen: HANG_WORTH,
            weight: crate::score::settings::WEIGHT_SD.powi(2),
            weight_seen: FIRST_WEIGHT,
        }
    }

    /// Variance of a measure of a passage, without the stated error.
    #[must_use]
    pub fn variance(&self, class: Class, measure: usize) -> f64 {
        self.variance[class as usize][measure]
    }

    /// Part of that variance which the passages of one day share.
    #[must_use]
    pub fn common(&self, measure: usize) -> f64 {
        self.common[measure]
    }

    /// Variance of a day's step of a baseline.
    #[must_use]
    pub fn drift(&self, measure: usize) -> f64 {
        self.variance[0][measure] * DRIFT * DRIFT
    }

    /// Variance of the swing of a usual value.
    #[must_use]
    pub fn swing(&self, measure: usize) -> f64 {
        self.swing[measure]
    }

    /// Variance of the push that a swing gets each night to stay as wide as it is.
    #[must_use]
    pub fn swing_push(&self, measure: usize) -> f64 {
        self.swing[measure] * (1.0 - SWING_STAYS * SWING_STAYS)
    }

    /// Variance of the logarithm of a passage's weight.
    #[must_use]
    pub fn weight(&self) -> f64 {
        self.weight
    }

    /// Learns from one passage.
    pub fn learn(&mut self, lesson: &Lesson) {
        let class = lesson.class as usize;
        for (k, first) in FIRST_SD[class].iter().enumerate() {
            let residual = lesson.residual[k];
            if !residual.is_nan() {
                let total = self.variance[class][k] + lesson.known[k];
                let square = (residual * residual).min(WINSOR * WINSOR * total) / WINSOR_MEAN;
                let floor = 0.02 * first * first;
                let target = square - lesson.known[k];
                toward(&mut self.variance[class][k], &mut self.seen[class][k], target);
                self.variance[class][k] = self.variance[class][k].max(floor);
            }
        }
        if !lesson.weight.is_nan() {
            let square = (lesson.weight * lesson.weight).min(WINSOR * WINSOR * self.weight) / WINSOR_MEAN;
            toward(&mut self.weight, &mut self.weight_seen, square);
            self.weight = self.weight.max(1e-5);
        }
    }

    /// Learns how alike the passages of a day are, from two of them in SD of a passage.
    pub fn learn_common(&mut self, one: &PerMeasure, other: &PerMeasure) {
        for k in 0..MEASURES {
            let product = one[k].clamp(-WINSOR, WINSOR) * other[k].clamp(-WINSOR, WINSOR);
            if !product.is_nan() {
                toward(&mut self.common[k], &mut self.common_seen[k], product);
                self.common[k] = self.common[k].clamp(0.0, 0.9);
            }
        }
    }

    /// Weight of a day's evidence: days that hang together by `r` are worth (1 - r) / (1 + r) of separate ones.
    #[must_use]
    pub fn evidence_weight(&self) -> f64 {
        let hang = self.hang.clamp(0.0, MOST_HANG);
        EVIDENCE_WEIGHT * (1.0 - hang) / (1.0 + hang)
    }

    /// Learns how far consecutive days hang together, from two of them in SD of a day.
    pub fn learn_hang(&mut self, one: &PerMeasure, other: &PerMeasure) {
        for k in HANG_MEASURES.map(|measure| measure as usize) {
            let product = one[k].clamp(-WINSOR, WINSOR) * other[k].clamp(-WINSOR, WINSOR);
            if !product.is_nan() {
                toward(&mut self.hang, &mut self.hang_seen, product);
            }
        }
    }

    /// Learns the swing: by how much more two days differ that are further apart.
    pub fn learn_swing(&mut self, lesson: &SwingLesson) {
        let (long, short) = SWING_LAGS;
        let part = 2.0 * (SWING_STAYS.powi(short as i32) - SWING_STAYS.powi(long as i32));
        for k in 0..MEASURES {
            let most = WINSOR * WINSOR * (lesson.variance[k] + 2.0 * self.swing[k]);
            let square = |difference: f64| (difference * difference).min(most) / WINSOR_MEAN;
            let more = square(lesson.long[k]) - square(lesson.short[k]);
            if lesson.long[k].is_nan() || lesson.short[k].is_nan() {
                continue;
            }
            let drifted = (long - short) as f64 * self.drift(k);
            toward(&mut self.swing[k], &mut self.swing_seen[k], (more - drifted) / part);
            let passage = self.variance[0][k];
            let (least, most) = SWING_RANGE;
            self.swing[k] = self.swing[k].clamp(least * least * passage, most * most * passage);
        }
    }
}

impl Default for Noise {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By parts: E[min(z^2, c^2)] = P(|z| < c) - 2 c phi(c) + c^2 P(|z| > c).
    #[test]
    fn the_mean_of_squares_that_are_cut_off_is_that_of_a_normal() {
        use statrs::distribution::{Continuous, ContinuousCDF, Normal};
        let normal = Normal::standard();
        let beyond = 2.0 * normal.cdf(-WINSOR);
        let mean = 1.0 - beyond - 2.0 * WINSOR * normal.pdf(WINSOR) + WINSOR * WINSOR * beyond;
        assert!((mean - WINSOR_MEAN).abs() < 5e-5, "{mean}");
    }

    fn of_rear_split(long: f64, short: f64) -> SwingLesson {
        let rear = |value: f64| {
            let mut all = [f64::NAN; MEASURES];
            all[Measure::RearSplit as usize] = value;
            all
        };
        SwingLesson { long: rear(long), short: rear(short), variance: [20.0; MEASURES] }
    }

    /// By hand: a passage's SD is 3.5, so the swing's variance is first 1.96 and a day's drift .0049; (9 - 4) / .995 less
    /// twelve days' drift .0588, over 2 (.95^2 - .95^14) = .829650, is 5.986024, of which one in 301 counts.
    #[test]
    fn days_further_apart_that_differ_more_are_a_swing() {
        let rear = Measure::RearSplit as usize;
        let mut noise = Noise::new();
        noise.learn_swing(&of_rear_split(3.0, -2.0));
        let part = 2.0 * (0.95_f64.powi(2) - 0.95_f64.powi(14));
        let target = (5.0 / 0.995 - 0.0588) / part;
        assert!((noise.swing(rear) - (1.96 + (target - 1.96) / 301.0)).abs() < 1e-12);
        assert!((noise.swing(Measure::FrontSplit as usize) - 1.96).abs() < 1e-12, "not seen, not learned");
        assert!((noise.swing_push(rear) - 0.0975 * noise.swing(rear)).abs() < 1e-12);
        noise.learn_swing(&of_rear_split(3.0, f64::NAN));
        assert!((noise.swing(rear) - (1.96 + (target - 1.96) / 301.0)).abs() < 1e-12);
    }

    #[test]
    fn a_swing_stays_between_a_tenth_and_six_fifths_of_the_noise() {
        let rear = Measure::RearSplit as usize;
        let (mut still, mut wild) = (Noise::new(), Noise::new());
        for _ in 0..20_000 {
            still.learn_swing(&of_rear_split(1.0, 3.0));
            wild.learn_swing(&of_rear_split(40.0, 1.0));
        }
        assert!((still.swing(rear) - 0.01 * 12.25).abs() < 1e-9, "{}", still.swing(rear));
        assert!((wild.swing(rear) - 1.44 * 12.25).abs() < 1e-9, "{}", wild.swing(rear));
    }
}
