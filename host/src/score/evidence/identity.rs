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

#[cfg(test)]
mod tests {
    use super::*;

    /// Variance of a passage's weight: an SD of 2 %.
    const NOISE: f64 = 0.0004;

    fn weighing(kg: f64) -> Measured {
        Measured { weight: kg.ln(), ..Measured::NOTHING }
    }

    /// Known to weigh this for so many days.
    fn known(kg: f64, days: u32) -> OddPassages {
        let weight = LocalLevel::new(kg.ln(), 0.0);
        OddPassages { weight, days, ..OddPassages::default() }
    }

    fn weighs_too_much(known: &OddPassages, kg: f64, noise: f64) -> bool {
        matches!(known.judge(&weighing(kg), noise, (0.0, 6), 50), Some(NotHers::Weight(..)))
    }

    // Four SD of 2 % are 8 %, less than the 9 % that count at least; four SD of 3 % are 12 %.
    #[test]
    fn a_passage_of_another_weight_is_not_hers() {
        let hers = known(600.0, 3);
        for (sd, limit) in [(0.02, 0.09), (0.03, 0.12)] {
            for sign in [1.0, -1.0] {
                let at = |off: f64| weighs_too_much(&hers, 600.0 * (sign * off).exp(), sd * sd);
                assert!(!at(limit - 0.001) && at(limit + 0.001), "{sd} {sign}");
            }
        }
        let said = hers.judge(&weighing(700.0), NOISE, (0.0, 6), 50);
        let Some(NotHers::Weight(seen, usual)) = said else { panic!("{said:?}") };
        assert!((seen - 700.0).abs() < 1e-9 && (usual - 600.0).abs() < 1e-9);
        assert!(!weighs_too_much(&known(600.0, 2), 700.0, NOISE), "two days are too few");
        assert!(!weighs_too_much(&hers, f64::NAN, NOISE), "not weighed");
        let unsure = OddPassages { weight: LocalLevel::new(600f64.ln(), 0.0021), ..hers };
        assert!(weighs_too_much(&hers, 735.0, NOISE) && !weighs_too_much(&unsure, 730.0, NOISE));
    }

    // 3.5 SD, squared: 12.25, of three measures at least, after five days, for three days in a row.
    #[test]
    fn loads_that_fit_her_in_no_state_are_not_hers_for_a_while() {
        let judged = |odd_for: u32, oddness: (f64, usize), days: u32| {
            let hers = OddPassages { pattern_days: odd_for, ..known(600.0, 9) };
            hers.judge(&weighing(600.0), NOISE, oddness, days) == Some(NotHers::Pattern)
        };
        assert!(judged(0, (12.26, 3), 5));
        assert!(!judged(0, (12.25, 3), 5));
        assert!(!judged(0, (12.26, 2), 5));
        assert!(!judged(0, (12.26, 3), 4));
        assert!(judged(2, (12.26, 3), 5));
        assert!(!judged(3, (12.26, 3), 5));
    }

    // Steps of .003 a night, and of .08 when she calves.
    #[test]
    fn her_weight_is_less_sure_by_the_night_and_by_a_calving() {
        let mut hers = known(600.0, 9);
        hers.wait(false);
        assert!((hers.weight.variance - 0.003 * 0.003).abs() < 1e-12);
        hers.wait(true);
        assert!((hers.weight.variance - 2.0 * 0.003 * 0.003 - 0.08 * 0.08).abs() < 1e-12);
    }

    // A first weight is hers, with .15^2 against .0004; the second lies half way between what is known and what is read
    // where both are as sure.
    #[test]
    fn weights_are_learned_and_their_days_counted() {
        let mut hers = OddPassages::default();
        assert_eq!(hers.weight_off(&weighing(600.0), NOISE), None);
        assert!(!hers.learn(&[weighing(f64::NAN)], NOISE, None, 0));
        assert_eq!(hers.days, 0);
        assert!(!hers.learn(&[weighing(600.0)], NOISE, None, 0));
        assert_eq!((hers.days, hers.weight.mean), (1, 600f64.ln()));
        hers.weight.variance = NOISE;
        let (off, variance) = hers.weight_off(&weighing(660.0), NOISE).expect("known");
        assert!((off - 1.1f64.ln()).abs() < 1e-12 && (variance - 2.0 * NOISE).abs() < 1e-12);
        let surely = Measured { weight_se: 0.01, ..weighing(660.0) };
        assert!((hers.weight_off(&surely, NOISE).expect("known").1 - 2.0 * NOISE - 0.0001).abs() < 1e-12);
        hers.learn(&[weighing(660.0)], NOISE, None, 0);
        assert_eq!(hers.days, 2);
        assert!((hers.weight.mean - 600f64.ln() - 0.5 * 1.1f64.ln()).abs() < 1e-9);
    }

    #[test]
    fn days_of_odd_loads_alone_are_counted_in_a_row() {
        let mut hers = known(600.0, 9);
        for days in 1..=3 {
            hers.learn(&[], NOISE, None, 1);
            assert_eq!(hers.pattern_days, days);
        }
        hers.learn(&[weighing(600.0)], NOISE, None, 1);
        assert_eq!(hers.pattern_days, 0);
        hers.learn(&[], NOISE, None, 1);
        hers.learn(&[], NOISE, None, 0);
        assert_eq!(hers.pattern_days, 0);
    }

    // Thirteen days of another weight say nothing yet; a day of hers begins the count anew, a day of nothing does not.
    #[test]
    fn after_fourteen_days_of_another_weight_she_is_another_animal() {
        let stranger = Some(700f64.ln());
        let mut hers = known(600.0, 9);
        (0..13).for_each(|_| assert!(!hers.learn(&[], NOISE, stranger, 0)));
        assert_eq!(hers.odd_days, 13);
        let mut interrupted = hers;
        assert!(!interrupted.learn(&[weighing(600.0)], NOISE, stranger, 0));
        assert_eq!(interrupted.odd_days, 0);
        assert!(!hers.learn(&[], NOISE, None, 0));
        assert_eq!(hers.odd_days, 13);
        assert!(hers.learn(&[], NOISE, stranger, 0));
        assert!((hers.weight.mean - 700f64.ln()).abs() < 1e-9);
        assert_eq!((hers.days, hers.odd_days), (3, 0));
    }
}
