//! Paired before and after over many cows: paired t, Wilcoxon's signed ranks, minimal detectable change.

use crate::arithmetic::statistics::{Estimated, Z95};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Paired comparison.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paired {
    /// Pairs.
    pub n: usize,
    /// Mean difference.
    pub mean: f64,
    /// SD of the differences.
    pub sd: f64,
    /// Student's t.
    pub t: f64,
    /// Two-sided p of t.
    pub p: f64,
    /// 95 % interval of the mean difference.
    pub interval: Estimated,
    /// Minimal detectable change of one animal, 95 %: 1.96 SD of the differences.
    pub detectable: f64,
}

/// Paired t of differences. `None` of fewer than two, or without any spread.
#[must_use]
pub fn paired(differences: &[f64]) -> Option<Paired> {
    let n = differences.len();
    if n < 2 {
        return None;
    }
    let mean = differences.iter().sum::<f64>() / n as f64;
    let sd = (differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
    let se = sd / (n as f64).sqrt();
    let t = StudentsT::new(0.0, 1.0, (n - 1) as f64).ok()?;
    if se <= 0.0 {
        return None;
    }
    let half = t.inverse_cdf(0.975) * se;
    Some(Paired {
        n,
        mean,
        sd,
        t: mean / se,
        p: 2.0 * t.cdf(-(mean / se).abs()),
        interval: Estimated { value: mean, low: mean - half, high: mean + half },
        detectable: Z95 * sd,
    })
}

/// Most differences whose signs are counted exactly; beyond, the normal limit (our choice).
const EXACT_MOST: usize = 100;

/// Two-sided p of Wilcoxon's signed ranks, exact up to [`EXACT_MOST`] differences; zeros are left out, ties get mean ranks.
#[must_use]
pub fn wilcoxon(differences: &[f64]) -> f64 {
    let mut sorted: Vec<f64> = differences.iter().copied().filter(|d| *d != 0.0).collect();
    sorted.sort_by(|a, b| a.abs().total_cmp(&b.abs()));
    // Twice the rank, so that mean ranks of ties are whole.
    let ranks: Vec<usize> = sorted
        .iter()
        .map(|d| {
            let first = sorted.partition_point(|o| o.abs() < d.abs());
            let last = sorted.partition_point(|o| o.abs() <= d.abs());
            first + 1 + last
        })
        .collect();
    let positive: usize = sorted.iter().zip(&ranks).filter(|(d, _)| **d > 0.0).map(|(_, r)| r).sum();
    if ranks.len() > EXACT_MOST { limit(&ranks, positive) } else { exact(&ranks, positive) }
}

/// Two-sided p by the chance of each sum of positive ranks, were every sign a coin.
fn exact(ranks: &[usize], positive: usize) -> f64 {
    let total: usize = ranks.iter().sum();
    let mut chance = vec![0.0_f64; total + 1];
    chance[0] = 1.0;
    for rank in ranks {
        for sum in (0..=total).rev() {
            let with = if sum >= *rank { chance[sum - rank] } else { 0.0 };
            chance[sum] = 0.5 * (chance[sum] + with);
        }
    }
    let tail: f64 = chance[..=positive.min(total - positive)].iter().sum();
    (2.0 * tail).min(1.0)
}

/// Two-sided p by the normal limit: each rank counts or not, so a quarter of its square is its variance.
fn limit(ranks: &[usize], positive: usize) -> f64 {
    let total: usize = ranks.iter().sum();
    let variance: f64 = ranks.iter().map(|r| (*r as f64).powi(2)).sum::<f64>() / 4.0;
    let away = (positive as f64 - total as f64 / 2.0).abs();
    libm::erfc(away / (2.0 * variance).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_horses_lame_and_sound() {
        // Gait symmetry of eight horses, R package isdals.
        let lame = [4.3541, 4.7865, 6.1945, 10.7383, 3.3007, 4.8678, 7.8965, 3.9338];
        let sound = [-0.9914, 1.4710, 1.2459, 0.4024, 0.0325, -0.6396, 0.7246, 0.0604];
        let differences: Vec<f64> = lame.iter().zip(sound).map(|(l, s)| l - s).collect();
        let paired = paired(&differences).unwrap();
        assert!((paired.mean - 5.4708).abs() < 5e-5, "{}", paired.mean);
        assert!((paired.sd - 2.3574).abs() < 5e-5, "{}", paired.sd);
        assert!((paired.t - 6.5639).abs() < 5e-4, "{}", paired.t);
        assert!((wilcoxon(&differences) - 0.007_812_5).abs() < 1e-12);
    }

    #[test]
    fn many_differences_go_over_to_the_normal_limit() {
        let ranks: Vec<usize> = (1..=EXACT_MOST).map(|rank| 2 * rank).collect();
        for positive in [5_050, 6_000, 6_600] {
            let (exact, limit) = (exact(&ranks, positive), limit(&ranks, positive));
            assert!((exact - limit).abs() < 0.003, "{positive}: {exact} {limit}");
        }
    }

    #[test]
    fn wilcoxon_without_a_difference_is_one() {
        assert!((wilcoxon(&[1.0, -1.0, 2.0, -2.0]) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn detectable_change_follows_from_the_error_of_measurement() {
        // MDC95 = 1.96 SD of the difference, SEM = SD of the difference / sqrt 2 (PMC6558857); figures of 22 people
        // measured three times: SEM 9.968, MDC95 27.63.
        let sd = 9.968 * std::f64::consts::SQRT_2;
        // Two differences whose SD is that.
        let pair = paired(&[sd / std::f64::consts::SQRT_2, -sd / std::f64::consts::SQRT_2]).unwrap();
        assert!((pair.detectable - 27.63).abs() < 0.005, "{}", pair.detectable);
    }
}
