//! Whether the time of a row can follow the row before it.

/// A step ahead longer than this must be borne out by the next row, µs. Our choice.
const JUMP_US: i64 = 10_000_000;
/// Rows in a row that must run on from an earlier time until the clock counts as set back. Our choice: half a
/// second at 20 Hz.
const BACK_ROWS: u32 = 10;

/// What to make of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClockReading {
    /// It follows.
    Follows,
    /// It lies far ahead: hold it back until the next row.
    Ahead,
    /// It has the time of the row before.
    Same,
    /// It lies before the row before, by so many µs.
    Back(i64),
    /// It lies before, as did those before it: the clock was set back by so many µs. It starts a new stretch.
    SetBack(i64),
}

/// Follows the times of a file, µs.
#[derive(Clone, Copy, Debug, Default)]
pub struct Clock {
    last: Option<i64>,
    back_last: i64,
    back_rows: u32,
}

impl Clock {
    /// Judges a time; one that follows or begins a new stretch becomes the last.
    #[inline]
    pub fn judge(&mut self, time: i64) -> ClockReading {
        let Some(last) = self.last else {
            self.last = Some(time);
            return ClockReading::Follows;
        };
        let step = time - last;
        if step > 0 && step <= JUMP_US {
            self.last = Some(time);
            self.back_rows = 0;
            return ClockReading::Follows;
        }
        if step > JUMP_US {
            return ClockReading::Ahead;
        }
        if step == 0 {
            return ClockReading::Same;
        }
        self.back_rows = if self.back_rows > 0 && time > self.back_last { self.back_rows + 1 } else { 1 };
        self.back_last = time;
        if self.back_rows <= BACK_ROWS {
            return ClockReading::Back(-step);
        }
        self.set(time);
        ClockReading::SetBack(-step)
    }

    /// Takes a time as the last.
    pub const fn set(&mut self, time: i64) {
        self.last = Some(time);
        self.back_rows = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_row_back_is_left_out_and_a_clock_set_back_is_followed() {
        let mut clock = Clock::default();
        assert_eq!(clock.judge(100_000_000), ClockReading::Follows);
        assert_eq!(clock.judge(100_010_000), ClockReading::Follows);
        assert_eq!(clock.judge(100_010_000), ClockReading::Same);
        assert_eq!(clock.judge(99_000_000), ClockReading::Back(1_010_000));
        assert_eq!(clock.judge(100_020_000), ClockReading::Follows);
        let back: Vec<_> = (0..12).map(|i| clock.judge(50_000_000 + i * 10_000)).collect();
        assert!(back[..10].iter().all(|verdict| matches!(verdict, ClockReading::Back(_))));
        assert!(matches!(back[10], ClockReading::SetBack(_)));
        assert_eq!(back[11], ClockReading::Follows);
    }

    #[test]
    fn a_jump_ahead_needs_a_second_row() {
        let mut clock = Clock::default();
        clock.judge(0);
        assert_eq!(clock.judge(3_600_000_000), ClockReading::Ahead);
        assert_eq!(clock.judge(10_000), ClockReading::Follows);
        clock.set(3_600_000_000);
        assert_eq!(clock.judge(3_600_010_000), ClockReading::Follows);
    }
}
