//! The limits of `watch` and `check`, from the needless looks that a farmer accepts.
//!
//! For each limit of a grid every cow goes up and down a step of its own, as her flag would. A cow that stepped up and
//! has probability `p` a few days later cost `f (1 - p)` needless looks: what was chance on the day has gone by then. `f` is
//! 3 until the farm's own records show how many of its flags were needless. The
//! herd's mean cost a cow-day at each limit, over the last weeks, says which is the lowest limit that keeps to the price.
//! Today's limit rests on the days before today.

use crate::score::settings::{FLAG_OFF, NEEDLESS_LOOKS};
use serde::{Deserialize, Serialize};

/// Limits that are tried. Lowest, our choice: below it six looks in seven are needless. Highest, our choice: at nine in
/// ten she is looked at whatever the price.
const GRID: [f64; 16] =
    [0.15, 0.18, 0.21, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.66, 0.72, 0.78, 0.84, 0.90];
/// Days of the herd that the price is learned from. Our choice: four weeks, in which 100 cows cost four looks.
const MEMORY_DAYS: f64 = 28.0;
/// What the first guess is worth, in cow-days. Our choice: a week of 70 cows.
const FIRST_GUESS_COW_DAYS: f64 = 490.0;
/// The limit first guessed at one needless look per 100 cows a week. Our choice.
const FIRST_GUESS: f64 = 0.50;
/// `watch` begins at this part of the limit of `check`. Our choice.
const WATCH: f64 = 1.0 / 3.0;
/// Days of hers after which a step up is judged. Our choice: as many as a passing oddity lasts.
const JUDGED_AFTER: usize = 4;
/// Needless looks for each that her probability says, before the farm has records. Our choice: between 2 and 4.5 in the
/// herds it was tried on, since a cow on her way to a score of 2, or back, is counted as needless too.
const NEEDLESS_FOR_EACH: f64 = 3.0;
/// What that is worth, in needless looks that were expected of flags and checked by a record. Our choice.
const NEEDLESS_WORTH: f64 = 2.0;
/// Cow-days in 100 cow-weeks.
const COW_DAYS: f64 = 700.0;

/// The limits of a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// `watch` from here, and until below.
    pub watch: (f64, f64),
    /// `check` from here, and until below.
    pub check: (f64, f64),
}

impl Limits {
    /// The limits where `check` begins at `on`.
    #[must_use]
    pub fn at(on: f64) -> Self {
        Self { watch: (WATCH * on, FLAG_OFF * WATCH * on), check: (on, FLAG_OFF * on) }
    }
}

/// One cow's steps at every limit of the grid: bit `k` is set while she is up at limit `k`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Steps {
    up: u16,
    /// The steps up of her last days, latest first.
    rises: [u16; JUDGED_AFTER],
}

impl Steps {
    /// A day with probability `p`: the steps up of some days ago, judged by it.
    pub fn day(&mut self, p: f64) -> Rises {
        let mut rises = 0;
        for (k, &limit) in GRID.iter().enumerate() {
            let bit = 1 << k;
            if self.up & bit == 0 && p >= limit {
                self.up |= bit;
                rises |= bit;
            } else if self.up & bit != 0 && p < FLAG_OFF * limit {
                self.up &= !bit;
            }
        }
        self.rises.rotate_right(1);
        let judged = std::mem::replace(&mut self.rises[0], rises);
        Rises { at: judged, needless: 1.0 - p }
    }
}

/// The limits at which a cow stepped up, and how likely looking at her was needless.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rises {
    at: u16,
    needless: f64,
}

/// What each limit costs this herd.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Price {
    needless: [f64; GRID.len()],
    cow_days: f64,
    /// Needless looks among the flags that a record answered: found, and expected by their probabilities.
    answered: (f64, f64),
}

impl Default for Price {
    fn default() -> Self {
        let looks = FIRST_GUESS_COW_DAYS * NEEDLESS_LOOKS / COW_DAYS / NEEDLESS_FOR_EACH;
        // Twice the limit costs a quarter.
        Self {
            needless: GRID.map(|limit| looks * (FIRST_GUESS / limit).powi(2)),
            cow_days: FIRST_GUESS_COW_DAYS,
            answered: (0.0, 0.0),
        }
    }
}

impl Price {
    /// The lowest limit of `check` from which on every higher one keeps to `accepted` needless looks per 100 cows a week.
    #[must_use]
    pub fn limits(&self, accepted: f64) -> Limits {
        let for_each = self.for_each();
        let per_week = |k: usize| COW_DAYS * for_each * self.needless[k] / self.cow_days;
        let dear = (0..GRID.len()).rev().find(|&k| per_week(k) > accepted);
        Limits::at(GRID[dear.map_or(0, |k| (k + 1).min(GRID.len() - 1))])
    }

