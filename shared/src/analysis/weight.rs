//! Body weight of a cow that does not stop: the plateau of the total while all her supporting feet are on.
//!
//! Over whole steps the vertical acceleration of a walking cow averages to nothing, so the mean of the total over
//! a whole step is her weight. The plateau is where that running mean is highest.

use super::tally::{merge, total};
use crate::units::Estimate;

/// Totals kept; when all are used, neighbours are merged and each stands for twice the time.
const ENTRIES: usize = 128;
/// Step time taken where none was seen, s: half the stride time of a sound cow, 1.26 s (Flower 2005).
const USUAL_STEP_S: f32 = 0.63;
/// The plateau ends where the mean over a step falls below this share of its highest value; our choice: less
/// than the load of any foot, more than one step of a steady walk differs from the next.
const PLATEAU_SHARE: f32 = 0.95;
/// Standard error of the weight from a single step, share of the weight: walk-over weights of one cow vary with
/// an SD of 17 kg from day to day (Alawneh 2011), 3 % of some 550 kg.
const ONE_STEP_SE: f32 = 0.03;

/// The totals of one passage.
#[derive(Clone, Debug)]
pub struct WalkWeight {
    totals: [f32; ENTRIES],
    used: usize,
    per_entry: u32,
    in_entry: u32,
    sum: f32,
    block_s: f32,
}

impl Default for WalkWeight {
    fn default() -> Self {
        Self { totals: [0.0; ENTRIES], used: 0, per_entry: 1, in_entry: 0, sum: 0.0, block_s: 0.0 }
    }
}

#[allow(clippy::cast_precision_loss)]
impl WalkWeight {
    /// Takes the next block of `seconds`.
    pub fn push(&mut self, loads: [f32; 4], seconds: f32) {
        self.block_s = seconds;
        self.sum += total(loads);
        self.in_entry += 1;
        if self.in_entry < self.per_entry {
            return;
        }
        if self.used == ENTRIES {
            merge(&mut self.totals, |[a, b]| 0.5 * (a + b));
            self.used = ENTRIES / 2;
            self.per_entry = self.per_entry.saturating_mul(2);
            return;
        }
        if let Some(entry) = self.totals.get_mut(self.used) {
            *entry = self.sum / self.in_entry as f32;
            self.used += 1;
        }
        (self.sum, self.in_entry) = (0.0, 0);
    }

    /// The plateau, given the mean step time. Uses the totals up.
    pub fn plateau(&mut self, step_s: Option<f32>) -> Option<Estimate> {
        let entry_s = self.block_s * self.per_entry as f32;
        let totals = self.totals.get_mut(..core::mem::take(&mut self.used))?;
        if entry_s <= 0.0 || totals.is_empty() {
            return None;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let width = (libm::roundf(step_s.unwrap_or(USUAL_STEP_S) / entry_s) as usize).clamp(1, totals.len());
        // Each total gives way to the mean of the window that begins with it.
        let windows = totals.len() + 1 - width;
        let (mut best, mut best_at) = (f32::NEG_INFINITY, 0);
        for at in 0..windows {
            let mean = totals.get(at..at + width)?.iter().sum::<f32>() / width as f32;
            *totals.get_mut(at)? = mean;
            if mean > best {
                (best, best_at) = (mean, at);
            }
        }
        let on = |mean: &&f32| **mean >= PLATEAU_SHARE * best;
        let after = totals.get(best_at..windows)?.iter().take_while(on).count();
        let before = totals.get(..=best_at)?.iter().rev().take_while(on).count();
        let plateau = totals.get((best_at + 1).saturating_sub(before)..best_at + after)?;
        let value = median(plateau)?;
        let steps = (plateau.len() + width - 1) as f32 / width as f32;
        Some(Estimate { value, se: ONE_STEP_SE * value / libm::sqrtf(steps) })
    }
}

/// The lower median, by counting: there are few values and no room to sort them.
fn median(values: &[f32]) -> Option<f32> {
    let half = values.len().div_ceil(2);
    values.iter().copied().find(|candidate| {
        let below = values.iter().filter(|x| *x < candidate).count();
        let up_to = values.iter().filter(|x| *x <= candidate).count();
        below < half && half <= up_to
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten tenths of a second at 500 kg, with steps of three: eight means of a step, ten thirds of a step seen.
    #[test]
    fn the_error_falls_with_the_steps_seen() {
        let mut weight = WalkWeight::default();
        (0..10).for_each(|_| weight.push([125.0; 4], 0.1));
        let found = weight.plateau(Some(0.3)).expect("a weight");
        assert_eq!(found.value, 500.0);
        assert!((found.se - 0.03 * 500.0 / libm::sqrtf(10.0 / 3.0)).abs() < 1e-3, "{}", found.se);
        assert_eq!(weight.plateau(Some(0.3)), None, "the totals are used up");
    }

    /// 132 tenths of a second: neighbours are merged once, 66 fifths are left, of which two make a step.
    #[test]
    fn a_long_passage_is_kept_in_longer_pieces() {
        let mut weight = WalkWeight::default();
        (0..132).for_each(|_| weight.push([125.0; 4], 0.1));
        let found = weight.plateau(Some(0.4)).expect("a weight");
        assert_eq!(found.value, 500.0);
        assert!((found.se - 0.03 * 500.0 / libm::sqrtf(33.0)).abs() < 1e-3, "{}", found.se);
    }
}
