//! Where things came from.

use crate::store::{Store, StoreError};
use jiff::Timestamp;
use rusqlite::params;

/// The store's number of a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SourceId(pub i64);

/// What an import did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SourceCounts {
    /// Bytes read.
    pub bytes: u64,
    /// CRC-32/ISCSI of the bytes read.
    pub crc32: u32,
    /// Rows read, good and bad.
    pub rows: u64,
    /// What was new.
    pub added: u64,
    /// What was there before.
    pub already: u64,
    /// Rows left out as bad.
    pub bad: u64,
}

/// A file or link that brought something in.
#[derive(Clone, Debug)]
pub struct Source {
    /// Its number.
    pub id: SourceId,
    /// What kind: `readings`, `tags` ...
    pub kind: String,
    /// File name as given, or the port.
    pub name: String,
    /// When it was begun.
    pub begun: Timestamp,
    /// When it was finished; `None` where it still runs or was killed.
    pub finished: Option<Timestamp>,
    /// Whether it is noted what it brought: without that it cannot be taken back.
    pub noted: bool,
    /// When it was taken back.
    pub undone: Option<Timestamp>,
    /// What it did.
    pub counts: SourceCounts,
}

impl Store {
    /// Notes that an import begins.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn begin_source(&self, kind: &str, name: &str, now: Timestamp) -> Result<SourceId, StoreError> {
        self.connection.execute(
            "INSERT INTO sources (kind, name, begun_ms, noted) VALUES (?1, ?2, ?3, ?1 <> 'link')",
            params![kind, name, now.as_millisecond()],
        )?;
        let id = self.connection.last_insert_rowid();
        // What comes over a link is kept for ever: a device gives it once.
        self.source.set((kind != "link").then_some(id));
        Ok(SourceId(id))
    }

    /// Notes what an import did, now that it is done.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn finish_source(
        &self,
        id: SourceId,
        counts: &SourceCounts,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        let whole = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
        self.source.set(None);
        self.connection.execute(
            "UPDATE sources SET bytes = ?2, crc32 = ?3, rows = ?4, added = ?5, already = ?6, bad = ?7,
                    finished_ms = ?8 WHERE id = ?1",
            params![
                id.0,
                whole(counts.bytes),
                counts.crc32,
                whole(counts.rows),
                whole(counts.added),
                whole(counts.already),
                whole(counts.bad),
                now.as_millisecond()
            ],
        )?;
        Ok(())
    }

    /// Every source, in the order of import.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn sources(&self) -> Result<Vec<Source>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT kind, name, begun_ms, finished_ms, bytes, crc32, rows, added, already, bad, id, undone_ms, noted
             FROM sources ORDER BY id",
        )?;
        let rows = statement.query_map([], |row| {
            let count = |index| row.get::<_, i64>(index).map(|n| u64::try_from(n).unwrap_or(0));
            let time = |ms| Timestamp::from_millisecond(ms).unwrap_or_default();
            Ok(Source {
                id: SourceId(row.get(10)?),
                undone: row.get::<_, Option<i64>>(11)?.map(time),
                noted: row.get(12)?,
                kind: row.get(0)?,
                name: row.get(1)?,
                begun: time(row.get(2)?),
                finished: row.get::<_, Option<i64>>(3)?.map(time),
                counts: SourceCounts {
                    bytes: count(4)?,
                    crc32: row.get(5)?,
                    rows: count(6)?,
                    added: count(7)?,
                    already: count(8)?,
                    bad: count(9)?,
                },
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
