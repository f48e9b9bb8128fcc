//! Plate readings: CSV in, passages out, in one pass and in memory that does not grow with the file.

use crate::identity;
use crate::import::readings::clock::{Clock, ClockReading};
use crate::import::readings::recorder::PassageRecorder;
use crate::import::readings::whole::Whole;
use crate::import::value::TimeReader;
use crate::import::{
    BATCH, Column, ImportError, Input, Outcome, Problems, Row, RowFault, Table, layout, value,
};
use crate::store::{SourceCounts, SourceId, Store};
use jiff::Timestamp;
use shared::{
    analysis::Reading,
    limits::{MAX_RATE_HZ, MIN_RATE_HZ},
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
};
use std::io::Read;

mod clock;
mod recorder;
mod whole;

const COLUMNS: &[Column] = &[
    Column::needed("time"),
    Column::needed("lf"),
    Column::needed("rf"),
    Column::needed("lr"),
    Column::needed("rr"),
];
/// Readings from which the rate is measured. Our choice: a second at the fastest rate.
const RATE_READINGS: usize = 1000;
/// Passages stored together: with their traces, a few megabytes. Our choice.
const PASSAGES: usize = BATCH / 10;
/// A file goes on where the one before ended if it begins within this, µs: three readings at the slowest rate, less than
/// the gap at which the analysis begins anew. Our choice.
const JOIN_MICROS: i64 = 150_000;
/// How far the rate of the whole file may lie from the one measured first. Our choice.
const RATE_DRIFT: f64 = 0.1;

/// A reading and its time in µs.
type Timed = (i64, [f32; 4]);

/// Readings of a lane, `time,lf,rf,lr,rr`, file after file: a cow at the seam of two files stays one cow.
pub struct Importer<'s> {
    store: &'s Store,
    lane: &'s str,
    before: Option<Before>,
}

/// The analysis as the file before left it.
struct Before {
    recorder: PassageRecorder,
    rate: f64,
    last: i64,
}

impl<'s> Importer<'s> {
    /// An importer for a lane.
    #[must_use]
    pub const fn new(store: &'s Store, lane: &'s str) -> Self {
        Self { store, lane, before: None }
    }

    /// Brings in the next file.
    ///
    /// # Errors
    /// When the file cannot be read or the store cannot be written; what was stored before stays, and the same import
    /// run again completes it.
    pub fn file(&mut self, input: Input) -> Result<Outcome, ImportError> {
        let (store, lane) = (self.store, self.lane);
        let (name, counted, now) = (input.name.clone(), input.counted(), input.now);
        let unit = input.layout.unit;
        let mut problems = Problems::of(&name);
        let table = Table::open(layout::documented(input, COLUMNS, &mut problems)?, COLUMNS, &mut problems)?;
        let source = store.begin_source("readings", &name, Timestamp::now())?;
        let mut sink = Sink { store, source, lane, counts: SourceCounts::default(), span: None, usable: 0 };
        let before = self.before.take();
        if let Some(table) = table {
            let mut rows = ReadingRows {
                table,
                times: TimeReader::at(now),
                clock: Clock::default(),
                pending: None,
                ready: None,
                last: None,
                whole: Whole::default(),
            };
            self.before = stream(&mut rows, before, &mut sink, &mut problems)?;
            sink.counts.rows = rows.table.rows();
            let wrong = if sink.usable == 0 { rows.whole.looks_like(unit) } else { None };
            if let Some(wrong) = wrong {
                let passages = sink.counts.added + sink.counts.already;
                let what = format!(
                    "{passages} of {passages} passages unusable: {wrong}. Nothing of the file was kept"
                );
                problems.add(0, RowFault::row(what));
                store.forget_passages(source)?;
                (sink.counts.added, sink.span, self.before) = (0, None, None);
            }
        }
        if let Some((first, last)) = sink.span {
            store.batch(|store| identity::rematch(store, lane, first, last))?;
        }
        let mut counts = sink.counts;
        (counts.bytes, counts.crc32, counts.bad) = (counted.bytes(), counted.crc32(), problems.count);
        store.finish_source(source, &counts, Timestamp::now())?;
        Ok(Outcome::new("readings", name, &counts, problems))
    }
}

