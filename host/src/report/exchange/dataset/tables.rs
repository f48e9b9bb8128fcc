//! The tables of a farm in a data set: what its score rests on, and its cases.

use super::parquet::{Column, Kind};
use crate::record::case::KeptCase;
use crate::record::finding::cell;
use crate::record::passage_table::Cell;
use crate::record::{CowDay, FootWork, HerdEntry, LaneDay, MobilityScore, plate_name};
use crate::score::ScoreRun;
use jiff::civil::Date;
use shared::plate::Leg;

const ROW: Column = Column::new("row", Kind::Long, "", "place in the farm's own order");
const ANIMAL: Column = Column::new("animal_id", Kind::Text, "", "the animal");

/// Columns of `animals`.
pub const ANIMALS: [Column; 4] = [
    ROW,
    ANIMAL,
    Column::new("parity", Kind::Count, "", "lactation number"),
    Column::new("calving_date", Kind::Day, "", "a calving"),
];

/// Columns of `scores`.
pub const SCORES: [Column; 4] = [
    ROW,
    ANIMAL,
    Column::new("date", Kind::Day, "", "day of the observation"),
    Column::new("mobility_score", Kind::Count, "0..3", "mobility score given by a person"),
];

/// Columns of `work`: every version of what was done, with the days on which it was the one known.
pub const WORK: [Column; 11] = [
    ROW,
    ANIMAL,
    Column::new("date", Kind::Day, "", "day of the work"),
    Column::new("leg", Kind::Text, "", "LF, RF, LR or RR; empty: none named"),
    Column::new("lesion", Kind::Yes, "", "a lesion was found"),
    Column::new("block", Kind::Yes, "", "a block was put on"),
    Column::new("block_off", Kind::Day, "", "first day surely without it"),
    Column::new("block_due", Kind::Day, "", "day it is due to come off"),
    Column::new("look", Kind::Yes, "", "looked at, nothing found, nothing done"),
    Column::new("known_from", Kind::Day, "", "first day on which this version was known; empty: always"),
    Column::new("known_until", Kind::Day, "", "first day on which another was; empty: the latest"),
];

/// Columns of `cases`: each as it stands, without notes and medicine.
pub const CASES: [Column; 12] = [
    ROW,
    ANIMAL,
    Column::new("date", Kind::Day, "", "day of the visit"),
    Column::new("leg", Kind::Text, "", "LF, RF, LR or RR; empty: all feet looked at"),
    Column::new("lesion", Kind::Text, "", "lesion code of the ICAR Claw Health Atlas; empty: none found"),
    Column::new("severity", Kind::Count, "1..3", "our own scale: 1 mild, 2 moderate, 3 severe"),
    Column::new("trim", Kind::Yes, "", "trimmed"),
    Column::new("dressing", Kind::Yes, "", "a dressing was put on"),
    Column::new("block", Kind::Yes, "", "a block was put on"),
    Column::new("block_off", Kind::Day, "", "first day surely without it"),
    Column::new("recheck", Kind::Day, "", "planned recheck"),
    Column::new("trimmer", Kind::Text, "", "who did the work"),
];

/// Columns of `farms`: one row, written last, so that a farm whose export was broken off is told.
pub const FARM: [Column; 7] = [
    Column::new("store", Kind::Text, "", "identity of the store this came from"),
    Column::new("time_zone", Kind::Text, "", "IANA time zone of the farm's days"),
    Column::new("needless_looks", Kind::Number, "per 100 cows a week", "needless looks the farmer accepts"),
    Column::new("plates_settled", Kind::Day, "", "day from which the plates read right"),
    Column::new(
        "model_prior",
        Kind::Text,
        "",
        "settings learned over farms that it took; empty: the program's own",
    ),
    Column::new("passages", Kind::Long, "", "rows of its passages, all months together"),
    Column::new(
        "content",
        Kind::Text,
        "",
        "checksum of all files of the farm: what is made from them knows it by this",
    ),
];

