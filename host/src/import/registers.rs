//! Files of people and readers: ear tags, the herd register, mobility scores.

use crate::identity;
use crate::import::{Column, Fault, ImportError, Input, Outcome, Problems, rows, value};
use crate::record::{AnimalId, HerdEntry, MobilityScore};
use crate::store::{Store, TagRead};
use jiff::Timestamp;
use std::collections::HashSet;

const TAGS: &[Column] = &[Column::needed("time"), Column::needed("animal_id")];
const HERD: &[Column] =
    &[Column::needed("animal_id"), Column::optional("parity"), Column::optional("calving_date")];
const SCORES: &[Column] = &[Column::needed("date"), Column::needed("animal_id"), Column::needed("score")];

/// Highest lactation number taken. Our choice: above any cow's.
const MOST_PARITY: u32 = 30;
/// Highest mobility score of the public scale.
const MOST_SCORE: u32 = 3;

fn warn_test_tag(animal: &AnimalId, problems: &mut Problems) {
    if value::is_test_tag(animal) {
        problems.note("it holds numbers of country 999, kept for tests; no cow should wear one".to_owned());
    }
}

/// Ear tag reads of a lane, `time,animal_id`; then names the passages anew.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn tags(store: &Store, input: Input, lane: &str) -> Result<Outcome, ImportError> {
    let mut times = value::Times::at(input.now);
    let mut span: Option<(i64, i64)> = None;
    let mut length = 0;
    let outcome = rows(store, "tags", input, TAGS, |store, row, problems| {
        let micros = times.micros("time", row.bytes(0))?;
        let animal = row.animal(1)?;
        if !row.ended && animal.0.len() < length {
            let what =
                format!("the file ends in the middle of `{animal}`, or so it seems; end it with a new line");
            return Err(Fault::of("animal_id", what).into());
        }
        length = animal.0.len();
        warn_test_tag(&animal, problems);
        let ms = micros.div_euclid(1000);
        span = Some(span.map_or((ms, ms), |(first, last)| (first.min(ms), last.max(ms))));
        let time =
            Timestamp::from_millisecond(ms).map_err(|_| Fault::of("time", "lies beyond the calendar"))?;
        Ok(store.insert_tag_read(lane, &TagRead { time, animal })?)
    })?;
    if let Some((first, last)) = span {
        store.batch(|store| identity::rematch(store, lane, first, last))?;
    }
    Ok(outcome)
}

/// The herd register, `animal_id,parity,calving_date`.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn herd(store: &Store, input: Input) -> Result<Outcome, ImportError> {
    let now = input.now;
    rows(store, "herd", input, HERD, |store, row, problems| {
        let animal = row.animal(0)?;
        warn_test_tag(&animal, problems);
        let parity = row.whole(1, 0, MOST_PARITY)?;
        let parity = parity.and_then(|parity| u8::try_from(parity).ok());
        let entry = HerdEntry { animal, parity, calving_date: row.past_date(2, now)? };
        Ok(store.put_herd_entry(&entry)?)
    })
}

/// Mobility scores given by trained people, `date,animal_id,score`.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn scores(store: &Store, input: Input) -> Result<Outcome, ImportError> {
    let (mut seen, now) = (HashSet::new(), input.now);
    rows(store, "scores", input, SCORES, |store, row, problems| {
        let (date, animal) = (value::past("date", row.needed_date(0)?, now)?, row.animal(1)?);
        warn_test_tag(&animal, problems);
        let score = row.whole(2, 0, MOST_SCORE)?;
        let score = score.and_then(|score| u8::try_from(score).ok());
        let score = score.ok_or_else(|| Fault::of("score", "no score; write 0, 1, 2 or 3"))?;
        if !seen.insert((date, animal.clone())) {
            return Err(Fault::row(format!("a second score of {animal} on {date}; keep one a day")).into());
        }
        Ok(store.put_mobility_score(&MobilityScore { date, animal, score })?)
    })
}
