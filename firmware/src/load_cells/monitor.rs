//! What a converter does wrong: nothing comes, or one channel no longer moves.

use super::Sample;
use shared::{
    plate::{PerPlate, Plate},
    units::{Counts, Milliseconds},
};

/// A converter of 24 bits on a live bridge never gives the same code this often in a row (our choice: at
/// 200 Hz, 0.64 s; noise alone moves several of the last bits).
pub const STUCK_READINGS: u16 = 128;
/// No reading for this long is a fault, ms (our choice: a part that was reset settles in less).
pub const SILENCE_MS: u64 = 1_000;

/// Something the lane must be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChannelFault {
    /// No reading came for [`SILENCE_MS`].
    Silent,
    /// One plate has given the same code for [`STUCK_READINGS`] readings.
    Stuck(Plate),
}

/// Watches one converter.
pub struct Monitor {
    period_us: u32,
    last: Option<(Milliseconds, PerPlate<Counts>)>,
    started: Option<Milliseconds>,
    same: PerPlate<u16>,
    lost: u32,
    silent: bool,
}

impl Monitor {
    /// A monitor of a converter with a nominal time between readings, µs.
    #[must_use]
    pub const fn new(period_us: u32) -> Self {
        Self { period_us, last: None, started: None, same: PerPlate([0; 4]), lost: 0, silent: false }
    }

    /// Readings that should have come and did not, since boot.
    #[must_use]
    pub const fn lost(&self) -> u32 {
        self.lost
    }

    /// Plates that are stuck now.
    #[must_use]
    pub fn stuck(&self) -> PerPlate<bool> {
        PerPlate(self.same.0.map(|n| n >= STUCK_READINGS))
    }

    /// Takes a sample; tells of the first plate that has just become stuck.
    pub fn sample(&mut self, now: Milliseconds, sample: &Sample) -> Option<ChannelFault> {
        let mut fault = None;
        if let Some((before, counts)) = self.last {
            // In 32 bits: this runs at every reading, and the small processors divide 64 bits in software.
            let gap_ms = u32::try_from(now.since(before).0).unwrap_or(u32::MAX);
            let due_ms = self.period_us.div_ceil(1_000);
            if gap_ms > due_ms {
                let periods =
                    gap_ms.saturating_mul(1_000).saturating_add(self.period_us / 2) / self.period_us.max(1);
                self.lost = self.lost.saturating_add(periods.saturating_sub(1));
            }
            let counts = counts.0.iter().zip(&sample.counts.0);
            for ((same, plate), (before, now)) in self.same.0.iter_mut().zip(&Plate::ALL).zip(counts) {
                *same = if before == now { same.saturating_add(1) } else { 0 };
                if *same == STUCK_READINGS {
                    fault = fault.or(Some(ChannelFault::Stuck(*plate)));
                }
            }
        }
        self.last = Some((now, sample.counts));
        self.silent = false;
        fault
    }

    /// Looks at the clock between samples; tells once of each silence.
    pub fn idle(&mut self, now: Milliseconds) -> Option<ChannelFault> {
        let since = match self.last {
            Some((last, _)) => last,
            None => *self.started.get_or_insert(now),
        };
        if self.silent || now.since(since).0 < SILENCE_MS {
            return None;
        }
        self.silent = true;
        Some(ChannelFault::Silent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(codes: [i32; 4]) -> Sample {
        Sample { counts: PerPlate(codes.map(Counts)) }
    }

    #[test]
    fn one_stuck_plate_is_named_once() {
        let mut monitor = Monitor::new(5_000);
        let mut faults = std::vec::Vec::new();
        for n in 0..400 {
            faults.extend(
                monitor.sample(Milliseconds(5 * n), &sample([n as i32, 7, n as i32 % 2, -(n as i32)])),
            );
        }
        assert_eq!(faults, [ChannelFault::Stuck(Plate::RF)]);
        assert_eq!(monitor.stuck().0, [false, true, false, false]);
        monitor.sample(Milliseconds(2_000), &sample([0, 8, 0, 0]));
        assert_eq!(monitor.stuck().0, [false; 4]);
    }

    #[test]
    fn lost_readings_are_counted_and_jitter_is_not() {
        let mut monitor = Monitor::new(5_000);
        for t in [0, 5, 11, 15, 20, 40, 45] {
            monitor.sample(Milliseconds(t), &sample([t as i32; 4]));
        }
        assert_eq!(monitor.lost(), 3);
    }

    #[test]
    fn a_gap_counts_as_the_nearest_number_of_periods() {
        // At 5 ms: 12 ms are 2.4 periods and 13 ms 2.6, of which one reading came.
        for (gap, lost) in [(7, 0), (8, 1), (12, 1), (13, 2)] {
            let mut monitor = Monitor::new(5_000);
            monitor.sample(Milliseconds(100), &sample([1; 4]));
            monitor.sample(Milliseconds(100 + gap), &sample([2; 4]));
            assert_eq!(monitor.lost(), lost, "{gap} ms");
        }
    }

    #[test]
    fn silence_is_told_once_and_ends_with_a_sample() {
        let mut monitor = Monitor::new(5_000);
        assert_eq!(monitor.idle(Milliseconds(100)), None);
        assert_eq!(monitor.idle(Milliseconds(1_100)), Some(ChannelFault::Silent));
        assert_eq!(monitor.idle(Milliseconds(1_200)), None);
        monitor.sample(Milliseconds(1_300), &sample([1; 4]));
        assert_eq!(monitor.idle(Milliseconds(2_299)), None);
        assert_eq!(monitor.idle(Milliseconds(2_300)), Some(ChannelFault::Silent));
    }
}
