//! Years of passages are scored in stretches, so that memory stays the same however many there are: while one is scored,
//! the one before it is kept and the one after it is read.

use super::{Records, ScoredOn, Start, holds_to, wanted};
use crate::arithmetic::dates::{date_of_number, day_number};
use crate::record::{Passage, known_at_last};
use crate::store::{Store, StoreError};
use jiff::civil::Date;
use std::panic::resume_unwind;
use std::thread;

/// Passages of a stretch: some 30 MB. Our choice.
pub(super) const PASSAGES: usize = 50_000;
/// Days of a stretch at least. Our choice.
const DAYS: i64 = 14;

/// Passages from a day to a day.
struct Stretch {
    passages: Vec<Passage>,
    end: Date,
}

impl Stretch {
    /// So many passages from a day on; `None` where those up to the last day are no more.
    fn read(store: &Store, first: Date, passages: usize, last: Date) -> Result<Option<Self>, StoreError> {
        let Some(end) = store.day_of_passage(Some(first), passages)? else { return Ok(None) };
        let end = end.max(date_of_number(day_number(first) + DAYS));
        if end >= last {
            return Ok(None);
        }
        Ok(Some(Self { passages: super::passages(store, Some(first), end)?, end }))
    }

    /// Scores it, with the states that are wanted on the last day of all and the one that the next stretch goes on from:
    /// that of the day before its last, which was hardly whole when it was read.
    fn score(&self, records: &Records, start: Option<Start>, last: Date) -> ScoredOn {
        let go_on = day_number(self.end) - 1;
        let mut wanted = wanted(day_number(last));
        wanted.retain(|day| *day < go_on);
        wanted.push(go_on);
        ScoredOn::score(records, start, &self.passages, self.end, wanted)
    }
}

/// Scores and keeps what lies before the last stretch, as if somebody had asked for the rows at the end of each.
pub(super) fn keep_earlier(store: &Store, model: u32, passages: usize) -> Result<(), StoreError> {
    if store.can_be_written().is_err() {
        return Ok(());
    }
    let begun = store.snapshot(|store| {
        let Some(last) = store.last_day(None)? else { return Ok(None) };
        let kept = store.kept_scores()?;
        let start = Start::read(store, holds_to(&kept, model, day_number(last)), day_number(last))?;
        let first = start.as_ref().map_or_else(|| store.first_day(), |start| Ok(Some(start.next())))?;
        let Some(first) = first else { return Ok(None) };
        let Some(stretch) = Stretch::read(store, first, passages, last)? else { return Ok(None) };
        let records = Records::read(store, |work| known_at_last(work, last))?;
        Ok(Some((kept.change, last, records, start, stretch)))
    })?;
    let Some((change, last, records, mut start, stretch)) = begun else { return Ok(()) };
    let mut before: Option<ScoredOn> = None;
    let mut next = Some(stretch);
    while let Some(stretch) = next {
        let (scored, kept, following) = thread::scope(|scope| {
            let from = start.take();
            let scoring = scope.spawn(|| stretch.score(&records, from, last));
            let kept = before.take().is_none_or(|before| before.keep(store, change, model));
            let following = store.snapshot(|store| {
                // What came meanwhile may touch days that have been scored.
                if store.kept_scores()?.change != change {
                    return Ok(None);
                }
                Stretch::read(store, stretch.end, passages, last)
            });
            (scoring.join().unwrap_or_else(|panic| resume_unwind(panic)), kept, following)
        });
        // A full disk, another writer, or something new: what is left is scored in one piece.
        if !kept {
            return Ok(());
        }
        start = scored.checkpoints.last().and_then(Start::from_bytes);
        next = if start.is_some() { following? } else { None };
        before = Some(scored);
    }
    if let Some(before) = before {
        before.keep(store, change, model);
    }
    Ok(())
}
