//! What each import alone brought, and how it is taken back.

use crate::store::{SourceId, Store, StoreError};
use jiff::Timestamp;
use rusqlite::{OptionalExtension, params};

/// Divides the parts of a key.
const PART: char = '\u{1f}';

/// What taking an import back removed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TakenBack {
    /// Rows removed, or put back to what they were.
    pub rows: u64,
    /// Cases that people have worked on since: withdrawn and not removed.
    pub withdrawn: u64,
    /// Lanes whose passages must be named anew: lane, first and last moment, UTC, ms.
    pub lanes: Vec<(String, i64, i64)>,
}

impl Store {
    /// Notes a row that the import that is running brought; `was` is what it held before, for a row that was there.
    pub(super) fn note_brought(
        &self,
        kind: &str,
        key: &[&str],
        was: Option<String>,
    ) -> Result<(), StoreError> {
        let Some(source) = self.source.get() else { return Ok(()) };
        let key = key.join(&PART.to_string());
        // What an import brings twice was there before only for the first time.
        self.connection
            .prepare_cached(
                "INSERT OR IGNORE INTO brought (source_id, kind, key, was) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![source, kind, key, was])?;
        Ok(())
    }

    /// Takes back what an import alone brought; `None` for one that does not exist, is taken back already, or of which it is not noted what it
    /// brought (a link, or an import of an older program). Passages
    /// of the lanes told must be named anew.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn take_back(&self, source: SourceId, now: Timestamp) -> Result<Option<TakenBack>, StoreError> {
        let open = self
            .connection
            .query_row(
                "SELECT 1 FROM sources WHERE id = ?1 AND undone_ms IS NULL AND noted",
                [source.0],
                |_| Ok(()),
            )
            .optional()?;
        if open.is_none() {
            return Ok(None);
        }
        let mut done = TakenBack::default();
        let rows: Vec<(String, String, Option<String>)> = self
            .connection
            .prepare("SELECT kind, key, was FROM brought WHERE source_id = ?1")?
            .query_map([source.0], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
            .collect::<Result<_, _>>()?;
        for (kind, key, was) in &rows {
            let parts: Vec<&str> = key.split(PART).collect();
            self.take_back_row(kind, &parts, was.as_deref(), now, &mut done)?;
        }
        let passages = self.connection.execute("DELETE FROM passages WHERE source_id = ?1", [source.0])?;
        done.rows += passages as u64;
        self.connection.execute("DELETE FROM brought WHERE source_id = ?1", [source.0])?;
        self.connection.execute(
            "UPDATE sources SET undone_ms = ?2 WHERE id = ?1",
            params![source.0, now.as_millisecond()],
        )?;
        for (lane, from, to) in &done.lanes {
            self.connection.execute(
                "UPDATE passages SET animal_id = NULL, called = NULL, evidence = 'no tag'
                 WHERE lane = ?1 AND animal_given = 0 AND start_ms BETWEEN ?2 AND ?3",
                params![lane, from - NAMED_WITHIN_MS, to + NAMED_WITHIN_MS],
            )?;
        }
        self.name_anew()?;
        Ok(Some(done))
    }

    fn take_back_row(
        &self,
        kind: &str,
        key: &[&str],
        was: Option<&str>,
        now: Timestamp,
        done: &mut TakenBack,
    ) -> Result<(), StoreError> {
        let run = |sql: &str, values: &[&dyn rusqlite::ToSql]| {
            self.connection.prepare_cached(sql)?.execute(values).map_err(StoreError::from)
        };
        let changed = match (kind, key, was) {
            ("tag", [lane, time, animal], _) => {
                let ms: i64 = time.parse().unwrap_or_default();
                match done.lanes.iter_mut().find(|of| of.0 == *lane) {
                    Some(of) => (of.1, of.2) = (of.1.min(ms), of.2.max(ms)),
                    None => done.lanes.push(((*lane).to_owned(), ms, ms)),
                }
                run(
                    "DELETE FROM tag_reads WHERE lane = ?1 AND time_ms = ?2 AND animal_id = ?3",
                    &[lane, &ms, animal],
                )?
            }
            ("score", [date, animal], None) => {
                run("DELETE FROM mobility_scores WHERE date = ?1 AND called = ?2", &[date, animal])?
            }
            ("score", [date, animal], Some(was)) => run(
                "UPDATE mobility_scores SET score = ?3 WHERE date = ?1 AND called = ?2",
                &[date, animal, &was],
            )?,
            ("herd", [animal, calving], None) => {
                run("DELETE FROM herd WHERE called = ?1 AND calving_date = ?2", &[animal, calving])?
            }
            ("herd", [animal, calving], Some(was)) => {
                let parity: Option<i64> = was.parse().ok();
                run(
                    "UPDATE herd SET parity = ?3 WHERE called = ?1 AND calving_date = ?2",
                    &[animal, calving, &parity],
                )?
            }
            ("animal", [animal], None) => run("DELETE FROM animals WHERE animal_id = ?1", &[animal])?,
            ("animal", [animal], Some(was)) => {
                let (number, name) = was.split_once(PART).unwrap_or((was, ""));
                run(
                    "UPDATE animals SET number = ?2, name = ?3 WHERE animal_id = ?1",
                    &[animal, &number, &name],
                )?
            }
            ("ear_tag", [tag, from], None) => {
                run("DELETE FROM ear_tags WHERE tag = ?1 AND from_day = ?2", &[tag, from])?
            }
            ("ear_tag", [tag, from], Some(was)) => run(
                "UPDATE ear_tags SET animal_id = ?3 WHERE tag = ?1 AND from_day = ?2",
                &[tag, from, &was],
            )?,
            ("mark", [date, called, mark], _) => {
                run("DELETE FROM marks WHERE date = ?1 AND called = ?2 AND mark = ?3", &[date, called, mark])?
            }
            ("gate", [lane, time, animal, outcome], _) => {
                let ms: i64 = time.parse().unwrap_or_default();
                run(
                    "DELETE FROM gate_events WHERE lane = ?1 AND time_ms = ?2 AND animal_id = ?3 AND outcome = ?4",
                    &[lane, &ms, animal, outcome],
                )?
            }
            ("device", [id], None) => run("DELETE FROM other_devices WHERE id = ?1", &[id])?,
            ("device", [id], Some(was)) => {
                run("UPDATE other_devices SET resource = ?2 WHERE id = ?1", &[id, &was])?
            }
            ("case", [id], _) => {
                let id: i64 = id.parse().unwrap_or_default();
                let touched = "SELECT EXISTS (SELECT 1 FROM follow_ups WHERE case_id = ?1)
                               OR EXISTS (SELECT 1 FROM corrections WHERE case_id = ?1)";
                if self.connection.query_row(touched, [id], |row| row.get(0))? {
                    self.withdraw_within(id, "its import was taken back", "import undo", now)?;
                    done.withdrawn += 1;
                    0
                } else {
                    run("DELETE FROM cases WHERE id = ?1", &[&id])?
                }
            }
            ("follow_up", [id], _) => run("DELETE FROM follow_ups WHERE id = CAST(?1 AS INTEGER)", &[id])?,
            ("item", [device, boot, sequence], _) => run(
                "DELETE FROM device_items WHERE device = ?1 AND boot = CAST(?2 AS INTEGER) AND sequence = CAST(?3 AS INTEGER)",
                &[device, boot, sequence],
            )?,
            _ => 0,
        };
        done.rows += changed as u64;
        Ok(())
    }
}

/// Passages this near to a tag read that is taken back are named anew, ms: our choice, far more than a read can be off.
const NAMED_WITHIN_MS: i64 = 600_000;
