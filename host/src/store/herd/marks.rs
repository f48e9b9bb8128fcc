//! The marks on the cows.

use crate::record::AnimalId;
use crate::record::mark::{Mark, Marked};
use crate::store::{Store, StoreError};
use jiff::{Timestamp, civil::Date};
use rusqlite::params;

impl Store {
    /// Keeps a mark; says whether it is new.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_mark(&self, marked: &Marked, now: Timestamp) -> Result<bool, StoreError> {
        let date = marked.date.to_string();
        let animal = self.animal_called(&marked.animal.0, &date)?;
        let added = self
            .connection
            .prepare_cached(
                "INSERT OR IGNORE INTO marks (date, animal_id, mark, who, entered_ms, called)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute(params![
                date,
                animal,
                marked.mark.name(),
                marked.who,
                now.as_millisecond(),
                marked.animal.0
            ])?;
        if added > 0 {
            self.note_brought("mark", &[&date, &marked.animal.0, marked.mark.name()], None)?;
        }
        Ok(added > 0)
    }

    /// Takes a mark away again; says whether it was there.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn remove_mark(&self, animal: &AnimalId, date: Date, mark: Mark) -> Result<bool, StoreError> {
        let gone = self
            .connection
            .prepare_cached("DELETE FROM marks WHERE date = ?1 AND animal_id = ?2 AND mark = ?3")?
            .execute([&date.to_string(), &animal.0, mark.name()])?;
        Ok(gone > 0)
    }

    /// The marks up to a day, in the order in which they hold.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn marks(&self, until: Date) -> Result<Vec<Marked>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT date, animal_id, mark, who FROM marks WHERE date <= ?1 ORDER BY date, entered_ms, mark",
        )?;
        let rows = statement.query_map([until.to_string()], |row| {
            let (date, mark): (String, String) = (row.get(0)?, row.get(2)?);
            Ok((date, row.get(1)?, mark, row.get(3)?))
        })?;
        let mut marks = Vec::new();
        for row in rows {
            let (date, animal, mark, who): (String, String, String, String) = row?;
            // A mark of a newer program is none that this one could act on.
            if let (Ok(date), Some(mark)) = (date.parse(), Mark::from_name(&mark)) {
                marks.push(Marked { date, animal: AnimalId(animal), mark, who });
            }
        }
        Ok(marks)
    }
}
