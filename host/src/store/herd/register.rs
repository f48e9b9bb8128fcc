//! The herd register and the mobility scores given by people.

use crate::record::{AnimalId, HerdEntry, MobilityScore};
use crate::store::passages::ANIMALS_SEEN;
use crate::store::{Store, StoreError};
use jiff::civil::Date;
use rusqlite::{OptionalExtension, Row, params};

fn date(row: &Row<'_>, index: usize) -> rusqlite::Result<Option<Date>> {
    let text: String = row.get(index)?;
    if text.is_empty() {
        return Ok(None);
    }
    text.parse().map(Some).map_err(|error: jiff::Error| {
        rusqlite::Error::FromSqlConversionFailure(index, rusqlite::types::Type::Text, Box::new(error))
    })
}

impl Store {
    /// Adds a line of the herd register, or corrects the parity of one that is there. Says whether anything changed.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_herd_entry(&self, entry: &HerdEntry) -> Result<bool, StoreError> {
        let calving = entry.calving_date.map(|date| date.to_string()).unwrap_or_default();
        let animal = self.animal_called(&entry.animal.0, &calving)?;
        let was: Option<Option<i64>> = self
            .connection
            .prepare_cached("SELECT parity FROM herd WHERE animal_id = ?1 AND calving_date = ?2")?
            .query_row([&animal, &calving], |row| row.get(0))
            .optional()?;
        let changed = self
            .connection
            .prepare_cached(
                "INSERT INTO herd (animal_id, calving_date, parity, called) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (animal_id, calving_date) DO UPDATE SET parity = excluded.parity
                 WHERE excluded.parity IS NOT NULL AND parity IS NOT excluded.parity",
            )?
            .execute(params![animal, calving, entry.parity, entry.animal.0])?;
        if changed > 0 {
            let was = was.map(|parity| parity.map_or_else(String::new, |parity| parity.to_string()));
            self.note_brought("herd", &[&entry.animal.0, &calving], was)?;
        }
        Ok(changed > 0)
    }

    /// The herd register: by animal, her calvings in order of time (those without a date first).
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn herd(&self) -> Result<Vec<HerdEntry>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT animal_id, parity, calving_date FROM herd ORDER BY animal_id, calving_date",
        )?;
        let rows = statement.query_map([], |row| {
            Ok(HerdEntry { animal: AnimalId(row.get(0)?), parity: row.get(1)?, calving_date: date(row, 2)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Every animal that is known by a passage or the register, in order. What people say of others waits until they
    /// are named.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn animals(&self) -> Result<Vec<AnimalId>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            &(ANIMALS_SEEN.to_owned()
                + " SELECT id FROM seen WHERE id IS NOT NULL
                    UNION SELECT animal_id FROM herd UNION SELECT animal_id FROM animals ORDER BY 1"),
        )?;
        let rows = statement.query_map([], |row| row.get(0).map(AnimalId))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Adds a mobility score, or corrects the one of that cow and day. Says whether anything changed.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_mobility_score(&self, score: &MobilityScore) -> Result<bool, StoreError> {
        let date = score.date.to_string();
        let animal = self.animal_called(&score.animal.0, &date)?;
        let was: Option<i64> = self
            .connection
            .prepare_cached("SELECT score FROM mobility_scores WHERE date = ?1 AND animal_id = ?2")?
            .query_row([&date, &animal], |row| row.get(0))
            .optional()?;
        let changed = self
            .connection
            .prepare_cached(
                "INSERT INTO mobility_scores (date, animal_id, score, called) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (date, animal_id) DO UPDATE SET score = excluded.score
                 WHERE score <> excluded.score",
            )?
            .execute(params![date, animal, score.score, score.animal.0])?;
        if changed > 0 {
            self.note_brought("score", &[&date, &score.animal.0], was.map(|score| score.to_string()))?;
        }
        Ok(changed > 0)
    }

    /// Every mobility score, by day and animal.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn mobility_scores(&self) -> Result<Vec<MobilityScore>, StoreError> {
        self.mobility_scores_of(None)
    }

    /// The mobility scores of one animal, or of all, by day.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn mobility_scores_of(&self, animal: Option<&AnimalId>) -> Result<Vec<MobilityScore>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT date, animal_id, score FROM mobility_scores
             WHERE ?1 IS NULL OR animal_id = ?1 ORDER BY date, animal_id",
        )?;
        let rows = statement.query_map([animal.map(|animal| &animal.0)], |row| {
            Ok(MobilityScore {
                date: date(row, 0)?.unwrap_or_default(),
                animal: AnimalId(row.get(1)?),
                score: row.get(2)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
