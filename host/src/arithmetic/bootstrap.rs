//! Intervals by drawing whole cows again, since the days of one cow are no separate evidence.

use crate::arithmetic::statistics::Interval;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Share of draws that must give a figure before an interval is given: our choice.
const ENOUGH: f64 = 0.9;

/// Percentile 95 % intervals of `N` figures. Each draw takes `cows` cows with replacement and hands how often each
/// was taken to `figures`. Same seed, same intervals.
pub fn by_cow<const N: usize>(
    cows: usize,
    draws: usize,
    seed: u64,
    mut figures: impl FnMut(&[u32]) -> [Option<f64>; N],
) -> [Option<Interval>; N] {
    let mut generator = ChaCha8Rng::seed_from_u64(seed);
    let mut found: [Vec<f64>; N] = std::array::from_fn(|_| Vec::with_capacity(draws));
    let mut taken = vec![0u32; cows];
    for _ in 0..if cows > 1 { draws } else { 0 } {
        taken.fill(0);
        for _ in 0..cows {
            taken[generator.random_range(0..cows)] += 1;
        }
        for (values, value) in found.iter_mut().zip(figures(&taken)) {
            values.extend(value);
        }
    }
    found.map(|mut values| {
        if values.is_empty() || (values.len() as f64) < ENOUGH * draws as f64 {
            return None;
        }
        values.sort_by(f64::total_cmp);
        Some(Interval { lower: quantile(&values, 0.025), upper: quantile(&values, 0.975) })
    })
}

/// Quantile of sorted values, between neighbours in proportion.
#[must_use]
pub fn quantile(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len() - 1) as f64;
    let (below, rest) = (place.floor() as usize, place.fract());
    let above = (below + 1).min(sorted.len() - 1);
    sorted[below] + rest * (sorted[above] - sorted[below])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean(weights: &[u32], values: &[f64]) -> Option<f64> {
        let total: u32 = weights.iter().sum();
        Some(weights.iter().zip(values).map(|(&w, v)| f64::from(w) * v).sum::<f64>() / f64::from(total))
    }

    #[test]
    fn interval_of_a_mean_is_that_of_theory() {
        // 100 cows, 0..99: SD of the mean by the plug-in formula is 28.866 / 10.
        let values: Vec<f64> = (0..100).map(f64::from).collect();
        let [interval] = by_cow(100, 4000, 7, |weights| [mean(weights, &values)]);
        let interval = interval.unwrap();
        let reach = 1.96 * 28.866 / 10.0;
        assert!((interval.lower - (49.5 - reach)).abs() < 0.3, "{interval:?}");
        assert!((interval.upper - (49.5 + reach)).abs() < 0.3, "{interval:?}");
    }

    #[test]
    fn same_seed_same_interval_and_another_seed_another() {
        let values: Vec<f64> = (0..20).map(f64::from).collect();
        let draw = |seed| by_cow(20, 200, seed, |weights| [mean(weights, &values)]);
        assert_eq!(draw(1), draw(1));
        assert_ne!(draw(1), draw(2));
    }

    #[test]
    fn a_figure_that_is_mostly_missing_gets_no_interval() {
        let mut turn = 0;
        let [interval] = by_cow(5, 100, 1, |_| {
            turn += 1;
            [(turn % 2 == 0).then_some(1.0)]
        });
        assert_eq!(interval, None);
        assert_eq!(by_cow(1, 100, 1, |_| [Some(1.0)]), [None]);
    }
}
