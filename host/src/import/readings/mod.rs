//! Plate readings: CSV in, passages out, in one pass and in memory that does not grow with the file.

use crate::identity;
use crate::import::readings::pace::{Pace, RATE_DRIFT, RATE_READINGS, rate_hz};
use crate::import::readings::recorder::{PassageRecorder, Recorded};
use crate::import::readings::rows::ReadingRows;
use crate::import::{BATCH, Column, ImportError, Input, Outcome, Problems, RowFault, Table, layout};
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
mod pace;
mod pipeline;
mod quick;
mod recorder;
mod rows;
mod whole;

const COLUMNS: &[Column] = &[
    Column::needed("time"),
    Column::needed("lf"),
    Column::needed("rf"),
    Column::needed("lr"),
    Column::needed("rr"),
];
/// Passages stored together: with their traces, a few megabytes. Our choice.
const PASSAGES: usize = BATCH / 10;
/// A file goes on where the one before ended if it begins within this, µs: three readings at the slowest rate, less than
/// the gap at which the analysis begins anew. Our choice.
const JOIN_MICROS: i64 = 150_000;

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
            let mut rows = ReadingRows::new(table, now);
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
fn stream<R: Read + Send>(
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
    let (recorder, pace) =
        pipeline::run(rows, problems, (recorder, pace), PASSAGES, |ended| sink.store(ended))?;
    // A cow still on is stored as cut off; a file that goes on from here completes her.
    let mut ended = recorder.clone();
    ended.finish();
    sink.store(ended.passages)?;
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
    fn store(&mut self, ended: Vec<Recorded>) -> Result<(), ImportError> {
        let Self { store, source, lane, counts, span, usable } = self;
        store.batch(|store| {
            for (summary, trace) in ended {
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
