//! The whole path from calibrated readings to passage summaries, one reading at a time.

use super::{
    PassageSummary, Quality, Reading, Reason,
    filter::{LowPass, RingBand},
    frozen::FrozenPlates,
    passage::{Closing, Passage},
    stance::Batch,
    tally::total,
    zero::ZeroTracker,
};
use crate::{
    limits::{MAX_RATE_HZ, MIN_RATE_HZ},
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
};

/// Length of a block, ms; our choice: two readings at the slowest rate, one period of a 10 Hz ring.
const BLOCK_MS: f32 = 100.0;
/// Filtered total above which somebody is on, kg; our choice: above dung and rinsing, below a calf.
const ON_KG: f32 = 25.0;
/// Filtered total below which nobody is on, kg; our choice.
const OFF_KG: f32 = 15.0;
/// Filtered total above which somebody is on before the zero is known, kg; our choice: an unset deck may be off
/// by much.
const ON_UNKNOWN_KG: f32 = 100.0;
/// Unfiltered total of the first foot on and the last foot off, kg; our choice: above noise.
const EDGE_KG: f32 = 8.0;
/// The first foot was on at most this long before the filtered total said so, ms; our choice.
const LOOK_BACK_MS: u64 = 400;
/// The last foot is off at most this long after the filtered total says so, ms; our choice.
const OFF_SLACK_MS: u64 = 100;
/// The deck must be empty for this long to end a passage, ms; our choice: no foot swaps so slowly, and cows 3 s
/// apart stay apart.
const EMPTY_MS: u64 = 500;
/// A clock set back by more than this begins anew, ms; our choice.
const CLOCK_BACK_MS: u64 = 1000;
/// Slowest rate at which ringing is looked for, Hz: below, 15 Hz and more folds onto the movements of the cow. Our
/// choice.
const RING_RATE_HZ: f32 = 40.0;
/// Loads beyond this are taken as this, kg; our choice: no lane carries more, and sums stay finite.
const LARGEST_KG: f32 = 20_000.0;
/// Gap between readings after which filters start anew, ms; our choice.
const GAP_MS: u64 = 300;
/// Gap after which she may not be the same cow, ms; our choice.
const LONG_GAP_MS: u64 = 2000;
/// A passage that lasts longer is closed as cut off, ms; our choice.
const LONGEST_MS: u64 = 20 * 60 * 1000;
/// Dead load: a load up to this (kg) that stays the same for this long (ms) is not alive. Our choice.
const DEAD_LOADS: [(f32, u64); 2] = [(30.0, 2000), (150.0, 60_000)];
/// How much a plate of a dead load may move, kg; our choice.
const DEAD_KG: f32 = 1.5;
/// A zero older than this is unsure, ms; our choice.
const ZERO_AGE_MS: u64 = 120_000;
/// Load left on a plate after a passage that makes its zero unsure, kg; our choice: 2 % of the load of a leg of
/// a 600 kg cow.
const LEFT_KG: f32 = 3.0;

/// What one reading brought.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Step {
    /// Loads above the tracked zero, unfiltered.
    pub loads: PerPlate<Kilograms>,
    /// Whether somebody is on the deck.
    pub occupied: bool,
}

/// Turns readings into passages.
///
/// Readings at 20 to 1000 Hz, gaps allowed. All memory is in this value; work per reading is bounded.
#[derive(Clone, Debug)]
pub struct Analyser {
    rate_hz: f32,
    low_pass: LowPass,
    ring_band: RingBand,
    zero: ZeroTracker,
    frozen: FrozenPlates,
    last: Option<Milliseconds>,
    last_on: Milliseconds,
    block: Gathering,
    still: Still,
    passage: Option<Passage>,
    empty_since: Option<Milliseconds>,
    /// Kept here and not handed out with each reading: most end no passage, and it is large.
    summary: Option<PassageSummary>,
}

/// The block being gathered.
#[derive(Clone, Copy, Debug, Default)]
struct Gathering {
    start: Option<Milliseconds>,
    sum: [f32; 4],
    ring: f32,
    count: f32,
}

/// Since when the plates have not moved.
#[derive(Clone, Copy, Debug, Default)]
struct Still {
    level: [f32; 4],
    since: Milliseconds,
}

impl Analyser {
    /// An analyser for readings at about `rate_hz`; a rate outside 20..=1000 is taken as the nearest bound.
    #[must_use]
    pub fn new(rate_hz: f32) -> Self {
        let rate_hz = if rate_hz.is_finite() { rate_hz.clamp(MIN_RATE_HZ, MAX_RATE_HZ) } else { MIN_RATE_HZ };
        Self {
            rate_hz,
            low_pass: LowPass::new(rate_hz),
            ring_band: RingBand::new(rate_hz),
            zero: ZeroTracker::default(),
            frozen: FrozenPlates::default(),
            last: None,
            last_on: Milliseconds(0),
            block: Gathering::default(),
            still: Still::default(),
            passage: None,
            empty_since: None,
            summary: None,
        }
    }

    /// The passage that ended with the last reading, if one did.
    #[must_use]
    pub const fn ended(&self) -> Option<&PassageSummary> {
        self.summary.as_ref()
    }

