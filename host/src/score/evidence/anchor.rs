//! Holds the common shift of the lanes to what each cow really carried. The lanes' filters and the cows' baselines are
//! only known together: both could creep for a year, in opposite directions, and no passage would contradict. So each
//! cow's usual values are kept apart from both, and what all cows are off them is the herd's shift.

use crate::arithmetic::statistics::median;
use crate::score::evidence::lane::{LaneShift, Witness};
use crate::score::model::features::{MEASURES, PerMeasure};
use serde::{Deserialize, Serialize};

/// Days over which a cow's usual values are remembered. Our choice: a season.
const MEMORY_DAYS: f64 = 90.0;
/// Days of a cow before she says what is usual for her. Our choice.
const SETTLED_DAYS: f64 = 5.0;
/// Days whose middle is taken at first; later it is followed. A mean would be pulled by a skewed measure. Our choice.
const FIRST_DAYS: usize = 10;
/// A day further off than this many SD pulls no more than one that far. Our choice: near the middle, as a median is.
const PULL_SD: f64 = 0.1;
/// Part of a normal spread within [`PULL_SD`]: what makes the middle follow at one part in [`MEMORY_DAYS`].
const WITHIN_PULL: f64 = 0.0797;
/// Part of the herd's shift that a cow's usual values are freed of: the rest becomes usual. Our choice: a plate that
/// stays wrong is told of for a year, a herd that grows older is not.
const REMEMBERED: f64 = 0.8;

/// What a cow usually carries, in the terms of the first lane, lane not taken out.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct AnchoredValues {
    middle: PerMeasure,
    days: PerMeasure,
    /// The first days by measure, until there are [`FIRST_DAYS`].
    first: [Vec<f64>; MEASURES],
}

impl Default for AnchoredValues {
    fn default() -> Self {
        Self { middle: [0.0; MEASURES], days: [0.0; MEASURES], first: Default::default() }
    }
}

impl AnchoredValues {
    /// What a day of hers is off it; NaN where it is not known.
    #[must_use]
    pub fn off(&self, value: &PerMeasure) -> PerMeasure {
        std::array::from_fn(
            |k| if self.days[k] < SETTLED_DAYS { f64::NAN } else { value[k] - self.middle[k] },
        )
    }

    /// A day on which she was sound, with its error variances, in a herd that is off by `shift`.
    pub fn learn(&mut self, value: &PerMeasure, variance: &PerMeasure, shift: &PerMeasure) {
        for k in (0..MEASURES).filter(|&k| !value[k].is_nan()) {
            self.days[k] = (self.days[k] + 1.0).min(MEMORY_DAYS);
            let usual = value[k] - REMEMBERED * shift[k];
            if self.days[k] <= FIRST_DAYS as f64 {
                self.first[k].push(usual);
                self.middle[k] = median(&mut self.first[k]);
            } else {
                self.first[k] = Vec::new();
                let pull = PULL_SD * variance[k].sqrt();
                let off = (usual - self.middle[k]).clamp(-pull, pull);
                self.middle[k] += off / WITHIN_PULL / self.days[k];
            }
        }
    }
}

/// The herd's shift against what its cows usually carry.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Anchor {
    herd: LaneShift,
    known: bool,
}

impl Default for Anchor {
    fn default() -> Self {
        Self { herd: LaneShift::new(true), known: false }
    }
}

impl Anchor {
    /// A day of the whole herd: by sound cow, what she is off her usual values.
    pub fn learn(&mut self, witnesses: &[Witness]) {
        self.known |= !witnesses.is_empty();
        self.herd.learn(witnesses, 1);
    }

    /// The shift; `None` until there is any.
    #[must_use]
    pub fn shift(&self) -> Option<PerMeasure> {
        self.known.then(|| self.herd.shift())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: PerMeasure = [1.0; MEASURES];

    #[test]
    fn usual_is_known_after_five_days_and_follows_slowly() {
        let mut usual = AnchoredValues::default();
        for day in 0..20 {
            assert_eq!(usual.off(&[3.0; MEASURES])[0].is_nan(), day < 5, "{day}");
            usual.learn(&[2.0; MEASURES], &ALL, &[0.0; MEASURES]);
        }
        assert!((usual.off(&[3.0; MEASURES])[0] - 1.0).abs() < 1e-12);
        // Far off: it pulls as a tenth of an SD does, 0.1 / 0.0797 / 21 days.
        usual.learn(&[100.0; MEASURES], &ALL, &[0.0; MEASURES]);
        assert!((usual.off(&[2.0; MEASURES])[0] + 0.1 / 0.0797 / 21.0).abs() < 1e-12);
        let before = usual.off(&ALL);
        usual.learn(&[f64::NAN; MEASURES], &ALL, &[0.0; MEASURES]);
        assert_eq!(usual.off(&ALL), before);
    }

    #[test]
    fn most_of_the_herds_shift_does_not_become_usual() {
        let mut usual = AnchoredValues::default();
        for _ in 0..5 {
            usual.learn(&[0.0; MEASURES], &ALL, &[0.0; MEASURES]);
        }
        for _ in 0..2000 {
            usual.learn(&ALL, &ALL, &ALL);
        }
        assert!((usual.off(&ALL)[0] - REMEMBERED).abs() < 1e-6);
    }
}
