//! Files of people and readers: ear tags and mobility scores.

use crate::identity;
use crate::import::records::who::Who;
use crate::import::{Column, ImportError, Input, Outcome, Problems, RowFault, rows, value};
use crate::record::mark::{Mark, Marked};
use crate::record::{AnimalId, MobilityScore};
use crate::store::{Store, TagRead};
use jiff::Timestamp;
use std::collections::HashSet;

const TAGS: &[Column] = &[Column::needed("time"), Column::needed("animal_id")];
const SCORES: &[Column] = &[Column::needed("date"), Column::needed("animal_id"), Column::needed("score")];

const MARKS: &[Column] =
    &[Column::needed("date"), Column::needed("animal_id"), Column::needed("mark"), Column::optional("who")];

/// Highest mobility score of the public scale.
const MOST_SCORE: u32 = 3;

/// Says where an animal has a number that no cow should wear.
pub(super) fn warn_test_tag(animal: &AnimalId, problems: &mut Problems) {
    if value::is_test_tag(animal) {
        problems.note("it holds numbers of country 999, kept for tests; no cow should wear one".to_owned());
    }
}

/// Ear tag reads of a lane, `time,animal_id`; then names the passages anew.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn tags(store: &Store, input: Input, lane: &str) -> Result<Outcome, ImportError> {
    let mut times = value::TimeReader::at(input.now);
    let mut span: Option<(i64, i64)> = None;
    let mut length = 0;
    let outcome = rows(store, "tags", input, TAGS, |store, row, problems| {
        let micros = times.micros("time", row.bytes(0))?;
        let animal = row.animal(1)?;
        if !row.ended && animal.0.len() < length {
            let what =
                format!("the file ends in the middle of `{animal}`, or so it seems; end it with a new line");
            return Err(RowFault::of("animal_id", what).into());
        }
        length = animal.0.len();
        warn_test_tag(&animal, problems);
        let ms = micros.div_euclid(1000);
        span = Some(span.map_or((ms, ms), |(first, last)| (first.min(ms), last.max(ms))));
        let time =
            Timestamp::from_millisecond(ms).map_err(|_| RowFault::of("time", "lies beyond the calendar"))?;
        Ok(store.insert_tag_read(lane, &TagRead { time, animal })?)
    })?;
    if let Some((first, last)) = span {
        store.batch(|store| identity::rematch(store, lane, first, last))?;
    }
    Ok(outcome)
}

/// Mobility scores given by trained people, `date,animal_id,score`.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn scores(store: &Store, input: Input) -> Result<Outcome, ImportError> {
    let (mut seen, now) = (HashSet::new(), input.now);
    let mut who = Who::of(store)?;
    let mut outcome = rows(store, "scores", input, SCORES, |store, row, problems| {
        let date = value::past("date", row.needed_date(0)?, now)?;
        let animal = who.animal(store, row.animal(1)?, date)?;
        warn_test_tag(&animal, problems);
        let score = row.whole(2, 0, MOST_SCORE)?;
        let score = score.and_then(|score| u8::try_from(score).ok());
        let score = score.ok_or_else(|| RowFault::of("score", "no score; write 0, 1, 2 or 3"))?;
        if !seen.insert((date, animal.clone())) {
            return Err(RowFault::row(format!("a second score of {animal} on {date}; keep one a day")).into());
        }
        Ok(store.put_mobility_score(&MobilityScore { date, animal, score })?)
    })?;
    outcome.notes.extend(who.unknown_note());
    Ok(outcome)
}

/// Marks, `date,animal_id,mark,who`: looked, booked, milking, dry, sold, died, lent, told.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn marks(store: &Store, input: Input) -> Result<Outcome, ImportError> {
    let now = input.now;
    let mut who = Who::of(store)?;
    let mut outcome = rows(store, "marks", input, MARKS, |store, row, problems| {
        let date = value::past("date", row.needed_date(0)?, now)?;
        let animal = who.animal(store, row.animal(1)?, date)?;
        warn_test_tag(&animal, problems);
        let word = row.text(2)?.unwrap_or_default();
        let mark = Mark::from_name(word).ok_or_else(|| {
            let names = Mark::ALL.map(Mark::name).join(", ");
            RowFault::of("mark", format!("`{word}` is none of {names}"))
        })?;
        let by = row.text(3)?.unwrap_or_default().to_owned();
        Ok(store.put_mark(&Marked { date, animal, mark, who: by }, now)?)
    })?;
    outcome.notes.extend(who.unknown_note());
    Ok(outcome)
}
