//! What people wrote down.

use super::{Table, animal, at, day_of};
use datafusion::arrow::array::{Array, StructArray};
use datafusion::error::{DataFusionError, Result};
use host::record::{AnimalId, FootWork, HerdEntry, MobilityScore, VersionSpan};
use jiff::civil::Date;
use shared::plate::Leg;

fn nameless(table: &str) -> DataFusionError {
    DataFusionError::Execution(format!("a row of {table} names no animal"))
}

/// The herd register.
///
/// # Errors
/// When a column is missing or a row names no animal.
pub fn herd(rows: &StructArray) -> Result<Vec<HerdEntry>> {
    let table = Table(rows);
    let (animals, parity, calving) =
        (table.text("animal_id")?, table.count("parity")?, table.day("calving_date")?);
    let entry = |row| {
        Ok(HerdEntry {
            animal: animal(animals, row).ok_or_else(|| nameless("animals"))?,
            parity: at!(parity, row).and_then(|parity| u8::try_from(parity).ok()),
            calving_date: at!(calving, row).map(day_of),
        })
    };
    table.ordered(table.long("row")?).into_iter().map(entry).collect()
}

/// The mobility scores.
///
/// # Errors
/// When a column is missing or a row names no animal.
pub fn scores(rows: &StructArray) -> Result<Vec<MobilityScore>> {
    let table = Table(rows);
    let (animals, date, score) =
        (table.text("animal_id")?, table.day("date")?, table.count("mobility_score")?);
    let entry = |row| {
        Ok(MobilityScore {
            date: day_of(date.value(row)),
            animal: animal(animals, row).ok_or_else(|| nameless("scores"))?,
            score: u8::try_from(score.value(row)).unwrap_or_default(),
        })
    };
    table.ordered(table.long("row")?).into_iter().map(entry).collect()
}

/// The foot work, every version.
///
/// # Errors
/// When a column is missing or a row names no animal.
pub fn work(rows: &StructArray) -> Result<Vec<FootWork>> {
    let table = Table(rows);
    let (animals, date, leg) = (table.text("animal_id")?, table.day("date")?, table.text("leg")?);
    let (lesion, block, look) = (table.yes("lesion")?, table.yes("block")?, table.yes("look")?);
    let (off, due) = (table.day("block_off")?, table.day("block_due")?);
    let (from, until) = (table.day("known_from")?, table.day("known_until")?);
    let entry = |row| -> Result<FootWork> {
        let animal: AnimalId = animal(animals, row).ok_or_else(|| nameless("work"))?;
        Ok(FootWork {
            date: day_of(date.value(row)),
            animal,
            leg: at!(leg, row).and_then(Leg::from_name),
            lesion: lesion.value(row),
            block_off: at!(off, row).map(day_of),
            block_due: at!(due, row).map(day_of),
            block: block.value(row),
            look: look.value(row),
            known: VersionSpan {
                from: at!(from, row).map_or(Date::MIN, day_of),
                until: at!(until, row).map(day_of),
            },
        })
    };
    table.ordered(table.long("row")?).into_iter().map(entry).collect()
}
