//! The score with what is kept of it in the store: only days that something new touches are scored again.
//!
//! The store counts every change of what the score rests on and notes the first day it touches; the rows also carry a
//! checksum of the model. Scoring goes on from a kept state that is older than all of that, so the rows are the same
//! as those of a run from the first day. Nothing depends on rows being kept.

mod stretches;

use crate::arithmetic::dates::{date_of_number, day_number};
use crate::record::{CowDay, FootWork, HerdEntry, LaneDay, MobilityScore, Passage, known_at_last, known_by};
use crate::score::checksum::checksum;
use crate::score::course::engine::{Inputs, RunState, run};
use crate::score::course::lane_table::{LaneTable, lane_tables as lane_tables_of};
use crate::score::{ScoreRun, ScoreSettings, of_farm};
use crate::store::{KeptRows, KeptState, NewRows, PassageFilter, Store, StoreError};
use jiff::civil::Date;

/// A state is kept each so many days, so that what comes late need not begin at the first day: our choice.
const CHECKPOINT_DAYS: i64 = 7;
/// How many of these.
const CHECKPOINTS: i64 = 2;
/// Days of lanes read with rows that are not all: enough for every page. Our choice.
const LANE_DAYS: i64 = 30;

/// Rows of the score.
#[derive(Clone, Debug, Default)]
pub struct ScoreRows {
    /// Rows of cows, by day, then by cow.
    pub days: Vec<CowDay>,
    /// The lanes' own errors, by day.
    pub lanes: Vec<LaneDay>,
}

/// The days at whose end the state is kept when `last` is the last day: the day before it, since the last is hardly ever
/// whole, and some before that.
fn wanted(last: i64) -> Vec<i64> {
    let before = last - 1;
    let whole = (before - 1).div_euclid(CHECKPOINT_DAYS) * CHECKPOINT_DAYS;
    (0..CHECKPOINTS).map(|n| whole - n * CHECKPOINT_DAYS).rev().chain([before]).collect()
}

/// All that is scored but the passages.
struct Records {
    herd: Vec<HerdEntry>,
    scores: Vec<MobilityScore>,
    work: Vec<FootWork>,
    settings: ScoreSettings,
}

impl Records {
    /// With the foot work as `known`.
    fn read(store: &Store, known: impl FnOnce(&mut Vec<FootWork>)) -> Result<Self, StoreError> {
        let settings = of_farm(store, &ScoreSettings::default())?;
        let mut work = store.foot_work()?;
        known(&mut work);
        Ok(Self { herd: store.herd()?, scores: store.mobility_scores()?, work, settings })
    }

    /// Scores passages up to a day; `keep` sees the state after each day.
    fn score(
        &self,
        start: Option<Start>,
        passages: &[Passage],
        until: Date,
        keep: impl FnMut(&RunState),
    ) -> ScoreRun {
        let inputs = Inputs { passages, herd: &self.herd, scores: &self.scores, work: &self.work };
        let settings = ScoreSettings { until: Some(until), ..self.settings.clone() };
        run(start.map(|start| start.state), &inputs, &settings, keep)
    }
}

/// A state to go on from, and the day at whose end it is that.
struct Start {
    day: i64,
    state: RunState,
}

impl Start {
    /// A state that cannot be read is no state.
    fn from_bytes((day, bytes): &(i64, Vec<u8>)) -> Option<Self> {
        Some(Self { day: *day, state: postcard::from_bytes(bytes).ok()? })
    }

    /// The latest kept one up to the day to which rows hold, and before the last day: that is scored in any case.
    fn read(store: &Store, holds: i64, last: i64) -> Result<Option<Self>, StoreError> {
        Ok(store.checkpoint(holds.min(last - 1))?.as_ref().and_then(Self::from_bytes))
    }

    /// The first day that is not scored yet.
    fn next(&self) -> Date {
        date_of_number(self.day + 1)
    }
}

/// What a run found, and from where it began.
struct ScoredOn {
    /// Kept rows up to this day still hold; the run has those after it.
    after: i64,
    to: i64,
    run: ScoreRun,
    checkpoints: Vec<(i64, Vec<u8>)>,
    wanted: Vec<i64>,
}

impl ScoredOn {
    /// Scores passages up to a day, with the states of the days that are wanted.
    fn score(
        records: &Records,
        start: Option<Start>,
        passages: &[Passage],
        until: Date,
        wanted: Vec<i64>,
    ) -> Self {
        let after = start.as_ref().map_or(i64::MIN, |start| start.day);
        let mut checkpoints = Vec::new();
        let run = records.score(start, passages, until, |state| {
            if wanted.contains(&state.last()) {
                checkpoints.extend(postcard::to_allocvec(state).ok().map(|bytes| (state.last(), bytes)));
            }
        });
        Self { after, to: day_number(until), run, checkpoints, wanted }
    }

    /// Whether it was kept: not where the store holds something new, or another program writes to it.
    fn keep(&self, store: &Store, change: i64, model: u32) -> bool {
        let new = NewRows {
            after: self.after,
            to: self.to,
            cows: self.run.days.iter().map(|row| (day_number(row.date), row)).collect(),
            lanes: self.run.lanes.iter().map(|row| (day_number(row.date), row)).collect(),
            checkpoints: &self.checkpoints,
            wanted: &self.wanted,
        };
        store.keep_scores(change, model, &new).unwrap_or(false)
    }
}

