//! The main loop of every board: sample, read tags, talk, look to the gate, and feed the watchdog while all of that goes on.

use crate::{
    gate::pins::GatePort,
    link::Port,
    load_cells::{LoadCells, monitor::SILENCE_MS},
    scale::{Moment, Scale},
};
use embedded_io::{Read, ReadReady};
use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use shared::{units::Milliseconds, wire::ResetCause};

/// A duty that has not been done for this long starves the watchdog, ms (our choice: longer than a converter takes
/// to settle again and than any flash takes to erase a page).
pub const STARVE_MS: u64 = 10_000;
/// Bytes of the tag reader taken in one turn, so that a reader that babbles does not hold up the samples.
const TAG_BYTES: usize = 32;

/// Resets the processor unless it is fed. Set it to some seconds: the flash may keep the loop for one.
pub trait Watchdog {
    /// Begins the time anew.
    fn feed(&mut self);
}

impl<W: Watchdog> Watchdog for &mut W {
    fn feed(&mut self) {
        W::feed(self);
    }
}

/// A board without a watchdog.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoWatchdog;

impl Watchdog for NoWatchdog {
    fn feed(&mut self) {}
}

/// A clock of milliseconds since boot.
pub trait Clock {
    /// What time it is.
    fn now(&mut self) -> Milliseconds;
    /// What readings are stamped with: the same, except where recorded ones are played in.
    fn stamp(&mut self) -> Milliseconds {
        self.now()
    }
}

impl<K: FnMut() -> Milliseconds> Clock for K {
    fn now(&mut self) -> Milliseconds {
        self()
    }
}

/// What a board's loop reads and feeds beside the converter and the link.
pub struct Around<T, K, W, G> {
    /// The tag reader.
    pub tags: T,
    /// The clock.
    pub clock: K,
    /// The watchdog.
    pub watchdog: W,
    /// The gate.
    pub gate: G,
}

/// What a turn of the loop says to the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// A sample was taken.
    Sampled,
    /// No sample was ready: the processor may sleep for a moment.
    Idle,
    /// New settings are stored and told: the board should reset.
    Restart,
}

/// Where the parts of a board meet.
pub struct Lane<'s, 'a, C, P, F, T, K, W, G> {
    scale: &'s mut Scale<'a, P, F>,
    cells: C,
    around: Around<T, K, W, G>,
    reset: ResetCause,
    sampled: Option<Milliseconds>,
    talked: Milliseconds,
    restart_at: Milliseconds,
}

impl<'s, 'a, C, P, F, T, K, W, G> Lane<'s, 'a, C, P, F, T, K, W, G>
where
    C: LoadCells,
    P: Port,
    F: MultiwriteNorFlash,
    T: Read + ReadReady,
    K: Clock,
    W: Watchdog,
    G: GatePort,
{
    /// Starts the converter. `reset` is why the processor started. Where the converter does not answer, the loop
    /// tries again.
    pub fn new(
        scale: &'s mut Scale<'a, P, F>,
        mut cells: C,
        mut around: Around<T, K, W, G>,
        reset: ResetCause,
    ) -> Self {
        let _ = cells.restart();
        let talked = around.clock.now();
        Self { scale, cells, around, reset, sampled: None, talked, restart_at: Milliseconds(0) }
    }

    /// The application.
    pub const fn scale(&mut self) -> &mut Scale<'a, P, F> {
        self.scale
    }

    /// The converter.
    pub const fn cells(&mut self) -> &mut C {
        &mut self.cells
    }

    /// The rest of the board.
    pub const fn around(&mut self) -> &mut Around<T, K, W, G> {
        &mut self.around
    }

    /// What time it is.
    pub fn now(&mut self) -> Milliseconds {
        self.around.clock.now()
    }

    /// One turn; to be called as often as can be, at least once in half a sample period.
    #[inline(never)]
    pub fn turn(&mut self) -> Turn {
        // A sample with an error on its wires is lost, and counted by the gap it leaves.
        let sample = self.cells.poll().ok().flatten();
        let (now, clock) = (self.around.clock.now(), self.around.clock.stamp());
        let moment = Moment { clock, timer: now };
        if let Some(sample) = &sample {
            self.scale.sample(clock, sample);
            self.sampled = Some(now);
        } else if self.scale.idle(moment) || (self.scale.is_silent() && now >= self.restart_at) {
            self.restart_at = Milliseconds(now.0 + SILENCE_MS);
            let _ = self.cells.restart();
        }
        self.read_tags(clock);
        self.scale.judge();
        let stopped = self.around.gate.stopped();
        if let Some(high) = self.scale.gate(moment, stopped) {
            self.around.gate.put(high);
        }
        if self.scale.talk(moment).is_ok() {
            self.talked = now;
        }
        if self.samples_come(now) && now.since(self.talked).0 < STARVE_MS {
            self.around.watchdog.feed();
        }
        if self.scale.wants_restart() {
            Turn::Restart
        } else if sample.is_some() {
            Turn::Sampled
        } else {
            Turn::Idle
        }
    }

    #[inline(never)]
    fn read_tags(&mut self, now: Milliseconds) {
        let mut bytes = [0; TAG_BYTES];
        // A byte that came in broken spoils its line, which the line's own check finds.
        if let Ok(true) = self.around.tags.read_ready()
            && let Ok(count) = self.around.tags.read(&mut bytes)
        {
            bytes.iter().take(count).for_each(|byte| self.scale.tag_byte(now, *byte));
        }
    }

    /// Whether samples come, or a reset would not bring them: a converter that stayed away after the watchdog's reset
    /// is told in the health message, and the journal must get out all the same.
    fn samples_come(&self, now: Milliseconds) -> bool {
        match self.sampled {
            Some(sampled) => now.since(sampled).0 < STARVE_MS,
            None => now.0 < STARVE_MS || self.reset == ResetCause::Watchdog,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Counted(u32);

    impl Watchdog for Counted {
        fn feed(&mut self) {
            self.0 += 1;
        }
    }

    #[test]
    fn a_lent_watchdog_is_fed() {
        let mut counted = Counted(0);
        Watchdog::feed(&mut &mut counted);
        assert_eq!(counted.0, 1);
    }
}
