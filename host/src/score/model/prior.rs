//! What a new cow is expected to be: the herd's middle by parity and stage of lactation, and how cows differ.

use crate::arithmetic::statistics::median;
use crate::score::model::baseline::Baseline;
use crate::score::model::features::{MEASURES, PerMeasure};

/// First guess of the herd's mean of each measure. Front share: 54 % is the middle of what is commonly said (52-56 %),
/// held loosely. Peaks: 60 % and 50 % of body weight, front and hind (Scott 1988).
const FIRST_MEAN: PerMeasure = [0.0, 0.0, 54.0, 0.0, 0.0, 54.5, 0.0, 0.0, 1.1, 1.1, -0.3];
/// First guess of the SD between sound cows. Splits: half of a mean symmetry index of 13.9 % (rear LWR 0.87, Chapinal
/// 2010) holds errors of measuring too; 5 points is our choice.
const FIRST_SD: PerMeasure = [5.0, 5.0, 2.5, 3.0, 3.0, 1.5, 3.0, 3.0, 0.30, 0.30, 0.12];
/// SD of the first guess of the mean, in SD between cows.
const MEAN_UNSURE: f64 = 2.0;
/// How many cows the first guess of the SD is worth.
const SD_WORTH: f64 = 10.0;
/// How many cows of a group make its middle count as much as the herd's. Our choice.
const GROUP_WORTH: f64 = 8.0;
/// Parities 1, 2, 3 and more, unknown; to day 60, to day 200, later, unknown.
pub const GROUPS: usize = 16;
/// MAD of a normal distribution to its SD.
const MAD_TO_SD: f64 = 1.4826;

/// The herd's middle and spread.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct HerdPrior {
    mean: PerMeasure,
    variance: PerMeasure,
    group: Vec<PerMeasure>,
}

/// The group of a cow.
#[must_use]
pub fn group(parity: Option<u8>, days_in_milk: Option<i64>) -> usize {
    let parity = match parity {
        Some(0 | 1) => 0,
        Some(2) => 1,
        Some(_) => 2,
        None => 3,
    };
    let stage = match days_in_milk {
        Some(..=60) => 0,
        Some(61..=200) => 1,
        Some(_) => 2,
        None => 3,
    };
    parity * 4 + stage
}

impl HerdPrior {
    /// What belonged to the lanes is the cows' own.
    pub fn take(&mut self, part: &PerMeasure) {
        (0..MEASURES).for_each(|k| self.mean[k] += part[k]);
    }

    /// The first guess.
    #[must_use]
    pub fn new() -> Self {
        Self {
            mean: FIRST_MEAN,
            variance: FIRST_SD.map(|sd| sd * sd * (1.0 + MEAN_UNSURE * MEAN_UNSURE)),
            group: vec![[0.0; MEASURES]; GROUPS],
        }
    }

    /// What is expected of a new cow of a group.
    #[must_use]
    pub fn of(&self, group: usize) -> Baseline {
        Baseline::new(&std::array::from_fn(|k| self.mean[k] + self.group[group][k]), &self.variance)
    }

    /// Learns from one value a cow: her baseline, or on the first days her measures. `error` is the variance of each.
    pub fn learn(&mut self, cows: &[(usize, PerMeasure, PerMeasure)]) {
        let mut values = Vec::with_capacity(cows.len());
        for k in 0..MEASURES {
            values.clear();
            values.extend(cows.iter().map(|(_, value, _)| value[k]).filter(|v| !v.is_nan()));
            if values.is_empty() {
                continue;
            }
            let count = values.len() as f64;
            let errors: f64 = cows.iter().filter(|c| !c.1[k].is_nan()).map(|c| c.2[k]).sum::<f64>() / count;
            let first = FIRST_SD[k].powi(2);
            let middle = median(&mut values);
            let unsure = (first * MEAN_UNSURE * MEAN_UNSURE, 1.57 * (first + errors) / count);
            let trust = unsure.0 / (unsure.0 + unsure.1);
            self.mean[k] = FIRST_MEAN[k] + trust * (middle - FIRST_MEAN[k]);
            values.iter_mut().for_each(|v| *v = (*v - middle).abs());
            let spread = (MAD_TO_SD * median(&mut values)).powi(2) - errors;
            let between =
                ((SD_WORTH * first + count * spread.max(0.0)) / (SD_WORTH + count)).max(0.05 * first);
            self.variance[k] = between + trust * unsure.1;
            for group in 0..GROUPS {
                values.clear();
                values.extend(
                    cows.iter().filter(|c| c.0 == group && !c.1[k].is_nan()).map(|c| c.1[k] - self.mean[k]),
                );
                let count = values.len() as f64;
                self.group[group][k] =
                    if values.is_empty() { 0.0 } else { median(&mut values) * count / (count + GROUP_WORTH) };
            }
        }
    }
}

