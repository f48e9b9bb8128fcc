//! The desk between the pages and the programs that listen: what a page wants of a lane now, and what the lane answers.
//!
//! A file of its own beside the store, which may be lost at any time: nothing in it is kept, and writing it changes nothing
//! of the store. Whoever finds it broken or of another version makes it anew.

use crate::store::{StoreError, device_number};
use rusqlite::{Connection, OptionalExtension, params};
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use shared::{
    plate::PerPlate,
    wire::{CalibrationReply, CalibrationStep, DeviceId, LaneAnswer},
};
use std::{
    path::{Path, PathBuf},
    time::Duration,
};

/// The version of the tables below.
const VERSION: i32 = 2;
/// How long to wait for the other program. Our choice: each writes a row at a time.
const BUSY_TIMEOUT: Duration = Duration::from_secs(1);
/// A wish older than this is nobody's any more, ms: whoever pressed the button has gone on. Our choice.
pub const WISH_MS: i64 = 10_000;
/// What a device says of a cow is shown for so long, ms. Our choice: until the next cows have come.
pub const ANSWER_MS: i64 = 60_000;
/// A calibration left alone this long is forgotten, as the device does, ms.
pub const FORGET_MS: i64 = 60 * 60 * 1_000;

const TABLES: &str = "
    CREATE TABLE watched (device TEXT PRIMARY KEY, until_ms INTEGER NOT NULL) STRICT;
    CREATE TABLE loads (device TEXT PRIMARY KEY, loads TEXT NOT NULL) STRICT;
    CREATE TABLE answers (device TEXT PRIMARY KEY, at_ms INTEGER NOT NULL, answer TEXT NOT NULL) STRICT;
    CREATE TABLE steps (id INTEGER PRIMARY KEY, device TEXT NOT NULL, weight_kg REAL NOT NULL, step TEXT NOT NULL,
        asked_ms INTEGER NOT NULL, answer TEXT) STRICT;";

/// What lies on the plates, over the last moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LoadsNow {
    /// When, UTC, ms since the Unix epoch.
    pub at_ms: i64,
    /// Mean load, kg.
    pub mean_kg: PerPlate<f32>,
    /// SD of the load, kg.
    pub sd_kg: PerPlate<f32>,
    /// Plates whose converter was at its end stop.
    pub end_stop: PerPlate<bool>,
}

/// What became of a step.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum StepEnd {
    /// The device answered.
    Reply(CalibrationReply),
    /// The device takes what lies on the plates for an animal.
    Busy,
    /// It refused for another reason, or the line was lost.
    Lost,
    /// It was left out.
    Skipped,
}

/// A step of a calibration that a page asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct DeskStep {
    /// Its number on the desk.
    pub id: i64,
    /// The known weight of this calibration, kg.
    pub weight_kg: f32,
    /// The step.
    pub step: CalibrationStep,
    /// When it was asked for, UTC, ms since the Unix epoch.
    pub asked_ms: i64,
    /// What became of it; none as yet.
    pub end: Option<StepEnd>,
}

/// The desk.
#[derive(Debug)]
pub struct Desk {
    connection: Connection,
}

fn path(store: &Path) -> PathBuf {
    PathBuf::from(format!("{}-desk", store.display()))
}