fn passages(store: &Store, from: Option<Date>, to: Date) -> Result<Vec<Passage>, StoreError> {
    store.passages(&PassageFilter { from, to: Some(to), ..PassageFilter::default() })
}

/// The tables of cows for the devices of the lanes on a day, by what is known before its first passage; by lane.
///
/// # Errors
/// When the store cannot be read.
pub fn lane_tables(store: &Store, day: Date) -> Result<Vec<(String, LaneTable)>, StoreError> {
    let before = day_number(day) - 1;
    let evening = date_of_number(before);
    store.snapshot(|store| {
        if store.last_day(Some(evening))?.is_none() {
            return Ok(Vec::new());
        }
        let holds = holds_to(&store.kept_scores()?, checksum(), before);
        let records = Records::read(store, |_| ())?;
        // What a state does not hold of the records is given to it on the way.
        let start = Start::read(store, holds, before)?;
        let passages = passages(store, start.as_ref().map(Start::next), evening)?;
        let mut state = None;
        let _ = records.score(start, &passages, evening, |now| {
            if now.last() == before {
                state = Some(now.clone());
            }
        });
        let tags = store.tags_worn(day)?;
        Ok(state.map(|state| lane_tables_of(state, &tags, &records.settings)).unwrap_or_default())
    })
}

/// The rows up to the end of `until`, or of the last day with a passage; with `until`, only what was known by then
/// counts. `None` without a passage up to then. What had to be scored up to the last day is kept for the next time.
///
/// # Errors
/// When the store cannot be read. A store that cannot be written is answered all the same.
pub fn rows<'a>(
    store: &Store,
    until: Option<Date>,
    which: impl Fn(Date) -> KeptRows<'a>,
) -> Result<Option<(Date, ScoreRows)>, StoreError> {
    rows_by(stretches::PASSAGES, store, until, which)
}

/// The same, with so many passages scored at a time.
fn rows_by<'a>(
    stretch: usize,
    store: &Store,
    until: Option<Date>,
    which: impl Fn(Date) -> KeptRows<'a>,
) -> Result<Option<(Date, ScoreRows)>, StoreError> {
    let model = checksum();
    stretches::keep_earlier(store, model, stretch)?;
    let answer = store.snapshot(|store| {
        let (Some(last), Some(_)) = (store.last_day(None)?, store.last_day(until)?) else { return Ok(None) };
        let state = store.kept_scores()?;
        let holds = holds_to(&state, model, day_number(last));
        let date = until.unwrap_or(last);
        let which = which(date);
        let scored = |until, wanted, known: fn(&mut Vec<FootWork>, Date)| {
            let records = Records::read(store, |work| known(work, until))?;
            let start = Start::read(store, holds, day_number(last))?;
            let passages = passages(store, start.as_ref().map(Start::next), until)?;
            Ok::<_, StoreError>(ScoredOn::score(&records, start, &passages, until, wanted))
        };
        let gone = if day_number(date) <= holds && (until.is_none() || date < last) {
            None
        } else if until.is_some_and(|until| until >= last) {
            // What is dated later is left out of these rows, so they are not kept.
            Some(scored(date, Vec::new(), known_by)?)
        } else {
            Some(scored(last, wanted(day_number(last)), known_at_last)?)
        };
        let day = day_number(date);
        let kept_to = gone.as_ref().map_or(day, |gone| gone.after).min(day);
        let lanes_from = if matches!(which, KeptRows::All) { i64::MIN } else { day - LANE_DAYS };
        let rows = ScoreRows {
            days: store.kept_rows(which, kept_to)?,
            lanes: store.kept_lanes(lanes_from, kept_to)?,
        };
        Ok(Some((state.change, last, date, rows, gone)))
    })?;
    let Some((change, last, date, mut rows, gone)) = answer else { return Ok(None) };
    if let Some(gone) = gone {
        if until.is_none_or(|until| until < last) {
            // A read-only disk or another writer: the rows are scored again next time.
            gone.keep(store, change, model);
        }
        let wanted = |row: &CowDay| match which(date) {
            KeptRows::All => row.date <= date,
            KeptRows::Since(day) => (day..=date).contains(&row.date),
            KeptRows::Day(day) => row.date == day,
            KeptRows::Of(animal) => row.animal == *animal && row.date <= date,
        };
        rows.days.extend(gone.run.days.into_iter().filter(wanted));
        rows.lanes.extend(gone.run.lanes.into_iter().filter(|row| row.date <= date));
    }
    Ok(Some((date, rows)))
}

/// The last day whose kept rows hold when `last` is the last day with a passage. The last kept day may know of things
/// that were dated later, so it holds only until anything changes.
fn holds_to(state: &KeptState, model: u32, last: i64) -> i64 {
    match (state.to, state.dirty) {
        (Some(to), None) if state.model == model && to == last => to,
        (Some(to), dirty) if state.model == model => {
            dirty.map_or(i64::MAX, day_number).min(to).min(last).saturating_sub(1)
        }
        _ => i64::MIN,
    }
}

#[cfg(test)]
mod tests;
