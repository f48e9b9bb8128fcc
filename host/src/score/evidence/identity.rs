//! Whether a passage is hers: body weight and load pattern against what is known of her.

use crate::score::model::features::Measured;
use crate::score::model::level::LocalLevel;
use crate::score::settings::{
    PATTERN_NOT_HERS_SD, RESTART_DAYS, WEIGHT_NOT_HERS_FRACTION, WEIGHT_NOT_HERS_SD,
};

/// SD of a day's change of body weight, as a fraction: some 2 kg. Our choice.
pub const WEIGHT_STEP: f64 = 0.003;
/// SD of the weight of an unknown cow, as a fraction. Our choice.
pub const WEIGHT_UNKNOWN: f64 = 0.15;
/// SD of the change at calving, as a fraction: calf and waters are some 10 %. Our choice.
const WEIGHT_CALVING: f64 = 0.08;
/// Days of weight needed before a passage can be turned away by it.
const WEIGHT_DAYS: u32 = 3;
/// Measures that a load pattern needs at least to be told.
const PATTERN_MEASURES: usize = 3;
/// Days of measures needed before a passage can be turned away by its pattern.
const PATTERN_DAYS: u32 = 5;
/// Days in a row after which an odd pattern is used all the same: it is then how she stands. Our choice.
const PATTERN_PATIENCE: u32 = 3;

/// Why a passage was set aside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NotHers {
    /// It weighs this much, kg, where she weighs that much.
    Weight(f64, f64),
    /// The loads fit her in no state.
    Pattern,
}

/// What is known of her body weight and of passages that were not hers.
#[derive(Clone, Copy, Debug, serde::Serialize, serde::Deserialize)]
pub struct OddPassages {
    /// Natural logarithm of her weight in kg.
    pub weight: LocalLevel,
    days: u32,
    /// Days in a row on which only passages by another weight came.
    pub odd_days: u32,
    /// Days in a row with an odd pattern.
    pub pattern_days: u32,
    strange: LocalLevel,
}

impl Default for OddPassages {
    fn default() -> Self {
        let unknown = LocalLevel::new(f64::NAN, WEIGHT_UNKNOWN * WEIGHT_UNKNOWN);
        Self { weight: unknown, days: 0, odd_days: 0, pattern_days: 0, strange: unknown }
    }
}

impl OddPassages {
    /// A night passes; `calved` on that day.
    pub fn wait(&mut self, calved: bool) {
        self.weight.wait(WEIGHT_STEP * WEIGHT_STEP);
        if calved {
            self.weight.wait(WEIGHT_CALVING * WEIGHT_CALVING);
        }
    }

    /// Difference of a passage's weight from hers, and its variance; `None` where either is unknown.
    #[must_use]
    pub fn weight_off(&self, passage: &Measured, noise: f64) -> Option<(f64, f64)> {
        (self.days > 0 && !passage.weight.is_nan()).then(|| {
            (passage.weight - self.weight.mean, self.weight.variance + noise + passage.weight_se.powi(2))
        })
    }

    /// Judges a passage. `oddness` is the mean square distance from her best-fitting state and its number of measures;
    /// `days_seen` the days it rests on.
    #[must_use]
    pub fn judge(
        &self,
        passage: &Measured,
        noise: f64,
        oddness: (f64, usize),
        days_seen: u32,
    ) -> Option<NotHers> {
        if self.days >= WEIGHT_DAYS
            && let Some((off, variance)) = self.weight_off(passage, noise)
            && off.abs() > (WEIGHT_NOT_HERS_SD * variance.sqrt()).max(WEIGHT_NOT_HERS_FRACTION)
        {
            return Some(NotHers::Weight(passage.weight.exp(), self.weight.mean.exp()));
        }
        let odd = oddness.0 > PATTERN_NOT_HERS_SD * PATTERN_NOT_HERS_SD && oddness.1 >= PATTERN_MEASURES;
        (odd && days_seen >= PATTERN_DAYS && self.pattern_days < PATTERN_PATIENCE).then_some(NotHers::Pattern)
    }

    /// The day's passages that are hers come in, and how many were set aside for either reason. `strange` is the mean
    /// weight of those set aside by weight. Returns whether she has to start again as a new animal.
    pub fn learn(&mut self, hers: &[Measured], noise: f64, strange: Option<f64>, patterns: u32) -> bool {
        for passage in hers.iter().filter(|p| !p.weight.is_nan()) {
            if self.weight.mean.is_nan() {
                self.weight.mean = passage.weight;
            }
            self.weight.see(passage.weight, noise + passage.weight_se.powi(2));
        }
        if hers.iter().any(|p| !p.weight.is_nan()) {
            self.days += 1;
        }
        self.pattern_days = if patterns > 0 && hers.is_empty() { self.pattern_days + 1 } else { 0 };
        match strange {
            Some(weight) if hers.is_empty() => {
                if self.odd_days == 0 {
                    self.strange = LocalLevel::new(weight, WEIGHT_UNKNOWN.powi(2));
                }
                self.strange.see(weight, noise);
                self.odd_days += 1;
                if self.odd_days >= RESTART_DAYS {
                    *self = Self { weight: self.strange, days: WEIGHT_DAYS, ..Self::default() };
                    return true;
                }
            }
            _ if !hers.is_empty() => self.odd_days = 0,
            _ => {}
        }
        false
    }
}