impl Default for HerdPrior {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_cow_is_expected_in_the_middle_of_her_group() {
        let cows: Vec<_> = (0..60)
            .map(|i| {
                let group = if i % 2 == 0 { 0 } else { 10 };
                let mut value = [f64::NAN; MEASURES];
                value[2] = if group == 0 { 56.0 } else { 52.0 } + f64::from(i % 5) * 0.1;
                (group, value, [0.1; MEASURES])
            })
            .collect();
        let mut prior = HerdPrior::new();
        prior.learn(&cows);
        assert!(prior.of(0).mean[2] > prior.of(10).mean[2] + 2.5);
        assert!(prior.of(5).mean[2] < prior.of(0).mean[2]);
        assert!(prior.of(0).variance[2] < HerdPrior::new().of(0).variance[2]);
    }

    // By hand, of three cows' split of the rear pair: the middle is 8, known to 1.57 (first + 1) / 3, against what the first
    // guess is unsure by; half the cows lie within 2 of it, an SD of 1.4826 * 2.
    #[test]
    fn the_herd_is_learned_by_its_middle_and_its_spread() {
        let k = 1;
        let cows: Vec<_> = [6.0, 8.0, 20.0]
            .map(|of| {
                let mut value = [f64::NAN; MEASURES];
                value[k] = of;
                (5, value, [1.0; MEASURES])
            })
            .to_vec();
        let mut prior = HerdPrior::new();
        prior.learn(&cows);
        let first = FIRST_SD[k].powi(2);
        let unsure = 1.57 * (first + 1.0) / 3.0;
        let trust = first * MEAN_UNSURE.powi(2) / (first * MEAN_UNSURE.powi(2) + unsure);
        let mean = FIRST_MEAN[k] + trust * (8.0 - FIRST_MEAN[k]);
        let spread = (MAD_TO_SD * 2.0).powi(2) - 1.0;
        let between = (SD_WORTH * first + 3.0 * spread) / (SD_WORTH + 3.0);
        let group = (8.0 - mean) * 3.0 / (3.0 + GROUP_WORTH);
        let near =
            |found: f32, wanted: f64| assert!((f64::from(found) - wanted).abs() < 1e-5, "{found} {wanted}");
        near(prior.of(5).mean[k], mean + group);
        near(prior.of(4).mean[k], mean);
        near(prior.of(5).variance[k], between + trust * unsure);
        // What nobody showed stays as it was.
        assert_eq!(prior.of(5).mean[0], HerdPrior::new().of(5).mean[0]);
        // Cows all alike are taken to differ by a twentieth at least, where there are many.
        let alike: Vec<_> = (0..20_000).map(|_| cows[1]).collect();
        prior.learn(&alike);
        near(prior.of(4).variance[k], 0.05 * first + prior_unsure(first, 20_000.0));
    }

    /// What is left unsure of the middle of so many cows alike, read with a variance of 1.
    fn prior_unsure(first: f64, cows: f64) -> f64 {
        let (own, of_cows) = (first * MEAN_UNSURE.powi(2), 1.57 * (first + 1.0) / cows);
        own / (own + of_cows) * of_cows
    }

    #[test]
    fn what_belonged_to_the_lanes_moves_what_is_expected() {
        let mut prior = HerdPrior::new();
        let before = prior.of(3).mean[1];
        prior.take(&std::array::from_fn(|k| if k == 1 { 2.5 } else { 0.0 }));
        assert_eq!(
            (prior.of(3).mean[1] - before, prior.of(3).mean[2]),
            (2.5, HerdPrior::new().of(3).mean[2])
        );
    }

    #[test]
    fn groups_change_with_parity_and_at_60_and_200_days() {
        let of = |parity, days| group(parity, days);
        assert_eq!(
            [Some(0), Some(1), Some(2), Some(3), None].map(|parity| of(parity, None)),
            [3, 3, 7, 11, 15]
        );
        assert_eq!([60, 61, 200, 201].map(|days| of(Some(1), Some(days))), [0, 1, 1, 2]);
    }
}
