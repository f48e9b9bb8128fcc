//! What is expected of a farm's observer before the farm has scored.

use serde::{Deserialize, Serialize};
use std::fmt;

/// The load at which half of the cows are scored 2 or more, as a multiple of the published one: the logarithm of that
/// multiple is taken to be normal over farms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ObserverPrior {
    /// Mean of the logarithm.
    pub mean: f64,
    /// Its SD.
    pub sd: f64,
}

impl Default for ObserverPrior {
    /// The published load; the SD is our choice.
    fn default() -> Self {
        Self { mean: 0.0, sd: 0.5 }
    }
}

/// Means and SDs that are taken: wide of what farms can be, so that only what is a slip is refused. Our choice.
const MEANS: std::ops::RangeInclusive<f64> = -1.5..=1.5;
const SDS: std::ops::RangeInclusive<f64> = 0.05..=1.5;

impl ObserverPrior {
    /// From mean and SD, as it is printed.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let (mean, sd) = text.split_once(' ')?;
        let prior = Self { mean: mean.parse().ok()?, sd: sd.trim().parse().ok()? };
        (MEANS.contains(&prior.mean) && SDS.contains(&prior.sd)).then_some(prior)
    }
}

impl fmt::Display for ObserverPrior {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.3} {:.3}", self.mean, self.sd)
    }
}

#[cfg(test)]
mod tests {
    use super::ObserverPrior;

    #[test]
    fn is_read_as_it_is_printed() {
        let prior = ObserverPrior { mean: -0.25, sd: 0.3 };
        assert_eq!(ObserverPrior::from_text(&prior.to_string()), Some(prior));
    }

    #[test]
    fn what_no_farm_can_be_is_refused() {
        for text in
            ["", "0.1", "x 0.5", "0 x", "NaN 0.5", "0 NaN", "1.501 0.5", "-1.501 0.5", "0 0.049", "0 1.501"]
        {
            assert_eq!(ObserverPrior::from_text(text), None, "{text}");
        }
        for text in ["1.5 0.05", "-1.5 1.5"] {
            assert!(ObserverPrior::from_text(text).is_some(), "{text}");
        }
    }
}
