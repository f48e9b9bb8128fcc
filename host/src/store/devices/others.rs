//! Devices of other programs.

use crate::store::{Store, StoreError};
use rusqlite::{OptionalExtension, params};

impl Store {
    /// Keeps how another program describes a device; says whether that is new.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_other_device(&self, id: &str, resource: &str) -> Result<bool, StoreError> {
        let was: Option<String> = self
            .connection
            .prepare_cached("SELECT resource FROM other_devices WHERE id = ?1")?
            .query_row([id], |row| row.get(0))
            .optional()?;
        if was.as_deref() == Some(resource) {
            return Ok(false);
        }
        self.connection
            .prepare_cached("INSERT OR REPLACE INTO other_devices (id, resource) VALUES (?1, ?2)")?
            .execute(params![id, resource])?;
        self.note_brought("device", &[id], was)?;
        Ok(true)
    }

    /// How other programs describe their devices, by id.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn other_devices(&self) -> Result<Vec<String>, StoreError> {
        let mut statement =
            self.connection.prepare_cached("SELECT resource FROM other_devices ORDER BY id")?;
        let rows = statement.query_map([], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
