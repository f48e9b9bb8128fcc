//! Standing: stretches with one foot settled on each plate and the whole cow on the deck.
//!
//! A stance lags behind by [`HELD`] blocks, so that the unloading before a foot steps off the deck is never part
//! of it. While a leg is lifted nothing is added; if the foot comes back the lift is counted, if the total is
//! lost instead the stance ended when the leg was unloaded.

use super::{
    summary::Standing,
    tally::{Tally, total},
};
use crate::{plate::PerLeg, units::Estimate};

/// Blocks held back, and looked at to open a stance: 0.5 s. Our choice, about the time a foot takes to unload.
pub const HELD: usize = 5;
/// Largest spread of the total over the held blocks to open a stance, as a share of it. Our choice: a resting
/// cow's total moves by a percent or two.
const OPEN_BAND: f32 = 0.04;
/// Blocks kept when a stance opens: the newest of those held, so that she has settled. Our choice.
const KEPT: usize = 2;
/// Largest departure from the stance's own total to stay in it, as a share of it. Our choice: a lifted leg shakes
/// the total by less, and the lightest leg that steps off takes more.
const TOTAL_BAND: f32 = 0.08;
/// Least share of the total on each plate to open a stance; our choice: a very sore foot still touches.
const TOUCH_SHARE: f32 = 0.025;
/// Least load on each plate to open a stance, kg; our choice, above dung and noise.
const TOUCH_KG: f32 = 8.0;
/// A leg that carried more than the second share and falls below the first is lifted; it is back above the
/// second. Shares of the total; our choice.
const LIFT_SHARES: (f32, f32) = (0.04, 0.08);
/// Shortest stance, s; our choice: no walking step keeps all four plates evenly loaded for so long.
pub const SHORTEST_S: f32 = 1.0;
/// How far a pair's split must move towards one leg to count as a shift, as a share of the pair's load; our
/// choice, above breathing and swaying.
const SHIFT_BAND: f32 = 0.10;
/// Share by which the running total of a stance follows each block; our choice.
const FOLLOW: f32 = 0.05;

/// Mean loads over one block of readings.
#[derive(Clone, Copy, Debug, Default)]
pub struct Batch {
    /// Filtered loads, kg.
    pub loads: [f32; 4],
    /// Length, s.
    pub seconds: f32,
}

/// What a block did to the standing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stood {
    /// Not standing.
    No,
    /// Standing.
    Yes,
}

/// Counts the shifts of one pair by its turning points.
#[derive(Clone, Copy, Debug, Default)]
struct Shifts {
    low: f32,
    high: f32,
    direction: i8,
    count: u16,
    started: bool,
}

impl Shifts {
    fn push(&mut self, left: f32, right: f32) {
        let pair = left + right;
        if pair <= TOUCH_KG {
            return;
        }
        // -0.5 (all left) .. 0.5 (all right)
        let split = right / pair - 0.5;
        if !self.started {
            (self.low, self.high, self.direction, self.started) = (split, split, 0, true);
        }
        self.low = self.low.min(split);
        self.high = self.high.max(split);
        if self.direction <= 0 && split - self.low > SHIFT_BAND {
            self.turn(1, split);
        } else if self.direction >= 0 && self.high - split > SHIFT_BAND {
            self.turn(-1, split);
        }
    }