    /// The tracked zero of each plate, on top of the calibration's.
    #[must_use]
    pub fn zero(&self) -> PerPlate<Kilograms> {
        PerPlate(self.zero.zero().map(Kilograms))
    }

    /// SD of the readings of each plate on the empty deck; 0 until it was seen.
    #[must_use]
    pub fn noise(&self) -> PerPlate<Kilograms> {
        PerPlate(self.zero.noise().map(Kilograms))
    }

    /// Takes the next reading.
    ///
    /// A reading that is not a number, or not later than the one before, is left out. A clock set back by more
    /// than a second ends the passage as cut off. Whether a passage ended says [`Self::ended`].
    pub fn push(&mut self, reading: &Reading) -> Step {
        let time = reading.time;
        let raw = reading.loads.0.map(|load| load.0);
        self.summary = None;
        if let Some(last) = self.last {
            if last.since(time).0 > CLOCK_BACK_MS {
                self.finish();
            } else if time <= last {
                return self.step(raw);
            }
        }
        if raw.iter().any(|load| !load.is_finite()) {
            return self.step(self.zero.zero());
        }
        let raw = raw.map(|load| load.clamp(-LARGEST_KG, LARGEST_KG));
        let gap = self.last.map(|last| time.since(last));
        if gap.is_some_and(|gap| gap.0 > LONG_GAP_MS) {
            self.finish();
        }
        let first = self.last.is_none();
        self.last = Some(time);

        let net = self.zero.net(raw);
        let jumped = gap.is_none_or(|gap| gap.0 > GAP_MS);
        if jumped {
            self.restart(net);
        }
        let filtered = self.low_pass.push(net);
        let ring = if self.rate_hz >= RING_RATE_HZ { self.ring_band.push(net) } else { [0.0; 4] };
        let seconds = if jumped { 1.0 / self.rate_hz } else { gap.unwrap_or_default().seconds() };

        self.frozen.push(time, raw, self.zero.noise());
        let threshold = self.on_threshold();
        self.look_for_start(time, net, first);
        let on = total(net) > EDGE_KG;
        if on {
            self.last_on = time;
        }
        if let Some(passage) = &mut self.passage {
            passage.push(time, seconds, net, filtered, on);
            if reading.saturated.0.contains(&true) {
                passage.quality.add(Reason::Saturated);
            }
            if self.frozen.any() {
                passage.quality.add(Reason::StuckPlate);
            }
            if !passage.confirmed && total(filtered) > threshold {
                passage.confirmed = true;
                if self.zero.seen().is_none_or(|seen| passage.start.since(seen).0 > ZERO_AGE_MS) {
                    passage.quality.add(Reason::ZeroUnsure);
                }
                self.zero.interrupt();
                self.empty_since = None;
            }
        }
        if !self.occupied() {
            self.zero.push(time, raw);
        }
        self.gather(time, filtered, ring);
        self.look_for_end(time, filtered);
        self.step(raw)
    }

    /// The readings have ended: closes the passage that is on, as cut off.
    pub fn finish(&mut self) -> Option<&PassageSummary> {
        let last = self.last.take();
        self.zero.interrupt();
        let Some(start) =
            self.passage.as_ref().filter(|passage| passage.confirmed).map(|passage| passage.start)
        else {
            self.passage = None;
            return None;
        };
        let mut quality = Quality::default();
        let end = match self.empty_since {
            Some(empty) => self.last_foot_off(empty),
            None => {
                quality.add(Reason::CutOff);
                last.unwrap_or(start)
            }
        };
        self.close(end, quality);
        self.summary.as_ref()
    }

    fn occupied(&self) -> bool {
        self.passage.as_ref().is_some_and(|passage| passage.confirmed)
    }

    fn on_threshold(&self) -> f32 {
        if self.zero.seen().is_some() { ON_KG } else { ON_UNKNOWN_KG }
    }

    fn step(&self, raw: [f32; 4]) -> Step {
        Step { loads: PerPlate(self.zero.net(raw).map(Kilograms)), occupied: self.occupied() }
    }

    /// Begins anew after a gap: the filters know nothing of the time between.
    fn restart(&mut self, net: [f32; 4]) {
        self.low_pass.settle(net);
        self.ring_band.settle(net);
        self.block = Gathering::default();
        if let Some(passage) = &mut self.passage {
            passage.interrupt();
        }
    }

    // A frame of its own: the new passage may pass over the stack.
    #[inline(never)]
    fn look_for_start(&mut self, time: Milliseconds, net: [f32; 4], first: bool) {
        let on = total(net) > EDGE_KG;
        let stale = self
            .passage
            .as_ref()
            .is_some_and(|passage| !passage.confirmed && (!on || time.since(passage.start).0 > LOOK_BACK_MS));
        if stale {
            self.passage = None;
        }
        if on && self.passage.is_none() {
            let passage = self.passage.insert(Passage::new(time));
            if first {
                passage.cut_off();
            }
        }
    }

