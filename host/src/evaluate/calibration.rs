//! Whether the probabilities mean what they say.

use crate::evaluate::proportion::Share;
use serde::Serialize;

/// Bands of the calibration curve: our choice, the usual number.
const BANDS: usize = 10;
/// Probabilities are kept this far from 0 and 1 before the logit: our choice.
const LOGIT_LIMIT: f64 = 1e-6;
/// Newton steps for the line; five or six are used.
const MOST_STEPS: usize = 50;
/// Change of a coefficient at which the line is found.
const SETTLED: f64 = 1e-10;
/// A determinant of the information matrix from here down means there is no one answer: our choice.
const SINGULAR: f64 = 1e-12;
/// A slope beyond this means that lame and sound are fully apart, and there is no line: our choice.
const STEEPEST: f64 = 100.0;

/// One probability and what was true.
#[derive(Clone, Copy, Debug)]
pub struct Said {
    /// The probability.
    pub probability: f64,
    /// Whether she was lame.
    pub lame: bool,
}

/// One band of the calibration curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Band {
    /// Mean probability said.
    pub said: f64,
    /// Share that was lame.
    pub lame: Share,
}

/// Logit of being lame = intercept + slope x logit of the probability; 0 and 1 are perfect.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FittedLine {
    /// Intercept.
    pub intercept: f64,
    /// Slope: below 1 the probabilities are too sure, above 1 too timid.
    pub slope: f64,
}

/// What one row adds to the Brier score (Brier 1950).
#[must_use]
pub fn squared_error(probability: f64, lame: bool) -> f64 {
    (probability - f64::from(u8::from(lame))).powi(2)
}

/// Bands of equal width with at least one row.
#[must_use]
pub fn curve(rows: impl Iterator<Item = Said>) -> Vec<Band> {
    let mut sums = [(0.0, 0u64, 0u64); BANDS];
    for row in rows {
        // A value on a border belongs to the band below, as in scikit-learn.
        let band = (row.probability * BANDS as f64).ceil() as usize;
        let sum = &mut sums[band.saturating_sub(1).min(BANDS - 1)];
        sum.0 += row.probability;
        sum.1 += u64::from(row.lame);
        sum.2 += 1;
    }
    sums.into_iter()
        .filter_map(|(said, lame, of)| Share::new(lame, of).map(|lame| Band { said: said / of as f64, lame }))
        .collect()
}

/// Logit of a probability, kept off the ends.
#[must_use]
pub fn logit(probability: f64) -> f64 {
    let p = probability.clamp(LOGIT_LIMIT, 1.0 - LOGIT_LIMIT);
    (p / (1.0 - p)).ln()
}

/// Fits the calibration line by Newton's method from `start`. The rows are (logit, lame, weight).
///
/// `None` where there is no line: one class only, one probability only, or lame and sound fully apart.
#[must_use]
pub fn line(rows: &[(f64, bool, f64)], start: FittedLine) -> Option<FittedLine> {
    let mut at = start;
    for _ in 0..MOST_STEPS {
        let (mut g0, mut g1, mut h00, mut h01, mut h11) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for &(x, lame, weight) in rows {
            let mean = 1.0 / (1.0 + (-(at.intercept + at.slope * x)).exp());
            let error = weight * (f64::from(u8::from(lame)) - mean);
            let information = weight * mean * (1.0 - mean);
            g0 += error;
            g1 += error * x;
            h00 += information;
            h01 += information * x;
            h11 += information * x * x;
        }
        let determinant = h00 * h11 - h01 * h01;
        if determinant.is_nan() || determinant <= SINGULAR {
            return None;
        }
        let (step0, step1) = ((h11 * g0 - h01 * g1) / determinant, (h00 * g1 - h01 * g0) / determinant);
        at = FittedLine { intercept: at.intercept + step0, slope: at.slope + step1 };
        if !at.slope.is_finite() || at.slope.abs() > STEEPEST {
            return None;
        }
        if step0.abs() < SETTLED && step1.abs() < SETTLED {
            return Some(at);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::oracle::{assert_near, numbers, recorded_evaluate};

    fn said() -> Vec<Said> {
        let rows = recorded_evaluate().rows();
        rows.into_iter().map(|(probability, lame, _)| Said { probability, lame }).collect()
    }

    #[test]
    fn squared_errors_and_curve_are_those_of_scikit_learn() {
        let recorded = recorded_evaluate().json;
        let errors: f64 = said().iter().map(|row| squared_error(row.probability, row.lame)).sum();
        assert_near(errors / said().len() as f64, &recorded["brier"], 1e-12);
        let bands = curve(said().into_iter());
        let (observed, mean) = (numbers(&recorded["curve_observed"]), numbers(&recorded["curve_mean"]));
        assert_eq!(bands.len(), observed.len());
        for (band, (observed, mean)) in bands.iter().zip(observed.iter().zip(&mean)) {
            assert!((band.lame.share - observed).abs() < 1e-12);
            assert!((band.said - mean).abs() < 1e-12);
        }
    }

    #[test]
    fn line_is_that_of_statsmodels() {
        let recorded = recorded_evaluate().json;
        let rows: Vec<_> = said().iter().map(|row| (logit(row.probability), row.lame, 1.0)).collect();
        let found = line(&rows, FittedLine { intercept: 0.0, slope: 1.0 }).unwrap();
        assert_near(found.slope, &recorded["slope"], 1e-8);
        assert_near(found.intercept, &recorded["intercept"], 1e-8);
    }

    #[test]
    fn no_line_where_lame_and_sound_are_fully_apart() {
        let rows = [(-2.0, false, 1.0), (-1.0, false, 1.0), (1.0, true, 1.0), (2.0, true, 1.0)];
        assert_eq!(line(&rows, FittedLine { intercept: 0.0, slope: 1.0 }), None);
    }

    #[test]
    fn no_line_through_one_probability() {
        assert_eq!(
            line(&[(0.5, false, 1.0), (0.5, true, 1.0)], FittedLine { intercept: 0.0, slope: 1.0 }),
            None
        );
    }
}
