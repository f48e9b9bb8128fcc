//! Paired before and after over many cows: paired t, Wilcoxon's signed ranks, repeatability, and differences by cow.

use crate::statistics::{Estimated, Z95};
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

/// Exact two-sided p of Wilcoxon's signed ranks; zeros are left out, ties get mean ranks.
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
    let total: usize = ranks.iter().sum();
    let positive: usize = sorted.iter().zip(&ranks).filter(|(d, _)| **d > 0.0).map(|(_, r)| r).sum();
    let mut ways = vec![0.0_f64; total + 1];
    ways[0] = 1.0;
    for rank in &ranks {
        for sum in (*rank..=total).rev() {
            ways[sum] += ways[sum - rank];
        }
    }
    let all: f64 = ways.iter().sum();
    let tail: f64 = ways[..=positive.min(total - positive)].iter().sum();
    (2.0 * tail / all).min(1.0)
}

/// One-way repeatability: ICC(1,1), standard error of measurement and minimal detectable change of a single value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeatability {
    /// ICC(1,1).
    pub icc: f64,
    /// Standard error of measurement: root of the mean square within animals.
    pub sem: f64,
    /// 1.96 x sqrt(2) x SEM.
    pub detectable: f64,
}

/// Repeatability of animals measured equally often. `None` where there is nothing to compare.
#[must_use]
pub fn repeatability(animals: &[Vec<f64>]) -> Option<Repeatability> {
    let k = animals.first()?.len();
    if k < 2 || animals.len() < 2 || animals.iter().any(|a| a.len() != k) {
        return None;
    }
    let (n, k) = (animals.len() as f64, k as f64);
    let means: Vec<f64> = animals.iter().map(|a| a.iter().sum::<f64>() / k).collect();
    let grand = means.iter().sum::<f64>() / n;
    let between = k * means.iter().map(|m| (m - grand).powi(2)).sum::<f64>() / (n - 1.0);
    let squares: f64 =
        animals.iter().zip(&means).flat_map(|(a, m)| a.iter().map(move |v| (v - m).powi(2))).sum();
    let within = squares / (n * (k - 1.0));
    let sem = within.sqrt();
    Some(Repeatability {
        icc: (between - within) / (between + (k - 1.0) * within),
        sem,
        detectable: Z95 * std::f64::consts::SQRT_2 * sem,
    })
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
    fn wilcoxon_without_a_difference_is_one() {
        assert!((wilcoxon(&[1.0, -1.0, 2.0, -2.0]) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn detectable_change_follows_from_the_error_of_measurement() {
        // MDC95 = 1.96 SD of the difference, SEM = SD of the difference / sqrt 2 (PMC6558857); figures of 22 people
        // measured three times: SEM 9.968, MDC95 27.63.
        assert!((Z95 * std::f64::consts::SQRT_2 * 9.968 - 27.63).abs() < 0.005);
        let repeat = repeatability(&[vec![1.0, 3.0], vec![5.0, 7.0], vec![9.0, 11.0]]).unwrap();
        assert!((repeat.sem - 2.0_f64.sqrt()).abs() < 1e-12);
        assert!((repeat.icc - (32.0 - 2.0) / (32.0 + 2.0)).abs() < 1e-12);
    }
}