    fn turn(&mut self, direction: i8, split: f32) {
        self.count = self.count.saturating_add(1);
        (self.direction, self.low, self.high) = (direction, split, split);
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct Counted {
    tally: Tally,
    front: Shifts,
    rear: Shifts,
    lifts: [u16; 4],
    lifted_s: f32,
}

impl Counted {
    fn add(&mut self, block: Batch) {
        self.tally.add(block.loads, block.seconds);
        let [lf, rf, lr, rr] = block.loads;
        self.front.push(lf, rf);
        self.rear.push(lr, rr);
    }

    fn seconds(&self) -> f32 {
        self.tally.seconds() + self.lifted_s
    }
}

/// Finds the stances of one passage and measures them together.
#[derive(Clone, Debug, Default)]
pub struct Stances {
    counted: Counted,
    before: Option<Counted>,
    held: [Batch; HELD],
    filled: usize,
    level: f32,
    armed: [bool; 4],
    lifted: [bool; 4],
    lifts: [u16; 4],
    lifted_s: f32,
    first_level: Option<f32>,
    uneven: bool,
}

impl Stances {
    /// Takes the next block.
    pub fn push(&mut self, block: Batch) -> Stood {
        if self.before.is_some() { self.stand(block) } else { self.wait(block) }
    }

    /// Readings were lost: what is held back is not used, an open stance ends.
    pub fn interrupt(&mut self) {
        self.close();
    }

    /// The total of the open or last stance, kg.
    #[must_use]
    pub const fn level(&self) -> f32 {
        self.level
    }

    /// Whether she has stood for long enough to know her weight.
    #[must_use]
    pub const fn stood(&self) -> bool {
        self.first_level.is_some()
    }

    /// Whether two stances differ in weight by more than one cow does.
    #[must_use]
    pub const fn uneven(&self) -> bool {
        self.uneven
    }

    /// Closes the last stance and gives body weight and measures, if she stood.
    pub fn finish(&mut self) -> Option<(Estimate, Standing)> {
        self.close();
        let mut standing = self.counted.tally.standing()?;
        standing.seconds = self.counted.seconds();
        standing.front_shifts = self.counted.front.count;
        standing.rear_shifts = self.counted.rear.count;
        standing.lifts = PerLeg(self.counted.lifts);
        Some((self.counted.tally.body_weight()?, standing))
    }

    fn hold(&mut self, block: Batch) -> Option<Batch> {
        self.held.rotate_left(1);
        let oldest = self.held.last_mut().map(|last| core::mem::replace(last, block));
        if self.filled == HELD {
            oldest
        } else {
            self.filled += 1;
            None
        }
    }

    fn wait(&mut self, block: Batch) -> Stood {
        self.hold(block);
        if self.filled < HELD {
            return Stood::No;
        }
        let (mut low, mut high, mut sum, mut touching) = (f32::INFINITY, 0.0_f32, 0.0, true);
        for block in &self.held {
            let all = total(block.loads);
            low = low.min(all);
            high = high.max(all);
            sum += all;
            let least = (TOUCH_SHARE * all).max(TOUCH_KG);
            touching &= block.loads.iter().all(|load| *load >= least);
        }
        #[allow(clippy::cast_precision_loss)]
        let level = sum / HELD as f32;
        if !(touching && high - low <= OPEN_BAND * level) {
            return Stood::No;
        }
        self.level = level;
        self.filled = KEPT;
        self.lifted = [false; 4];
        self.lifts = [0; 4];
        self.armed = block.loads.map(|load| load > LIFT_SHARES.1 * level);
        self.before = Some(self.counted);
        self.counted.front.started = false;
        self.counted.rear.started = false;
        Stood::Yes
    }

    fn stand(&mut self, block: Batch) -> Stood {
        let all = total(block.loads);
        if (all - self.level).abs() > TOTAL_BAND * self.level {
            self.close();
            self.hold(block);
            return Stood::No;
        }
        self.level += FOLLOW * (all - self.level);
        let was_lifted = self.lifted.contains(&true);
        let (down, up) = (LIFT_SHARES.0 * self.level, LIFT_SHARES.1 * self.level);
        for (((armed, lifted), load), lifts) in
            self.armed.iter_mut().zip(&mut self.lifted).zip(block.loads).zip(&mut self.lifts)
        {
            if load > up {
                *lifts = lifts.saturating_add(u16::from(*lifted));
                (*armed, *lifted) = (true, false);
            } else if load < down && *armed {
                *lifted = true;
            }
        }
        let lifted = self.lifted.contains(&true);
        if lifted && !was_lifted {
            self.lifted_s = self.held.iter().rev().take(self.filled).map(|b| b.seconds).sum();
            self.filled = 0;
        }
        if lifted || was_lifted {
            self.lifted_s += block.seconds;
        }
        if lifted {
            return Stood::No;
        }
        if was_lifted {
            for (count, lifts) in self.counted.lifts.iter_mut().zip(&mut self.lifts) {
                *count = count.saturating_add(core::mem::take(lifts));
            }
            self.counted.lifted_s += core::mem::take(&mut self.lifted_s);
            self.counted.front.started = false;
            self.counted.rear.started = false;
            return Stood::Yes;
        }
        if let Some(block) = self.hold(block) {
            self.counted.add(block);
        }
        Stood::Yes
    }

    fn too_short(&self) -> bool {
        self.before.is_none_or(|before| self.counted.seconds() - before.seconds() < SHORTEST_S)
    }

    fn close(&mut self) {
        if self.too_short() {
            if let Some(before) = self.before {
                self.counted = before;
            }
        } else {
            match self.first_level {
                None => self.first_level = Some(self.level),
                Some(first) => self.uneven |= (self.level - first).abs() > TOTAL_BAND * first,
            }
        }
        self.before = None;
        self.filled = 0;
        self.lifted_s = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EVEN: [f32; 4] = [150.0; 4];

    fn push(stances: &mut Stances, blocks: usize, loads: [f32; 4]) -> Stood {
        (0..blocks).fold(Stood::No, |_, _| stances.push(Batch { loads, seconds: 0.1 }))
    }

    #[test]
    fn a_leg_may_be_lifted_right_after_a_stance_opens() {
        let mut stances = Stances::default();
        assert_eq!(push(&mut stances, 4, EVEN), Stood::No);
        assert_eq!(push(&mut stances, 1, EVEN), Stood::Yes);
        assert_eq!(push(&mut stances, 1, [150.0, 150.0, 0.0, 300.0]), Stood::No);
        push(&mut stances, 20, EVEN);
        assert_eq!(stances.finish().expect("a stance").1.lifts.0, [0, 0, 1, 0]);
    }

    #[test]
    fn a_leg_with_less_than_a_twenty_fifth_of_her_weight_is_lifted() {
        let stood = |load: f32| {
            let mut stances = Stances::default();
            push(&mut stances, 10, EVEN);
            push(&mut stances, 1, [150.0, 150.0, load, 300.0 - load])
        };
        let limit = LIFT_SHARES.0 * 600.0;
        assert_eq!(stood(limit), Stood::Yes);
        assert_eq!(stood(limit - 0.01), Stood::No);
    }

    #[test]
    fn each_stance_must_last_a_second_by_itself() {
        // Five blocks open a stance, of which two are held back, and three more until one is counted.
        let stood = |blocks: usize| {
            let mut stances = Stances::default();
            push(&mut stances, 8 + 22, EVEN);
            push(&mut stances, 1, [0.0; 4]);
            push(&mut stances, 8 + blocks, EVEN);
            stances.finish().expect("a stance").1.seconds
        };
        assert!((stood(9) - 2.2).abs() < 1e-3, "{}", stood(9));
        assert!((stood(11) - 3.3).abs() < 1e-3, "{}", stood(11));
    }
}
