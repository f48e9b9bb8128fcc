//! One passage while it lasts, and its summary.

use super::{
    PassageKind, PassageSummary, Quality, Reason,
    feet::Feet,
    stance::{Batch, Stances, Stood},
    tally::total,
    weight::WalkWeight,
};
use crate::{
    plate::PerLeg,
    units::{Estimate, Milliseconds},
};

/// Lightest cow, kg; our choice: below small breeds at first calving, above a calf and a person.
const LIGHTEST_COW_KG: f32 = 250.0;
/// Heaviest cow, kg; our choice.
const HEAVIEST_COW_KG: f32 = 1200.0;
/// A total above this share of her standing weight means that somebody else is on; a step off weighs on the
/// deck with less. Our choice.
const MORE_THAN_ONE: f32 = 1.2;
/// ... for this many blocks in a row; our choice.
const MORE_BLOCKS: u8 = 3;
/// Shortest passage that is worth measuring, s; our choice: at 1.4 m/s, the speed of sound cows (Chapinal), a
/// deck of 1.6 m is crossed in 1.1 s.
const SHORTEST_S: f32 = 1.0;
/// Standard error of a weight by the stride, share of the weight; our choice: twice that of a step on the deck, since
/// strides are uneven and feet land half beside it.
const ONE_STRIDE_SE: f32 = 0.06;
/// Ringing: RMS over the deck within the ring band, kg; our choice: 1 % of a cow.
const RING_KG: f32 = 5.0;
/// Ringing must be seen in this many blocks; our choice.
const RING_BLOCKS: u16 = 3;
/// Landing feet shake the deck; ringing is looked for this long after the last landing or lifting, ms. Our
/// choice.
const RING_QUIET_MS: u64 = 300;
/// ... and this many blocks before the next: a foot unloads before it lifts. Our choice.
const RING_WAIT: u8 = 2;
/// Share of readings that may be missing; our choice.
const LOST_SHARE: f32 = 0.02;

/// What is known only when the passage is over.
#[derive(Clone, Copy, Debug)]
pub struct Closing {
    /// Last foot off.
    pub end: Milliseconds,
    /// Readings up to then.
    pub rate_hz: f32,
    /// Reasons found outside the passage.
    pub quality: Quality,
}

/// One passage while it lasts.
#[derive(Clone, Debug)]
pub struct Passage {
    /// First foot on.
    pub start: Milliseconds,
    /// Whether the filtered total has confirmed it.
    pub confirmed: bool,
    /// Reasons found so far.
    pub quality: Quality,
    readings: u32,
    readings_on: u32,
    feet: Feet,
    stances: Stances,
    weight: WalkWeight,
    heaviest: f32,
    level: f32,
    more: u8,
    ring: u16,
    ring_waiting: u8,
}

impl Passage {
    /// A passage that begins now.
    #[must_use]
    pub fn new(start: Milliseconds) -> Self {
        Self {
            start,
            confirmed: false,
            quality: Quality::default(),
            readings: 0,
            readings_on: 0,
            feet: Feet::default(),
            stances: Stances::default(),
            weight: WalkWeight::default(),
            heaviest: 0.0,
            level: 0.0,
            more: 0,
            ring: 0,
            ring_waiting: 0,
        }
    }

    /// Takes one reading; `on` where the deck carries a foot.
    pub fn push(&mut self, time: Milliseconds, seconds: f32, loads: [f32; 4], filtered: [f32; 4], on: bool) {
        self.readings = self.readings.saturating_add(1);
        if on {
            self.readings_on = self.readings;
        }
        self.feet.push(time, seconds, loads, filtered);
    }

    /// Takes one block; `ring` is the RMS within the ring band, kg.
    pub fn block(&mut self, time: Milliseconds, block: Batch, ring: f32) {
        let all = total(block.loads);
        self.heaviest = self.heaviest.max(all);
        self.weight.push(block.loads, block.seconds);
        let stood = self.stances.push(block);
        if stood == Stood::Yes {
            self.level = self.stances.level();
            self.feet.stand();
        }
        let more = all > HEAVIEST_COW_KG || (self.stances.stood() && all > MORE_THAN_ONE * self.level);
        self.more = if more { self.more.saturating_add(1) } else { 0 };
        if self.more >= MORE_BLOCKS {
            self.quality.add(Reason::TwoAnimals);
        }
        let quiet = time.since(self.feet.last_event()).0 >= RING_QUIET_MS;
        let waiting = if quiet { self.ring_waiting } else { 0 };
        self.ring_waiting = waiting << 1 | u8::from(quiet && ring > RING_KG);
        if self.ring_waiting & (1 << RING_WAIT) != 0 {
            self.ring = self.ring.saturating_add(1);
        }
    }