/// Columns of `days`: what is said of every cow and day.
pub const DAYS: [Column; 20] = [
    ROW,
    ANIMAL,
    Column::new("date", Kind::Day, "", "the farm's local day; only what was known by its end is used"),
    Column::new(
        "flag",
        Kind::Text,
        "",
        "no_data, cannot_tell, clear, watch, check or urgent; no mobility score",
    ),
    Column::new("probability", Kind::Number, "0..1", "that a trained observer would score her 2 or more"),
    Column::new("leg", Kind::Text, "", "where: LF, RF, LR, RR, both front or both rear"),
    Column::new("leg_probability", Kind::Number, "0..1", "that this is right, given that she is lame"),
    Column::new("lf_probability", Kind::Number, "0..1", "that this leg is a sore one"),
    Column::new("rf_probability", Kind::Number, "0..1", "that this leg is a sore one"),
    Column::new("lr_probability", Kind::Number, "0..1", "that this leg is a sore one"),
    Column::new("rr_probability", Kind::Number, "0..1", "that this leg is a sore one"),
    Column::new("since", Kind::Day, "", "when it likeliest began"),
    Column::new("since_earliest", Kind::Day, "", "when at the earliest"),
    Column::new("since_latest", Kind::Day, "", "when at the latest"),
    Column::new("reasons", Kind::Text, "", "codes of the reasons, strongest first, parted by ;"),
    Column::new("confidence", Kind::Text, "", "how far the answer can be leaned on"),
    Column::new("advice", Kind::Text, "", "code of what would settle the answer"),
    Column::new("passages", Kind::Count, "", "trusted passages used that day"),
    Column::new("block_on", Kind::Yes, "", "a block is on"),
    Column::new(
        "days_since_trim",
        Kind::Count,
        "",
        "days since the last trim or treatment, within the unsettled time",
    ),
];

/// Columns of `lanes`: each lane's own error, by day.
pub const LANES: [Column; 7] = [
    ROW,
    Column::new("lane", Kind::Text, "", "the lane"),
    Column::new("date", Kind::Day, "", "the farm's local day"),
    Column::new("cows", Kind::Count, "", "cows it rests on"),
    Column::new("cause", Kind::Text, "", "what explains the shift: steady, plate, herd or cannot_tell"),
    Column::new("plate", Kind::Text, "", "the plate that explains it, where one does"),
    Column::new("plate_error_pct", Kind::Number, "%", "what that plate reads against its first days"),
];

/// Columns of `observers`: how well each observer explains the farm's records.
pub const OBSERVERS: [Column; 5] = [
    ROW,
    Column::new(
        "log_multiple",
        Kind::Number,
        "",
        "logarithm of the load at which half are scored 2 or more, by the published",
    ),
    Column::new("log_likelihood", Kind::Number, "", "logarithm of its likelihood, up to a constant"),
    Column::new("scores", Kind::Long, "", "mobility scores it rests on"),
    Column::new("feet", Kind::Long, "", "cows with lifted feet it rests on"),
];

fn text(text: impl Into<String>) -> Cell {
    let text = text.into();
    if text.is_empty() { Cell::Empty } else { Cell::Text(text) }
}

fn day(day: Option<Date>) -> Cell {
    day.map_or(Cell::Empty, Cell::Day)
}

fn numbered(row: usize, cells: impl IntoIterator<Item = Cell>) -> Vec<Cell> {
    std::iter::once(Cell::Long(i64::try_from(row).unwrap_or(i64::MAX))).chain(cells).collect()
}

/// Rows of `animals`.
#[must_use]
pub fn animals(herd: &[HerdEntry]) -> Vec<Vec<Cell>> {
    let cells = |entry: &HerdEntry| {
        let parity = entry.parity.map_or(Cell::Empty, |parity| Cell::Count(parity.into()));
        [text(&entry.animal.0), parity, day(entry.calving_date)]
    };
    herd.iter().enumerate().map(|(row, entry)| numbered(row, cells(entry))).collect()
}

/// Rows of `scores`.
#[must_use]
pub fn scores(scores: &[MobilityScore]) -> Vec<Vec<Cell>> {
    let cells = |score: &MobilityScore| {
        [text(&score.animal.0), Cell::Day(score.date), Cell::Count(score.score.into())]
    };
    scores.iter().enumerate().map(|(row, score)| numbered(row, cells(score))).collect()
}

