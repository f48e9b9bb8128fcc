//! Rows of readings: parsed, in rising time.

use crate::import::readings::clock::{Clock, ClockReading};
use crate::import::readings::whole::Whole;
use crate::import::readings::{COLUMNS, quick};
use crate::import::value::{self, TimeReader};
use crate::import::{NextRow, Problems, Row, RowFault, Table};
use jiff::Timestamp;
use std::io::{self, Read};

/// A reading and its time in µs.
pub(super) type Timed = (i64, [f32; 4]);

/// Good rows in rising time.
pub(super) struct ReadingRows<'c, R> {
    pub(super) table: Table<'c, R>,
    times: TimeReader,
    clock: Clock,
    /// A row far ahead, waiting for the next to bear it out, and its line.
    pending: Option<(Timed, u64)>,
    /// A row to be given out next.
    ready: Option<Timed>,
    /// The row given out last.
    pub(super) last: Option<Timed>,
    /// What the file looks like so far.
    pub(super) whole: Whole,
}

impl<'c, R: Read> ReadingRows<'c, R> {
    /// Rows of a table of readings that is brought in at a moment.
    pub(super) fn new(table: Table<'c, R>, now: Timestamp) -> Self {
        Self {
            table,
            times: TimeReader::at(now),
            clock: Clock::default(),
            pending: None,
            ready: None,
            last: None,
            whole: Whole::default(),
        }
    }

    /// The next; what is left out goes to the problems.
    ///
    /// # Errors
    /// When the input cannot be read.
    pub(super) fn next(&mut self, problems: &mut Problems) -> io::Result<Option<Timed>> {
        if let Some(timed) = self.ready.take() {
            return Ok(Some(self.give(timed)));
        }
        loop {
            let times = &mut self.times;
            let (line, timed) = match self.table.next_or(problems, |line| quick::row(line, times))? {
                Some(NextRow::Quick { line, taken }) => (line, taken),
                Some(NextRow::Row(row)) => match parse(&row, times) {
                    Ok(timed) => (row.line, timed),
                    Err(fault) => {
                        problems.add(row.line, fault);
                        continue;
                    }
                },
                // Nothing speaks against a last row far ahead, nor for it: one reading is no passage.
                None => return Ok(self.pending.take().map(|(held, _)| held)),
            };
            if let Some((held, held_line)) = self.pending.take() {
                if timed.0 >= held.0 {
                    self.clock.set(held.0);
                    match self.clock.judge(timed.0) {
                        ClockReading::Ahead => self.pending = Some((timed, line)),
                        ClockReading::Same => problems.add(line, same(held.1 == timed.1)),
                        _ => self.ready = Some(timed),
                    }
                    return Ok(Some(self.give(held)));
                }
                let what = "time jumps ahead and comes back; the row was left out";
                problems.add(held_line, RowFault::of("time", what));
            }
            match self.clock.judge(timed.0) {
                ClockReading::Follows => return Ok(Some(self.give(timed))),
                ClockReading::Ahead => self.pending = Some((timed, line)),
                ClockReading::Same => {
                    let equal = self.last.is_some_and(|last| last.1 == timed.1);
                    problems.add(line, same(equal));
                }
                ClockReading::Back(micros) => problems.add(line, back(micros, "the row was left out")),
                ClockReading::SetBack(micros) => {
                    problems.add(line, back(micros, "taken as a clock set back; the rows from here count"));
                    return Ok(Some(self.give(timed)));
                }
            }
        }
    }

    #[inline]
    fn give(&mut self, timed: Timed) -> Timed {
        self.whole.push(timed.1);
        self.last = Some(timed);
        timed
    }
}

fn same(equal: bool) -> RowFault {
    RowFault::of(
        "time",
        if equal {
            "the same row twice; the second was left out"
        } else {
            "a second row of the same time was left out; write times to the millisecond"
        },
    )
}

#[allow(clippy::cast_precision_loss, reason = "shown with three digits")]
fn back(micros: i64, what: &str) -> RowFault {
    let seconds = micros as f64 / 1e6;
    RowFault::of("time", format!("time runs back by {seconds:.3} s; {what}; check the lane's clock"))
}

#[inline]
pub(super) fn parse(row: &Row<'_>, times: &mut TimeReader) -> Result<Timed, RowFault> {
    let time = times.micros("time", row.bytes(0))?;
    let mut loads = [0.0; 4];
    for (index, load) in loads.iter_mut().enumerate() {
        *load = value::number(COLUMNS[index + 1].name, row.bytes(index + 1))?;
    }
    Ok((time, loads))
}