    /// Needless looks for each that the probabilities say, as far as the farm's records go.
    fn for_each(&self) -> f64 {
        let (found, expected) = self.answered;
        (NEEDLESS_WORTH * NEEDLESS_FOR_EACH + found) / (NEEDLESS_WORTH + expected)
    }

    /// A record answers a fresh flag of probability `p`: whether looking was needless.
    pub fn answer(&mut self, p: f64, needless: bool) {
        self.answered.0 += f64::from(u8::from(needless));
        self.answered.1 += 1.0 - p;
    }

    /// A day of the herd comes in.
    pub fn learn(&mut self, day: impl Iterator<Item = Rises>) {
        let keep = 1.0 - 1.0 / MEMORY_DAYS;
        self.cow_days *= keep;
        self.needless.iter_mut().for_each(|needless| *needless *= keep);
        for rises in day {
            self.cow_days += 1.0;
            for (k, needless) in self.needless.iter_mut().enumerate() {
                if rises.at & (1 << k) != 0 {
                    *needless += rises.needless;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_taken_at_the_limit_and_left_below_half_of_it() {
        let bit = 1_u16 << GRID.iter().position(|&limit| limit == 0.60).unwrap();
        let mut steps = Steps::default();
        let up = |steps: &mut Steps, p: f64| {
            steps.day(p);
            steps.up & bit != 0
        };
        assert!(!up(&mut steps, 0.5999));
        assert!(up(&mut steps, 0.60));
        assert!(up(&mut steps, 0.3001));
        assert!(!up(&mut steps, 0.2999));
    }

    #[test]
    fn a_step_up_is_judged_by_the_probability_four_days_of_hers_later() {
        let bit = 1_u16 << GRID.iter().position(|&limit| limit == 0.60).unwrap();
        let mut steps = Steps::default();
        for p in [0.7, 0.65, 0.65, 0.65] {
            assert_eq!(steps.day(p).at & bit, 0);
        }
        let judged = steps.day(0.1);
        assert_ne!(judged.at & bit, 0);
        assert!((judged.needless - 0.9).abs() < 1e-12);
        assert_eq!(steps.day(0.1).at, 0, "judged once");
    }

    #[test]
    fn the_first_guess_is_half_at_the_usual_price_and_moves_with_it() {
        let price = Price::default();
        assert_eq!(price.limits(1.0), Limits::at(0.50));
        assert!(price.limits(4.0).check.0 < 0.50 && price.limits(0.5).check.0 > 0.50);
        // 700 / 490 * 0.7 * (0.5 / 0.15)^2 = 11.1 looks at the lowest limit, 0.31 at the highest.
        assert_eq!(price.limits(11.2), Limits::at(0.15));
        assert_eq!(price.limits(0.1), Limits::at(0.90));
    }

    #[test]
    fn a_quiet_herd_lowers_the_limit_and_a_restless_one_raises_it() {
        let mut quiet = Price::default();
        for _ in 0..60 {
            quiet.learn((0..100).map(|_| Steps::default().day(0.02)));
        }
        assert_eq!(quiet.limits(1.0), Limits::at(0.15));
        // Each day one cow in 100 had gone to 0.5: 7 rises a week, each a quarter of a needless look three times over, at every limit up to 0.5.
        let half = (0..GRID.len()).filter(|&k| GRID[k] <= 0.5).fold(0, |bits, k| bits | 1 << k);
        let mut restless = Price::default();
        for _ in 0..200 {
            restless.learn((0..100).map(|cow| Rises { at: if cow == 0 { half } else { 0 }, needless: 0.25 }));
        }
        assert_eq!(restless.limits(5.2), Limits::at(0.55));
        assert_eq!(restless.limits(5.3), Limits::at(0.15));
    }

    #[test]
    fn records_of_fresh_flags_move_what_a_probability_is_taken_for() {
        let mut price = Price::default();
        assert!((price.for_each() - 3.0).abs() < 1e-12);
        // Ten flags at 0.5 of which two were needless: (2 * 3 + 2) / (2 + 5).
        (0..10).for_each(|flag| price.answer(0.5, flag < 2));
        assert!((price.for_each() - 8.0 / 7.0).abs() < 1e-12);
        assert!(price.limits(1.0).check.0 < Price::default().limits(1.0).check.0);
        // Forty more that were all needless: (6 + 42) / (2 + 25).
        (0..40).for_each(|_| price.answer(0.5, true));
        assert!((price.for_each() - 48.0 / 27.0).abs() < 1e-12);
    }

    #[test]
    fn watch_is_a_third_of_check() {
        let limits = Limits::at(0.60);
        assert!((limits.watch.0 - 0.20).abs() < 1e-12 && (limits.watch.1 - 0.10).abs() < 1e-12);
        assert!((limits.check.1 - 0.30).abs() < 1e-12);
    }
}