/// Rows of `work`.
#[must_use]
pub fn work(work: &[FootWork]) -> Vec<Vec<Cell>> {
    let cells = |work: &FootWork| {
        let from = (work.known.from != Date::MIN).then_some(work.known.from);
        [
            text(&work.animal.0),
            Cell::Day(work.date),
            work.leg.map_or(Cell::Empty, |leg| text(leg.name())),
            Cell::Yes(work.lesion),
            Cell::Yes(work.block),
            day(work.block_off),
            day(work.block_due),
            Cell::Yes(work.look),
            day(from),
            day(work.known.until),
        ]
    };
    work.iter().enumerate().map(|(row, work)| numbered(row, cells(work))).collect()
}

/// Rows of `cases`: withdrawn ones left out.
#[must_use]
pub fn cases(cases: &[KeptCase]) -> Vec<Vec<Cell>> {
    let cells = |kept: &KeptCase| {
        let case = &kept.case;
        let severity = case.severity.map_or(Cell::Empty, |severity| Cell::Count(severity.number().into()));
        let block = case.treatment.block.as_ref();
        [
            text(&case.animal.0),
            Cell::Day(case.date),
            case.leg.map_or(Cell::Empty, |leg| text(leg.name())),
            case.lesion.as_ref().map_or(Cell::Empty, |lesion| text(lesion.as_str())),
            severity,
            Cell::Yes(case.treatment.trim),
            Cell::Yes(case.treatment.dressing),
            Cell::Yes(block.is_some()),
            day(block.and_then(|block| block.off)),
            day(case.recheck),
            text(case.who.clone().unwrap_or_default()),
        ]
    };
    let kept = cases.iter().filter(|kept| kept.withdrawn.is_none());
    kept.enumerate().map(|(row, kept)| numbered(row, cells(kept))).collect()
}

/// Rows of `days`, every digit kept.
#[must_use]
pub fn days(days: &[CowDay]) -> Vec<Vec<Cell>> {
    let number = |number: Option<f64>| number.map_or(Cell::Empty, Cell::Exact);
    let cells = |row: &CowDay| {
        let leg = |leg: Leg| row.place.map_or(Cell::Empty, |_| Cell::Exact(row.leg_probability[leg]));
        vec![
            text(&row.animal.0),
            Cell::Day(row.date),
            text(row.flag.name()),
            number(row.probability),
            row.place.map_or(Cell::Empty, |place| text(place.name())),
            number(row.place_probability),
            leg(Leg::LF),
            leg(Leg::RF),
            leg(Leg::LR),
            leg(Leg::RR),
            day(row.since.map(|since| since.1)),
            day(row.since.map(|since| since.0)),
            day(row.since.map(|since| since.2)),
            text(cell(&row.reasons)),
            text(row.confidence.name()),
            text(cell(row.advice.as_slice())),
            Cell::Count(row.passages),
            Cell::Yes(row.block_on),
            row.days_since_trim.map_or(Cell::Empty, Cell::Count),
        ]
    };
    days.iter().enumerate().map(|(row, day)| numbered(row, cells(day))).collect()
}

/// Rows of `lanes`.
#[must_use]
pub fn lanes(days: &[LaneDay]) -> Vec<Vec<Cell>> {
    let cells = |lane: &LaneDay| {
        [
            text(&lane.lane),
            Cell::Day(lane.date),
            Cell::Count(lane.cows),
            text(lane.cause.name()),
            lane.plate.map_or(Cell::Empty, |plate| text(plate_name(plate))),
            lane.plate_error_pct.map_or(Cell::Empty, Cell::Exact),
        ]
    };
    days.iter().enumerate().map(|(row, lane)| numbered(row, cells(lane))).collect()
}

/// Rows of `observers`.
#[must_use]
pub fn observers(run: &ScoreRun) -> Vec<Vec<Cell>> {
    let count = |count: usize| Cell::Long(i64::try_from(count).unwrap_or(i64::MAX));
    let cells = |of: &(f64, f64)| {
        [Cell::Exact(of.0), Cell::Exact(of.1), count(run.scores_used), count(run.feet_used)]
    };
    run.observers.iter().enumerate().map(|(row, of)| numbered(row, cells(of))).collect()
}

#[cfg(test)]
mod tests;
