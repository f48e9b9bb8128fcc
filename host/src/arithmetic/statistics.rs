//! Figures that every part of the host shares: intervals, Wilson's interval of a share, the median.

use serde::Serialize;

/// 97.5 % point of the standard normal distribution.
pub const Z95: f64 = 1.959_963_984_540_054;

/// A 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

impl Interval {
    /// An interval of a share: cut to 0..1.
    #[must_use]
    pub const fn clipped(lower: f64, upper: f64) -> Self {
        Self { lower: lower.max(0.0), upper: upper.min(1.0) }
    }
}

/// A value with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Estimated {
    /// The value.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Wilson score interval of a share, 95 % (Wilson 1927).
#[must_use]
pub fn wilson(count: u64, of: u64) -> Interval {
    let n = of as f64;
    let share = count as f64 / n;
    let middle = (share + Z95 * Z95 / (2.0 * n)) / (1.0 + Z95 * Z95 / n);
    let reach = Z95 / (1.0 + Z95 * Z95 / n) * (share * (1.0 - share) / n + Z95 * Z95 / (4.0 * n * n)).sqrt();
    // Rounding must not move the ends that are exact.
    let lower = if count == 0 { 0.0 } else { middle - reach };
    let upper = if count == of { 1.0 } else { middle + reach };
    Interval::clipped(lower, upper)
}

/// Median absolute deviation about `middle`, in SD of normal values; NaN of nothing.
#[must_use]
pub fn spread_about(middle: f64, values: &[f64]) -> f64 {
    1.4826 * median(&mut values.iter().map(|value| (value - middle).abs()).collect::<Vec<_>>())
}

/// Mean; NaN of nothing.
#[must_use]
pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Median; NaN of nothing. Values must not be NaN.
#[must_use]
pub fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    let count = values.len();
    let middle = count / 2;
    let (below, &mut upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    if count % 2 == 1 {
        return upper;
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    0.5 * (lower + upper)
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{ContinuousCDF, Normal};

    #[test]
    fn the_normal_point_is_that_of_the_distribution() {
        assert!((Normal::standard().inverse_cdf(0.975) - Z95).abs() < 1e-9);
    }

    #[test]
    fn wilson_intervals_of_published_counts() {
        // Counts of Thomas 2015 (J Dairy Sci) and Griffiths 2018 (4145 of 14,700); intervals computed apart.
        for (count, of, lower, upper, tolerance) in
            [(11, 45, 0.142, 0.387, 5e-4), (23, 41, 0.410, 0.701, 5e-4), (4145, 14_700, 0.2748, 0.2893, 5e-5)]
        {
            let found = wilson(count, of);
            assert!((found.lower - lower).abs() < tolerance, "{count}/{of}: {found:?}");
            assert!((found.upper - upper).abs() < tolerance, "{count}/{of}: {found:?}");
        }
        assert_eq!(wilson(0, 5).lower, 0.0);
        assert_eq!(wilson(5, 5).upper, 1.0);
    }

    #[test]
    fn medians() {
        assert_eq!(median(&mut [3.0]), 3.0);
        assert_eq!(median(&mut [4.0, 1.0]), 2.5);
        assert_eq!(median(&mut [5.0, 1.0, 3.0]), 3.0);
        assert_eq!(median(&mut [5.0, 1.0, 3.0, 4.0]), 3.5);
        assert!(median(&mut []).is_nan());
    }
}
