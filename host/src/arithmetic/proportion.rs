//! Two shares against each other: Fisher's exact test, odds ratios.

use crate::arithmetic::statistics::{Estimated, Z95};
use libm::lgamma;

/// Odds ratio of `a` hits of `n` against `b` hits of `m`, with Wald's 95 % interval. `None` where a cell is empty.
#[must_use]
pub fn odds_ratio(a: u64, n: u64, b: u64, m: u64) -> Option<Estimated> {
    let cells = [a, n.checked_sub(a)?, b, m.checked_sub(b)?];
    if cells.contains(&0) {
        return None;
    }
    let [a, not_a, b, not_b] = cells.map(|cell| cell as f64);
    let log = (a * not_b / (not_a * b)).ln();
    let se = (1.0 / a + 1.0 / not_a + 1.0 / b + 1.0 / not_b).sqrt();
    Some(Estimated { value: log.exp(), low: (log - Z95 * se).exp(), high: (log + Z95 * se).exp() })
}

/// Fisher's exact test, two-sided: the tables no likelier than this one.
#[must_use]
pub fn fisher(a: u64, n: u64, b: u64, m: u64) -> f64 {
    /// Tables this much likelier still count as equally likely (rounding).
    const ROUNDING: f64 = 1.0 + 1e-7;
    let hits = a + b;
    let log_choose =
        |n: u64, k: u64| lgamma(n as f64 + 1.0) - lgamma(k as f64 + 1.0) - lgamma((n - k) as f64 + 1.0);
    let chance = |k: u64| (log_choose(n, k) + log_choose(m, hits - k) - log_choose(n + m, hits)).exp();
    let seen = chance(a);
    (hits.saturating_sub(m)..=hits.min(n)).map(chance).filter(|p| *p <= seen * ROUNDING).sum::<f64>().min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, tolerance: f64) {
        assert!((a - b).abs() < tolerance, "{a} is not {b}");
    }

    #[test]
    fn odds_ratio_as_printed() {
        // Sadiq 2022: 15/20 v 6/15, OR 4.5 (1.1-19.1).
        let ratio = odds_ratio(15, 20, 6, 15).unwrap();
        near(ratio.value, 4.5, 1e-9);
        near(ratio.low, 1.1, 0.05);
        near(ratio.high, 19.1, 0.05);
        assert_eq!(odds_ratio(3, 3, 1, 2), None);
    }

    #[test]
    fn fisher_of_trial_counts() {
        // Counts of Thomas 2015: 23/41 v 11/45.
        near(fisher(23, 41, 11, 45), 0.00396, 5e-6);
        near(odds_ratio(23, 41, 11, 45).unwrap().value, 3.949, 5e-4);
    }
}