/// Measures the rate from the first readings, then analyses them and all that follow.
fn stream<R: Read>(
    rows: &mut ReadingRows<'_, R>,
    before: Option<Before>,
    sink: &mut Sink<'_>,
    problems: &mut Problems,
) -> Result<Option<Before>, ImportError> {
    let mut first = Vec::with_capacity(RATE_READINGS);
    while first.len() < RATE_READINGS
        && let Some(reading) = rows.next(problems)?
    {
        first.push(reading);
    }
    let rate = match rate_hz(&first) {
        Some(rate) if (f64::from(MIN_RATE_HZ)..=f64::from(MAX_RATE_HZ) * 1.01).contains(&rate) => rate,
        Some(rate) => {
            let what = format!(
                "the readings come at {rate:.1} Hz; from {MIN_RATE_HZ} to {MAX_RATE_HZ} Hz can be analysed"
            );
            problems.add(0, RowFault::of("time", what));
            return Ok(None);
        }
        None => {
            problems.add(
                0,
                RowFault::row("too few good readings to measure their rate; at least two are needed"),
            );
            return Ok(None);
        }
    };
    let goes_on = |before: &Before| {
        let gap = first.first().map_or(0, |(time, _)| time - before.last);
        (1..=JOIN_MICROS).contains(&gap) && (rate / before.rate - 1.0).abs() <= RATE_DRIFT
    };
    #[allow(clippy::cast_possible_truncation)]
    let mut recorder = match before.filter(goes_on) {
        Some(before) => before.recorder,
        None => PassageRecorder::new((rate as f32).clamp(MIN_RATE_HZ, MAX_RATE_HZ)),
    };
    let mut pace = Pace::new(rate);
    for (time, loads) in first {
        pace.push(time);
        recorder.push(&reading(time, loads));
    }
    while let Some((time, loads)) = rows.next(problems)? {
        pace.push(time);
        recorder.push(&reading(time, loads));
        if recorder.passages.len() >= PASSAGES {
            sink.store(&mut recorder)?;
        }
    }
    sink.store(&mut recorder)?;
    // A cow still on is stored as cut off; a file that goes on from here completes her.
    let mut ended = recorder.clone();
    ended.finish();
    sink.store(&mut ended)?;
    if let Some(seen) = pace.differs() {
        problems.note(format!(
            "the readings began at {rate:.1} Hz but came at {seen:.1} Hz over the whole file; import each rate on its own"
        ));
    }
    Ok(rows.last.map(|(last, _)| Before { recorder, rate, last }))
}

fn reading(time: i64, loads: [f32; 4]) -> Reading {
    Reading {
        time: Milliseconds((time / 1000).cast_unsigned()),
        loads: PerPlate(loads.map(Kilograms)),
        saturated: PerPlate::default(),
    }
}

/// Good rows in rising time.
struct ReadingRows<'c, R> {
    table: Table<'c, R>,
    times: TimeReader,
    clock: Clock,
    /// A row far ahead, waiting for the next to bear it out, and its line.
    pending: Option<(Timed, u64)>,
    /// A row to be given out next.
    ready: Option<Timed>,
    last: Option<Timed>,
    whole: Whole,
}

