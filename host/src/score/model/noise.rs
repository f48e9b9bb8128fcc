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
const WINSOR: f64 = 3.0;
/// E[min(z^2, 9)] of a standard normal z.
const WINSOR_MEAN: f64 = 0.9950;
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
/// First guess of the drift of a baseline, as the SD of a day's step in SD of a passage. Our choice.
const FIRST_DRIFT: f64 = 0.02;
/// Least and most of the same.
const DRIFT_RANGE: (f64, f64) = (0.01, 0.05);
/// Days between the two days that tell the drift.
pub const DRIFT_LAG: i64 = 14;

/// What is known of the noise.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct Noise {
    variance: [PerMeasure; CLASSES],
    seen: [PerMeasure; CLASSES],
    common: PerMeasure,
    common_seen: PerMeasure,
    drift: PerMeasure,
    drift_seen: PerMeasure,
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
            drift: variance[0].map(|v| v * FIRST_DRIFT * FIRST_DRIFT),
            drift_seen: [FIRST_WEIGHT * 5.0; MEASURES],
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
        self.drift[measure]
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

    /// Learns the drift from the difference of two days, `DRIFT_LAG` apart, and the sum of their error variances.
    pub fn learn_drift(&mut self, difference: &PerMeasure, variance: &PerMeasure) {
        for k in 0..MEASURES {
            if difference[k].is_nan() {
                continue;
            }
            let lag = DRIFT_LAG as f64;
            let total = variance[k] + lag * self.drift[k];
            let square = difference[k].powi(2).min(WINSOR * WINSOR * total) / WINSOR_MEAN;
            toward(&mut self.drift[k], &mut self.drift_seen[k], (square - variance[k]) / lag);
            let passage = self.variance[0][k];
            let (least, most) = DRIFT_RANGE;
            self.drift[k] = self.drift[k].clamp(least * least * passage, most * most * passage);
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
}
