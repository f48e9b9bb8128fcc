//! Cows as they leave: each passage with how she stands against her own so far today.
//!
//! What is said is provisional: the day's list, with all of the day in it, stays what counts.

use crate::record::{AnimalId, CowDay, Flag, Passage};
use crate::report::farm::{Farm, Part};
use crate::report::words::Words;
use crate::score::course::flag::flag;
use crate::store::{Store, desk::Desk};
use jiff::tz::TimeZone;
use serde::Serialize;
use serde_json::json;
use shared::wire::LaneAnswer;

/// One passage, in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Passing {
    /// The store's number of the passage.
    #[serde(skip)]
    pub passage: i64,
    /// The farm's time of the first foot.
    pub time: String,
    /// Lane.
    pub lane: String,
    /// The cow; `None` while nobody knows.
    pub id: Option<String>,
    /// What she is called.
    pub cow: String,
    /// Her flag so far today, by its name; empty where the passage says nothing.
    pub flag: &'static str,
    /// What is said, in words.
    pub said: String,
}

/// The latest passages of the last day, the newest first.
///
/// # Errors
/// When the store cannot be read.
pub fn latest(store: &Store, words: &Words, most: usize) -> anyhow::Result<Vec<Passing>> {
    let Some(farm) = Farm::load_part(store, None, Part::List)? else { return Ok(Vec::new()) };
    let zone = store.time_zone()?;
    let of_day = farm.passages.iter().rev().filter(|passage| passage.date == farm.date);
    Ok(of_day.take(most).map(|passage| passing(passage, &farm, &zone, words)).collect())
}

/// What a lane's own device said of a cow as she left.
///
/// # Errors
/// When the store cannot be read.
pub fn at_the_lane(store: &Store, words: &Words, answer: &LaneAnswer) -> anyhow::Result<String> {
    let tag = answer.code.to_string();
    let animal = store.wearer(&tag, None)?.unwrap_or(AnimalId(tag));
    let flag = words.flag(flag(answer.flag));
    let leg = answer.leg.map_or_else(String::new, |leg| words.leg_letters(leg));
    let said = if leg.is_empty() { flag } else { format!("{flag} {leg}") };
    Ok(words.say("live-at-the-lane", json!({ "cow": store.names()?.short(&animal), "said": said })))
}

/// What the lanes said of the cows who have just left, in words; nothing where nobody listens.
#[must_use]
pub fn just_left(store: &Store, desk: Option<&Desk>, words: &Words, now_ms: i64) -> Vec<String> {
    let answers = desk.and_then(|desk| desk.answers(now_ms).ok()).unwrap_or_default();
    answers.iter().filter_map(|answer| at_the_lane(store, words, answer).ok()).collect()
}

fn passing(passage: &Passage, farm: &Farm, zone: &TimeZone, words: &Words) -> Passing {
    let row = passage
        .animal
        .as_ref()
        .and_then(|animal| farm.days.iter().find(|row| row.animal == *animal && row.date == passage.date));
    let spoilt = passage.summary.quality.reasons().find(|reason| reason.spoils());
    let (flag, said) = match (spoilt, row) {
        (Some(reason), _) => ("", words.say("live-not-usable", json!({ "commonest": reason.name() }))),
        (None, None) => ("", words.text("live-nobody")),
        (None, Some(row)) => (row.flag.name(), of_row(row, words)),
    };
    Passing {
        passage: passage.id,
        time: zone.to_datetime(passage.time).strftime("%H:%M:%S").to_string(),
        lane: passage.lane.clone(),
        id: passage.animal.as_ref().map(|animal| animal.0.clone()),
        cow: passage
            .animal
            .as_ref()
            .map_or_else(|| words.text("live-unknown"), |animal| farm.directory.names.short(animal)),
        flag,
        said,
    }
}

/// Flag, leg and the first reason.
fn of_row(row: &CowDay, words: &Words) -> String {
    let flag = words.flag(row.flag);
    let place = words.place_letters(row.place);
    let named = matches!(row.flag, Flag::Watch | Flag::Check | Flag::Urgent) && !place.is_empty();
    let head = if named { format!("{flag} {place}") } else { flag };
    match row.reasons.first().filter(|_| row.flag != Flag::Clear) {
        Some(reason) => format!("{head}: {}", words.finding(reason)),
        None => head,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::finding::FlagReason;
    use crate::report::invented::{cow_day, passage};
    use crate::report::words::Language;
    use jiff::civil::date;
    use shared::analysis::Reason;
    use shared::plate::Leg;

    fn said(passage: &Passage, rows: Vec<CowDay>) -> Passing {
        let farm = Farm { days: rows, ..Farm::empty(date(2026, 3, 1)) };
        passing(passage, &farm, &TimeZone::UTC, &Words::new(Language::English))
    }

    #[test]
    fn a_cow_is_told_by_her_row_so_far() {
        let day = date(2026, 3, 1);
        let mut row = cow_day("412", day, Flag::Check);
        row.place = Some(crate::record::Place::One(Leg::LR));
        row.reasons = vec![FlagReason::ShareLow { leg: Leg::LR, now_pct: 17.0, usual_pct: 24.0, sd: 4.0 }];
        let told = said(&passage("412", day), vec![row]);
        assert_eq!((told.time.as_str(), told.flag), ("06:00:00", "check"));
        assert!(told.said.starts_with("check LR: takes weight off LR"), "{}", told.said);
        assert_eq!(said(&passage("412", day), vec![cow_day("412", day, Flag::Clear)]).said, "clear");
        assert_eq!(said(&passage("412", day), vec![cow_day("413", day, Flag::Clear)]).flag, "");
    }

    #[test]
    fn a_passage_that_says_nothing_names_no_flag() {
        let day = date(2026, 3, 1);
        let rows = || vec![cow_day("412", day, Flag::Urgent)];
        let mut spoilt = passage("412", day);
        spoilt.summary.quality.add(Reason::TwoAnimals);
        let told = said(&spoilt, rows());
        assert_eq!((told.flag, told.said.as_str()), ("", "not usable: two animals on the plates"));
        let mut nobody = passage("412", day);
        nobody.animal = None;
        let told = said(&nobody, rows());
        assert_eq!((told.id, told.flag, told.cow.as_str()), (None, "", "?"));
    }
}