impl<R: Read> ReadingRows<'_, R> {
    fn next(&mut self, problems: &mut Problems) -> Result<Option<Timed>, ImportError> {
        if let Some(timed) = self.ready.take() {
            return Ok(Some(self.give(timed)));
        }
        loop {
            let Some(row) = self.table.next_row(problems)? else {
                // Nothing speaks against a last row far ahead, nor for it: one reading is no passage.
                return Ok(self.pending.take().map(|(held, _)| held));
            };
            let timed = match parse(&row, &mut self.times) {
                Ok(timed) => timed,
                Err(fault) => {
                    problems.add(row.line, fault);
                    continue;
                }
            };
            if let Some((held, line)) = self.pending.take() {
                if timed.0 >= held.0 {
                    self.clock.set(held.0);
                    match self.clock.judge(timed.0) {
                        ClockReading::Ahead => self.pending = Some((timed, row.line)),
                        ClockReading::Same => problems.add(row.line, same(held.1 == timed.1)),
                        _ => self.ready = Some(timed),
                    }
                    return Ok(Some(self.give(held)));
                }
                let what = "time jumps ahead and comes back; the row was left out";
                problems.add(line, RowFault::of("time", what));
            }
            match self.clock.judge(timed.0) {
                ClockReading::Follows => return Ok(Some(self.give(timed))),
                ClockReading::Ahead => self.pending = Some((timed, row.line)),
                ClockReading::Same => {
                    let equal = self.last.is_some_and(|last| last.1 == timed.1);
                    problems.add(row.line, same(equal));
                }
                ClockReading::Back(micros) => problems.add(row.line, back(micros, "the row was left out")),
                ClockReading::SetBack(micros) => {
                    problems
                        .add(row.line, back(micros, "taken as a clock set back; the rows from here count"));
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
fn parse(row: &Row<'_>, times: &mut TimeReader) -> Result<Timed, RowFault> {
    let time = times.micros("time", row.bytes(0))?;
    let mut loads = [0.0; 4];
    for (index, load) in loads.iter_mut().enumerate() {
        *load = value::number(COLUMNS[index + 1].name, row.bytes(index + 1))?;
    }
    Ok((time, loads))
}

/// The rate: the mean of the steps that are near their median, so that gaps do not count.
fn rate_hz(readings: &[Timed]) -> Option<f64> {
    let mut steps: Vec<i64> =
        readings.windows(2).map(|pair| pair[1].0 - pair[0].0).filter(|step| *step > 0).collect();
    steps.sort_unstable();
    let median = *steps.get(steps.len() / 2)?;
    let near: Vec<_> = steps.into_iter().filter(|step| step * 2 > median && *step * 2 < median * 3).collect();
    let sum: i64 = near.iter().sum();
    #[allow(clippy::cast_precision_loss, reason = "a few seconds in µs")]
    Some(1e6 * near.len() as f64 / sum as f64)
}

/// The rate over the whole file, gaps left out.
struct Pace {
    rate: f64,
    longest: i64,
    last: Option<i64>,
    steps: u64,
    micros: i64,
}

impl Pace {
    #[allow(clippy::cast_possible_truncation)]
    fn new(rate: f64) -> Self {
        Self { rate, longest: (2e6 / rate.max(1.0)) as i64 * 10, last: None, steps: 0, micros: 0 }
    }

    #[inline]
    fn push(&mut self, time: i64) {
        if let Some(last) = self.last
            && (1..self.longest).contains(&(time - last))
        {
            self.steps += 1;
            self.micros += time - last;
        }
        self.last = Some(time);
    }

    #[allow(clippy::cast_precision_loss)]
    fn differs(&self) -> Option<f64> {
        let seen = (self.micros > 0).then(|| 1e6 * self.steps as f64 / self.micros as f64)?;
        ((seen / self.rate - 1.0).abs() > RATE_DRIFT).then_some(seen)
    }
}

/// Puts passages into the store, batch by batch.
struct Sink<'s> {
    store: &'s Store,
    source: SourceId,
    lane: &'s str,
    counts: SourceCounts,
    span: Option<(i64, i64)>,
    /// Passages that can be scored.
    usable: u64,
}

impl Sink<'_> {
    fn store(&mut self, recorder: &mut PassageRecorder) -> Result<(), ImportError> {
        let Self { store, source, lane, counts, span, usable } = self;
        store.batch(|store| {
            for (summary, trace) in recorder.passages.drain(..) {
                let new = crate::import::readings::recorder::measured(lane, summary, trace);
                let ms = new.time.as_millisecond();
                *usable += u64::from(new.summary.quality.trusted());
                *span = Some(span.map_or((ms, ms), |(first, last)| (first.min(ms), last.max(ms))));
                match store.insert_measured(&new, *source)? {
                    crate::store::Insert::Already => counts.already += 1,
                    crate::store::Insert::Added | crate::store::Insert::Completed => counts.added += 1,
                }
            }
            Ok(())
        })
    }
}

#[cfg(test)]
mod tests;
