//! Shares of counts with Wilson intervals, and predictive values at a prevalence.

use crate::arithmetic::statistics::{Interval, wilson};
use serde::Serialize;

/// A share of a count with its Wilson 95 % interval, rows taken as independent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Share {
    /// How many.
    pub count: u64,
    /// Of how many.
    pub of: u64,
    /// The share, 0..1.
    pub share: f64,
    /// Wilson 95 % interval.
    pub wilson: Interval,
}

impl Share {
    /// `None` for a share of nothing.
    #[must_use]
    pub fn new(count: u64, of: u64) -> Option<Self> {
        (of > 0).then(|| Self { count, of, share: count as f64 / of as f64, wilson: wilson(count, of) })
    }
}

/// Positive predictive value at a prevalence. `None` where nothing would be flagged.
#[must_use]
pub fn ppv_at(prevalence: f64, sensitivity: f64, specificity: f64) -> Option<f64> {
    let right = sensitivity * prevalence;
    let all = right + (1.0 - specificity) * (1.0 - prevalence);
    (all > 0.0).then(|| right / all)
}

/// Negative predictive value at a prevalence. `None` where everything would be flagged.
#[must_use]
pub fn npv_at(prevalence: f64, sensitivity: f64, specificity: f64) -> Option<f64> {
    let right = specificity * (1.0 - prevalence);
    let all = right + (1.0 - sensitivity) * prevalence;
    (all > 0.0).then(|| right / all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::oracle::{numbers, recorded_roc};

    fn assert_interval(count: u64, of: u64, lower: f64, upper: f64, tolerance: f64) {
        let found = wilson(count, of);
        assert!((found.lower - lower).abs() < tolerance, "{count}/{of}: {found:?}");
        assert!((found.upper - upper).abs() < tolerance, "{count}/{of}: {found:?}");
    }

    #[test]
    fn diagnostic_intervals_are_those_of_epir() {
        for case in recorded_roc()["diagnostic"].as_array().unwrap() {
            let counts: Vec<u64> = numbers(&case["table"]).iter().map(|&v| v as u64).collect();
            let [tp, fp, fneg, tn] = counts[..] else { panic!("four counts") };
            for (name, count, of) in [
                ("sensitivity", tp, tp + fneg),
                ("specificity", tn, tn + fp),
                ("ppv", tp, tp + fp),
                ("npv", tn, tn + fneg),
            ] {
                let wanted = numbers(&case[name]);
                assert!((Share::new(count, of).unwrap().share - wanted[0]).abs() < 1e-12);
                assert_interval(count, of, wanted[1], wanted[2], 1e-9);
            }
        }
    }

    #[test]
    fn printed_two_by_two_tables() {
        // mdpi.com/2624-862X/4/4/38, printed to two decimals (one of them, .46, is given as .4646).
        for ([tp, fneg, fp, tn], wanted) in [
            ([246, 18, 432, 3825], [0.93, 0.90, 0.36, 1.00]),
            ([210, 48, 242, 4051], [0.81, 0.94, 0.4646, 0.99]),
            ([181, 76, 125, 4197], [0.70, 0.97, 0.59, 0.98]),
            ([156, 97, 58, 4289], [0.62, 0.99, 0.73, 0.98]),
        ] {
            let found = [(tp, tp + fneg), (tn, tn + fp), (tp, tp + fp), (tn, tn + fneg)]
                .map(|(count, of)| Share::new(count, of).unwrap().share);
            for (found, wanted) in found.into_iter().zip(wanted) {
                assert!((found - wanted).abs() < 0.0055, "{found} {wanted}");
            }
        }
    }

    #[test]
    fn predictive_values_at_published_prevalences() {
        // Sensitivity and specificity of Dunthorn 2015 and Beer 2016; derived in check-values part 1, 9 #8.
        for (prevalence, sensitivity, specificity, ppv) in [
            (0.282, 0.52, 0.85, 0.577),
            (0.228, 0.52, 0.85, 0.506),
            (0.228, 0.902, 0.917, 0.762),
            (0.05, 0.902, 0.917, 0.364),
        ] {
            assert!((ppv_at(prevalence, sensitivity, specificity).unwrap() - ppv).abs() < 5e-4);
        }
        assert_eq!(ppv_at(0.2, 0.0, 1.0), None);
        assert!((npv_at(0.5, 0.9, 0.9).unwrap() - 0.9).abs() < 1e-12);
    }

    #[test]
    fn a_share_of_nothing_is_no_share() {
        assert_eq!(Share::new(0, 0), None);
    }
}
