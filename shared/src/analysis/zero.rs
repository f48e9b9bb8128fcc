//! The zero of the empty deck, followed as dung falls and is washed off.

use crate::units::Milliseconds;

/// Length of the windows in which the empty deck is looked at, ms; our choice: several fit between cows 3 s
/// apart. A window is used only when the next is over as well, so that a landing foot never counts as zero.
const WINDOW_MS: u64 = 300;
/// Gap between readings that voids a window, ms; our choice.
const WINDOW_GAP_MS: u64 = 200;
/// Largest SD of a plate within a window that still counts as an empty deck, kg; our choice.
const STEADY_SD_KG: f32 = 3.0;
/// Fastest tracking, kg/s: 0.5 scale intervals a second with an interval of 0.5 kg. OIML R 76-1 clause 4.5.7 is
/// quoted so by public verification programs; the clause itself was not read.
const TRACK_KG_PER_S: f32 = 0.25;
/// Share of the offset taken out per window; our choice.
const TRACK_SHARE: f32 = 0.5;
/// An offset above this is a step (dung, water, something left on the deck), kg; our choice.
const STEP_KG: f32 = 1.0;
/// Two windows in a row must agree within this to take a step, kg; our choice.
const AGREE_KG: f32 = 0.5;
/// Weight of a new window in the running noise figure; our choice.
const NOISE_SHARE: f32 = 0.1;

/// Follows the zero of each plate.
#[derive(Clone, Debug, Default)]
pub struct ZeroTracker {
    zero: [f32; 4],
    noise: [f32; 4],
    seen: Option<Milliseconds>,
    previous: Option<[f32; 4]>,
    waiting: Option<Look>,
    window: Window,
}

/// What one window showed.
#[derive(Clone, Copy, Debug)]
struct Look {
    mean: [f32; 4],
    sd: [f32; 4],
    end: Milliseconds,
    seconds: f32,
}

#[derive(Clone, Copy, Debug, Default)]
struct Window {
    count: f32,
    first: [f32; 4],
    sum: [f32; 4],
    squares: [f32; 4],
    start: Milliseconds,
    last: Milliseconds,
}

impl ZeroTracker {
    /// The tracked zero, kg.
    #[must_use]
    pub const fn zero(&self) -> [f32; 4] {
        self.zero
    }

    /// SD of the empty deck, kg; 0 until it was seen.
    #[must_use]
    pub const fn noise(&self) -> [f32; 4] {
        self.noise
    }

    /// When the empty deck was last seen.
    #[must_use]
    pub const fn seen(&self) -> Option<Milliseconds> {
        self.seen
    }

    /// The loads above zero.
    #[must_use]
    pub fn net(&self, mut loads: [f32; 4]) -> [f32; 4] {
        for (load, zero) in loads.iter_mut().zip(self.zero) {
            *load -= zero;
        }
        loads
    }

    /// Takes one reading of the empty deck.
    pub fn push(&mut self, time: Milliseconds, loads: [f32; 4]) {
        if self.window.count > 0.0 && time.since(self.window.last).0 > WINDOW_GAP_MS {
            self.interrupt();
        }
        let window = &mut self.window;
        if window.count == 0.0 {
            (window.start, window.first) = (time, loads);
        }
        window.last = time;
        window.count += 1.0;
        for (((sum, square), x), first) in
            window.sum.iter_mut().zip(&mut window.squares).zip(loads).zip(window.first)
        {
            let d = x - first;
            *sum += d;
            *square += d * d;
        }
        if time.since(window.start).0 >= WINDOW_MS {
            self.close();
        }
    }

    /// The deck is no longer empty: what was gathered is not used.
    pub fn interrupt(&mut self) {
        self.window = Window::default();
        self.previous = None;
        self.waiting = None;
    }

    /// Takes `loads` for zero at once: a dead load.
    pub fn set(&mut self, time: Milliseconds, loads: [f32; 4]) {
        self.zero = loads;
        self.seen = Some(time);
        self.interrupt();
    }

    fn close(&mut self) {
        let window = core::mem::take(&mut self.window);
        let mut mean = window.first;
        let mut sd = [0.0; 4];
        for ((mean, sd), (sum, square)) in
            mean.iter_mut().zip(&mut sd).zip(window.sum.into_iter().zip(window.squares))
        {
            let shift = sum / window.count;
            *mean += shift;
            *sd = libm::sqrtf((square / window.count - shift * shift).max(0.0));
        }
        let seconds = window.last.since(window.start).seconds();
        let look = Look { mean, sd, end: window.last, seconds };
        let steady = sd.iter().all(|sd| *sd <= STEADY_SD_KG);
        let waited = if steady { self.waiting.replace(look) } else { self.waiting.take() };
        match waited {
            Some(look) if steady => self.take(look),
            _ => self.previous = None,
        }
    }

    fn take(&mut self, look: Look) {
        let first_look = self.seen.is_none();
        let share = if first_look { 1.0 } else { NOISE_SHARE };
        for (noise, sd) in self.noise.iter_mut().zip(look.sd) {
            *noise += share * (sd - *noise);
        }
        let limit = TRACK_KG_PER_S * look.seconds;
        let previous = self.previous.replace(look.mean);
        for (plate, (zero, mean)) in self.zero.iter_mut().zip(look.mean).enumerate() {
            let offset = mean - *zero;
            let again =
                previous.and_then(|p| p.get(plate).copied()).is_some_and(|p| (p - mean).abs() <= AGREE_KG);
            if first_look || (offset.abs() > STEP_KG && again) {
                *zero = mean;
            } else {
                // Not `clamp`, which panics where it is not clear that the bounds are in order.
                *zero += (TRACK_SHARE * offset).min(limit).max(-limit);
            }
        }
        self.seen = Some(look.end);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether readings so far apart are taken for the empty deck.
    fn looked(gap_ms: u64) -> bool {
        let mut tracker = ZeroTracker::default();
        (0..6).for_each(|reading| tracker.push(Milliseconds(reading * gap_ms), [0.2, 0.0, 0.0, 0.0]));
        tracker.seen().is_some()
    }

    #[test]
    fn a_gap_voids_what_was_gathered_and_the_longest_allowed_does_not() {
        assert!(looked(WINDOW_GAP_MS));
        assert!(!looked(WINDOW_GAP_MS + 1));
    }

    #[test]
    fn half_of_a_small_offset_is_taken_out_and_no_more_than_the_limit() {
        let look = |mean| Look { mean, sd: [0.0; 4], end: Milliseconds(0), seconds: 0.3 };
        let mut tracker = ZeroTracker::default();
        tracker.take(look([0.0; 4]));
        tracker.take(look([0.1, -0.1, 0.4, -0.4]));
        // Half of .1; .25 kg/s for .3 s.
        for (found, expected) in tracker.zero().into_iter().zip([0.05, -0.05, 0.075, -0.075]) {
            assert!((found - expected).abs() < 1e-6, "{found} instead of {expected}");
        }
    }
}