    fn gather(&mut self, time: Milliseconds, filtered: [f32; 4], ring: [f32; 4]) {
        let block = &mut self.block;
        let start = *block.start.get_or_insert(time);
        for (sum, load) in block.sum.iter_mut().zip(filtered) {
            *sum += load;
        }
        block.ring += ring.iter().map(|x| x * x).sum::<f32>();
        block.count += 1.0;
        let elapsed_ms = time.since(start).float() + 1000.0 / self.rate_hz;
        if elapsed_ms < BLOCK_MS - 500.0 / self.rate_hz {
            return;
        }
        let block = core::mem::take(block);
        let loads = block.sum.map(|sum| sum / block.count);
        let seconds = block.count / self.rate_hz;
        let moved = loads.iter().zip(self.still.level).any(|(load, level)| (load - level).abs() > DEAD_KG);
        if moved {
            self.still = Still { level: loads, since: time };
        }
        if let Some(passage) = &mut self.passage {
            passage.block(time, Batch { loads, seconds }, libm::sqrtf(block.ring / block.count));
        }
    }

    fn look_for_end(&mut self, time: Milliseconds, filtered: [f32; 4]) {
        let Some(passage) = self.passage.as_ref().filter(|passage| passage.confirmed) else { return };
        let off = total(filtered) < OFF_KG && filtered.iter().all(|load| *load < OFF_KG);
        if !off {
            self.empty_since = None;
        } else if self.empty_since.is_none() {
            self.empty_since = Some(time);
        }
        if self.empty_since.is_some_and(|since| time.since(since).0 >= EMPTY_MS) {
            let mut quality = Quality::default();
            if filtered.iter().any(|load| load.abs() > LEFT_KG) {
                quality.add(Reason::ZeroUnsure);
            }
            let end = self.empty_since.map_or(self.last_on, |since| self.last_foot_off(since));
            return self.close(end, quality);
        }
        let load: f32 =
            filtered.iter().zip(self.frozen.stuck()).filter(|(_, stuck)| !stuck).map(|(load, _)| load).sum();
        let still_ms = time.since(self.still.since).0;
        let dead = DEAD_LOADS.iter().any(|(kilograms, ms)| load < *kilograms && still_ms >= *ms);
        let end = self.still.since;
        if dead && end > passage.start {
            let level = self.still.level;
            let mut zero = self.zero.zero();
            for (zero, level) in zero.iter_mut().zip(level) {
                *zero += level;
            }
            let mut quality = Quality::default();
            quality.add(Reason::ZeroUnsure);
            self.close(end, quality);
            self.zero.set(time, zero);
            self.low_pass.settle([0.0; 4]);
            self.still = Still { level: [0.0; 4], since: time };
        } else if time.since(passage.start).0 > LONGEST_MS {
            let mut quality = Quality::default();
            quality.add(Reason::CutOff);
            self.close(time, quality);
        }
    }

    /// The last foot was off when the unfiltered total fell, but where dung keeps it up, when the filtered one did.
    fn last_foot_off(&self, empty_since: Milliseconds) -> Milliseconds {
        self.last_on.min(Milliseconds(empty_since.0.saturating_add(OFF_SLACK_MS)))
    }

    // A frame of its own, and in place: passage and summary are too large to be moved over a small stack.
    #[inline(never)]
    fn close(&mut self, end: Milliseconds, quality: Quality) {
        self.empty_since = None;
        let closing = Closing { end, rate_hz: self.rate_hz, quality };
        self.summary = self.passage.as_mut().map(|passage| passage.finish(closing));
        self.passage = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const START: Milliseconds = Milliseconds(10_000);

    /// How long the passage was, ms, if it ended because a load on one plate had been still for so long; she came at
    /// `START`, and it was still from so long after that on.
    fn ended(kilograms: f32, still_ms: u64, after_ms: u64) -> Option<u64> {
        let mut analyser = Analyser::new(100.0);
        let mut passage = Passage::new(START);
        passage.confirmed = true;
        analyser.passage = Some(passage);
        let loads = [kilograms, 0.0, 0.0, 0.0];
        let since = Milliseconds(START.0 + after_ms);
        analyser.still = Still { level: loads, since };
        analyser.look_for_end(Milliseconds(since.0 + still_ms), loads);
        if let Some(summary) = analyser.ended() {
            assert!(summary.quality.has(Reason::ZeroUnsure) && !analyser.occupied());
            assert_eq!(analyser.zero.zero(), loads);
        }
        analyser.ended().map(|summary| summary.duration.0)
    }

    #[test]
    fn a_load_that_is_still_for_long_enough_is_dead() {
        assert_eq!(ended(29.9, 2000, 500), Some(500));
        assert_eq!(ended(29.9, 1999, 500), None);
        assert_eq!(ended(30.0, 59_999, 500), None);
        assert_eq!(ended(149.9, 60_000, 500), Some(500));
        assert_eq!(ended(150.0, 60_000, 500), None);
    }

    #[test]
    fn a_load_that_was_still_from_the_start_ends_no_passage() {
        assert_eq!(ended(29.9, 2000, 1), Some(1));
        assert_eq!(ended(29.9, 2000, 0), None);
    }
}