    /// Readings were lost.
    pub fn interrupt(&mut self) {
        self.quality.add(Reason::LostReadings);
        self.stances.interrupt();
        self.feet.interrupt();
    }

    /// She was on before the first reading.
    pub fn cut_off(&mut self) {
        self.quality.add(Reason::CutOff);
        self.feet.interrupt();
    }

    /// The summary.
    pub fn finish(&mut self, closing: Closing) -> PassageSummary {
        let mut quality = Quality(self.quality.0 | closing.quality.0);
        let duration = closing.end.since(self.start);
        self.feet.finish(closing.end);
        let stood = self.stances.finish();

        #[allow(clippy::cast_precision_loss)]
        let missing = duration.seconds() * closing.rate_hz + 1.0 - self.readings_on as f32;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // `as` saturates.
        let lost_readings = libm::roundf(missing.max(0.0)) as u32;
        if missing > LOST_SHARE * duration.seconds() * closing.rate_hz + 1.0 {
            quality.add(Reason::LostReadings);
        }
        let all_walked = self.feet.walking(1.0).0.iter().all(|leg| leg.count > 0);
        let kind = if stood.is_some() {
            PassageKind::Stance
        } else if all_walked {
            PassageKind::WalkThrough
        } else {
            PassageKind::Unclear
        };
        let weight = match kind {
            PassageKind::Stance => stood.map(|(weight, _)| weight),
            PassageKind::WalkThrough => self.feet.weight_by_stride().map_or_else(
                || self.weight.plateau(self.feet.step_s()),
                |value| Some(Estimate { value, se: ONE_STRIDE_SE * value }),
            ),
            PassageKind::Unclear => None,
        };
        let likely = weight.map_or(self.heaviest, |weight| weight.value);
        for (found, reason) in [
            (self.feet.second_animal() || self.stances.uneven(), Reason::TwoAnimals),
            (self.feet.across(), Reason::FootAcross),
            (stood.is_none(), Reason::NoStance),
            (duration.seconds() < SHORTEST_S, Reason::TooShort),
            (self.feet.backed_out(), Reason::BackedOut),
            (self.ring >= RING_BLOCKS, Reason::Ringing),
            (likely < LIGHTEST_COW_KG, Reason::TooLight),
            (self.feet.one_plate_idle(), Reason::StuckPlate),
            (
                kind == PassageKind::Unclear || (kind == PassageKind::WalkThrough && self.feet.unsure()),
                Reason::FeetUnsure,
            ),
        ] {
            if found {
                quality.add(reason);
            }
        }
        PassageSummary {
            start: self.start,
            duration,
            kind,
            quality,
            readings: self.readings_on,
            lost_readings,
            body_weight: weight,
            standing: stood.map(|(_, standing)| standing),
            walking: weight.map_or(PerLeg::default(), |weight| self.feet.walking(weight.value)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether so many blocks with a total of `then` after three seconds with one of `first` are too much for one cow.
    fn two_animals(first: f32, then: f32, blocks: usize) -> bool {
        let mut passage = Passage::new(Milliseconds(0));
        for all in [first; 30].into_iter().chain(core::iter::repeat_n(then, blocks)) {
            passage.block(Milliseconds(0), Batch { loads: [all / 4.0; 4], seconds: 0.1 }, 0.0);
        }
        passage.quality.has(Reason::TwoAnimals)
    }

    #[test]
    fn three_blocks_above_six_fifths_of_her_standing_weight_are_two_animals() {
        // 1.2 x 600 = 720.
        assert!(two_animals(600.0, 724.0, 3));
        assert!(!two_animals(600.0, 716.0, 3));
        assert!(!two_animals(600.0, 724.0, 2));
        // Without a stance before, only what no cow weighs.
        assert!(two_animals(0.0, 1204.0, 3) && !two_animals(0.0, 1196.0, 3));
    }
}