fn text(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

fn read<T: DeserializeOwned>(text: &str) -> Option<T> {
    serde_json::from_str(text).ok()
}

impl Desk {
    /// The desk beside a store, made where there is none.
    ///
    /// # Errors
    /// When the file cannot be made.
    pub fn open(store: &Path) -> Result<Self, StoreError> {
        let path = path(store);
        match Self::open_file(&path) {
            Ok(desk) => Ok(desk),
            Err(error @ (StoreError::Locked | StoreError::ReadOnly | StoreError::Full)) => Err(error),
            Err(_) => {
                // Broken, or another version's: it holds nothing that must be kept.
                let _ = std::fs::remove_file(&path);
                Self::open_file(&path)
            }
        }
    }

    /// The desk beside a store, where somebody has made it.
    #[must_use]
    pub fn existing(store: &Path) -> Option<Self> {
        path(store).exists().then(|| Self::open(store).ok()).flatten()
    }

    fn open_file(path: &Path) -> Result<Self, StoreError> {
        let connection = Connection::open(path)?;
        connection.busy_timeout(BUSY_TIMEOUT)?;
        // A torn desk is made anew: no flush is worth its time.
        connection.pragma_update_and_check(None, "journal_mode", "memory", |row| row.get::<_, String>(0))?;
        connection.pragma_update(None, "synchronous", "off")?;
        let transaction =
            rusqlite::Transaction::new_unchecked(&connection, rusqlite::TransactionBehavior::Immediate)?;
        let version: i32 = transaction.pragma_query_value(None, "user_version", |row| row.get(0))?;
        match version {
            VERSION => {}
            0 => {
                transaction.execute_batch(TABLES)?;
                transaction.pragma_update(None, "user_version", VERSION)?;
            }
            _ => return Err(StoreError::NotAStore),
        }
        transaction.commit()?;
        Ok(Self { connection })
    }

    /// Somebody looks at the plates of a device until then.
    ///
    /// # Errors
    /// When the desk cannot be written.
    pub fn watch(&self, device: DeviceId, until_ms: i64) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO watched VALUES (?1, ?2)
                 ON CONFLICT (device) DO UPDATE SET until_ms = max(until_ms, excluded.until_ms)",
            )?
            .execute(params![device_number(device), until_ms])?;
        Ok(())
    }

    /// Whether somebody looks at the plates of a device.
    ///
    /// # Errors
    /// When the desk cannot be read.
    pub fn is_watched(&self, device: DeviceId, now_ms: i64) -> Result<bool, StoreError> {
        Ok(self
            .connection
            .prepare_cached("SELECT 1 FROM watched WHERE device = ?1 AND until_ms > ?2")?
            .exists(params![device_number(device), now_ms])?)
    }

    /// What lies on the plates, as the lane last said.
    ///
    /// # Errors
    /// When the desk cannot be read.
    pub fn loads(&self, device: DeviceId) -> Result<Option<LoadsNow>, StoreError> {
        let said: Option<String> = self
            .connection
            .prepare_cached("SELECT loads FROM loads WHERE device = ?1")?
            .query_row([device_number(device)], |row| row.get(0))
            .optional()?;
        Ok(said.and_then(|said| read(&said)))
    }

    /// Puts down what lies on the plates.
    ///
    /// # Errors
    /// When the desk cannot be written.
    pub fn put_loads(&self, device: DeviceId, loads: &LoadsNow) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("INSERT OR REPLACE INTO loads VALUES (?1, ?2)")?
            .execute(params![device_number(device), text(loads)])?;
        Ok(())
    }

    /// Puts down what a device has just said of a cow.
    ///
    /// # Errors
    /// When the desk cannot be written.
    pub fn put_answer(&self, device: DeviceId, answer: &LaneAnswer, now_ms: i64) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("INSERT OR REPLACE INTO answers VALUES (?1, ?2, ?3)")?
            .execute(params![device_number(device), now_ms, text(answer)])?;
        Ok(())
    }

    /// What each device said last, where that was in the last [`ANSWER_MS`]; the newest first.
    ///
    /// # Errors
    /// When the desk cannot be read.
    pub fn answers(&self, now_ms: i64) -> Result<Vec<LaneAnswer>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT answer FROM answers WHERE at_ms > ?1 ORDER BY at_ms DESC, device")?;
        let rows = statement.query_map([now_ms - ANSWER_MS], |row| row.get::<_, String>(0))?;
        let rows: Vec<String> = rows.collect::<Result<_, _>>()?;
        Ok(rows.iter().filter_map(|answer| read(answer)).collect())
    }

    /// Asks for a step, or notes that one was left out. An empty deck begins a calibration: what was before is forgotten.
    /// The same step that still waits is not asked for twice.
    ///
    /// # Errors
    /// When the desk cannot be written.
    pub fn ask(
        &self,
        device: DeviceId,
        weight_kg: f32,
        step: CalibrationStep,
        end: Option<StepEnd>,
        now_ms: i64,
    ) -> Result<(), StoreError> {
        if step == CalibrationStep::EmptyDeck {
            self.connection.execute("DELETE FROM steps WHERE device = ?1", [device_number(device)])?;
        }
        self.connection
            .prepare_cached(
                "INSERT INTO steps (device, weight_kg, step, asked_ms, answer) SELECT ?1, ?2, ?3, ?4, ?5
                 WHERE NOT EXISTS (SELECT 1 FROM steps
                     WHERE device = ?1 AND step = ?3 AND answer IS NULL AND asked_ms > ?4 - ?6)",
            )?
            .execute(params![
                device_number(device),
                weight_kg,
                text(&step),
                now_ms,
                end.as_ref().map(text),
                WISH_MS
            ])?;
        Ok(())
    }

    /// The steps of the calibration under way, the oldest first.
    ///
    /// # Errors
    /// When the desk cannot be read.
    pub fn steps(&self, device: DeviceId, now_ms: i64) -> Result<Vec<DeskStep>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT id, weight_kg, step, asked_ms, answer FROM steps WHERE device = ?1 AND asked_ms > ?2 ORDER BY id",
        )?;
        let rows = statement.query_map(params![device_number(device), now_ms - FORGET_MS], |row| {
            let (step, answer): (String, Option<String>) = (row.get(2)?, row.get(4)?);
            let (id, weight_kg, asked_ms) = (row.get(0)?, row.get(1)?, row.get(3)?);
            let end = answer.map(|answer| read(&answer).unwrap_or(StepEnd::Lost));
            Ok(read(&step).map(|step| DeskStep { id, weight_kg, step, asked_ms, end }))
        })?;
        Ok(rows.filter_map(Result::transpose).collect::<Result<_, _>>()?)
    }

    /// The step that a device is to do now.
    ///
    /// # Errors
    /// When the desk cannot be read.
    pub fn wanted(&self, device: DeviceId, now_ms: i64) -> Result<Option<DeskStep>, StoreError> {
        let steps = self.steps(device, now_ms)?;
        Ok(steps.into_iter().rfind(|step| step.end.is_none() && step.asked_ms > now_ms - WISH_MS))
    }

    /// Puts down what became of a step.
    ///
    /// # Errors
    /// When the desk cannot be written.
    pub fn end(&self, id: i64, end: &StepEnd) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("UPDATE steps SET answer = ?2 WHERE id = ?1")?
            .execute(params![id, text(end)])?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: DeviceId = DeviceId(7);
    const THERE: DeviceId = DeviceId(8);

    fn desk() -> (tempfile::TempDir, PathBuf, Desk) {
        let folder = tempfile::tempdir().unwrap();
        let store = folder.path().join("store");
        let desk = Desk::open(&store).unwrap();
        (folder, store, desk)
    }

    #[test]
    fn a_watch_holds_until_its_time_and_for_its_device() {
        let (_folder, _, desk) = desk();
        desk.watch(HERE, 1_000).unwrap();
        desk.watch(HERE, 900).unwrap();
        let watched = |device, now| desk.is_watched(device, now).unwrap();
        assert_eq!((watched(HERE, 999), watched(HERE, 1_000), watched(THERE, 0)), (true, false, false));
    }

    #[test]
    fn a_step_is_wanted_for_ten_seconds_and_once() {
        let (_folder, _, desk) = desk();
        let step = CalibrationStep::EmptyDeck;
        desk.ask(HERE, 100.0, step, None, 5_000).unwrap();
        desk.ask(HERE, 100.0, CalibrationStep::Finish, None, 6_000).unwrap();
        desk.ask(HERE, 100.0, CalibrationStep::Finish, None, 7_000).unwrap();
        assert_eq!(desk.steps(HERE, 7_000).unwrap().len(), 2, "pressed twice");
        let wanted = desk.wanted(HERE, 7_000).unwrap().unwrap();
        assert_eq!((wanted.step, wanted.weight_kg, wanted.asked_ms), (CalibrationStep::Finish, 100.0, 6_000));
        assert!(desk.wanted(HERE, 5_999 + WISH_MS).unwrap().is_some());
        assert!(desk.wanted(HERE, 6_000 + WISH_MS).unwrap().is_none(), "whoever asked has gone on");
        assert!(desk.wanted(THERE, 7_000).unwrap().is_none());
        desk.end(wanted.id, &StepEnd::Busy).unwrap();
        assert_eq!(desk.steps(HERE, 7_000).unwrap()[1].end, Some(StepEnd::Busy));
        desk.ask(HERE, 50.0, step, None, 8_000).unwrap();
        let steps = desk.steps(HERE, 8_000).unwrap();
        assert_eq!((steps.len(), steps[0].weight_kg), (1, 50.0), "an empty deck begins anew");
        assert!(desk.steps(HERE, 8_000 + FORGET_MS).unwrap().is_empty(), "forgotten, as by the device");
    }

    #[test]
    fn what_a_device_says_of_a_cow_stands_for_a_minute() {
        let (_folder, _, desk) = desk();
        let answer = |passage| LaneAnswer {
            boot: 1,
            passage,
            start: shared::units::Milliseconds(5),
            code: "999000000000041".parse().unwrap(),
            table: 3,
            flag: shared::lane_score::LaneFlag::Check,
            probability: 0.7,
            leg: Some(shared::plate::Leg::LR),
        };
        desk.put_answer(HERE, &answer(1), 1_000).unwrap();
        desk.put_answer(HERE, &answer(2), 2_000).unwrap();
        desk.put_answer(THERE, &answer(3), 3_000).unwrap();
        let said = |now| desk.answers(now).unwrap().iter().map(|answer| answer.passage).collect::<Vec<_>>();
        assert_eq!(said(4_000), [3, 2], "the last of each lane");
        assert_eq!(said(1_999 + ANSWER_MS), [3, 2]);
        assert_eq!((said(2_000 + ANSWER_MS), said(3_000 + ANSWER_MS)), (vec![3], vec![]));
    }

    #[test]
    fn what_cannot_be_read_is_made_anew() {
        let (_folder, store, desk) = desk();
        let loads = LoadsNow {
            at_ms: 1,
            mean_kg: PerPlate([1.0, 2.0, 3.0, 4.5]),
            sd_kg: PerPlate([0.1; 4]),
            end_stop: PerPlate([false, true, false, false]),
        };
        desk.put_loads(HERE, &loads).unwrap();
        assert_eq!(Desk::existing(&store).unwrap().loads(HERE).unwrap(), Some(loads));
        desk.connection.pragma_update(None, "user_version", VERSION + 1).unwrap();
        drop(desk);
        assert_eq!(Desk::open(&store).unwrap().loads(HERE).unwrap(), None, "of another version");
        std::fs::write(path(&store), "no database, and long enough to be seen to be none").unwrap();
        assert_eq!(Desk::open(&store).unwrap().loads(HERE).unwrap(), None, "broken");
        assert!(Desk::existing(&store.with_extension("other")).is_none());
    }
}
