//! The records of people as tables that can be imported again.

use crate::record::mark::Marked;
use crate::record::names::Directory;
use crate::record::passage_table::Cell;
use crate::record::{AnimalId, HerdEntry, MobilityScore};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Columns of the herd register; where she is stands in the marks.
pub const HERD: [&str; 7] = ["animal_id", "parity", "calving_date", "number", "name", "tag", "tag_from"];
/// Columns of the marks.
pub const MARKS: [&str; 4] = ["date", "animal_id", "mark", "who"];
/// Columns of the mobility scores.
pub const SCORES: [&str; 3] = ["date", "animal_id", "score"];

fn text(text: &str) -> Cell {
    if text.is_empty() { Cell::Empty } else { Cell::Text(text.to_owned()) }
}

fn day(day: Option<Date>) -> Cell {
    day.map_or(Cell::Empty, Cell::Day)
}

/// Every animal: a row for her names, one a calving, one a tag.
#[must_use]
pub fn herd(
    directory: &Directory,
    calvings: &[HerdEntry],
    tags: &[(String, Option<Date>, AnimalId)],
) -> Vec<[Cell; 7]> {
    let mut hers: BTreeMap<&AnimalId, Vec<[Cell; 7]>> =
        directory.animals.iter().map(|animal| (animal, Vec::new())).collect();
    for entry in calvings {
        let called = directory.names.of(&entry.animal);
        let parity = entry.parity.map_or(Cell::Empty, |parity| Cell::Count(parity.into()));
        hers.entry(&entry.animal).or_default().push([
            text(&entry.animal.0),
            parity,
            day(entry.calving_date),
            text(&called.number),
            text(&called.name),
            Cell::Empty,
            Cell::Empty,
        ]);
    }
    let plain = |animal: &AnimalId, tag: Cell, from: Cell| {
        let called = directory.names.of(animal);
        [text(&animal.0), Cell::Empty, Cell::Empty, text(&called.number), text(&called.name), tag, from]
    };
    for (tag, from, animal) in tags {
        hers.entry(animal).or_default().push(plain(animal, text(tag), day(*from)));
    }
    let rows = hers.into_iter().flat_map(|(animal, rows)| {
        if rows.is_empty() { vec![plain(animal, Cell::Empty, Cell::Empty)] } else { rows }
    });
    rows.collect()
}

/// The marks, in the order in which they hold.
#[must_use]
pub fn marks(marks: &[Marked]) -> Vec<[Cell; 4]> {
    let row = |marked: &Marked| {
        [Cell::Day(marked.date), text(&marked.animal.0), text(marked.mark.name()), text(&marked.who)]
    };
    marks.iter().map(row).collect()
}

/// The mobility scores.
#[must_use]
pub fn scores(scores: &[MobilityScore]) -> Vec<[Cell; 3]> {
    let row = |score: &MobilityScore| {
        [Cell::Day(score.date), text(&score.animal.0), Cell::Count(score.score.into())]
    };
    scores.iter().map(row).collect()
}
