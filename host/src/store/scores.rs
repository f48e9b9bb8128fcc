//! The score's rows as last computed, and from where it can go on. Nothing here is needed: it only saves time.

use crate::arithmetic::dates::day_number;
use crate::record::LaneDay;
use crate::record::{AnimalId, CowDay};
use crate::store::{Store, StoreError};
use jiff::{Timestamp, civil::Date};
use rayon::prelude::*;
use rusqlite::{Transaction, TransactionBehavior, params};
use serde::{Serialize, de::DeserializeOwned};

/// What is kept of the score, and how it stands to the rest of the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeptState {
    /// Counts the changes of everything the score rests on.
    pub change: i64,
    /// Local day from which on the rows no longer hold; `None`: all hold.
    pub dirty: Option<Date>,
    /// Checksum of the model that made the rows.
    pub model: u32,
    /// Last day of the rows, by number.
    pub to: Option<i64>,
}

/// Which rows.
#[derive(Clone, Copy, Debug)]
pub enum KeptRows<'a> {
    /// Every cow on every day.
    All,
    /// Every cow from a day on.
    Since(Date),
    /// Every cow on one day.
    Day(Date),
    /// One cow on every day.
    Of(&'a AnimalId),
}

/// New rows to keep in the place of those after a day, by number.
#[derive(Debug)]
pub struct NewRows<'a> {
    /// Rows after this day are replaced.
    pub after: i64,
    /// The new last day.
    pub to: i64,
    /// Rows of cows: day number and row, by day.
    pub cows: Vec<(i64, &'a CowDay)>,
    /// Rows of lanes: the same.
    pub lanes: Vec<(i64, &'a LaneDay)>,
    /// Days from whose end the score can go on, with what it carries.
    pub checkpoints: &'a [(i64, Vec<u8>)],
    /// Older days of the same that are still wanted.
    pub wanted: &'a [i64],
}

fn encode<T: Serialize>(row: &T) -> Result<Vec<u8>, StoreError> {
    postcard::to_allocvec(row).map_err(|error| StoreError::Damaged(error.to_string()))
}

fn decode<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, StoreError> {
    postcard::from_bytes(bytes).map_err(|error| StoreError::Damaged(format!("kept scores: {error}")))
}

fn rows<T: DeserializeOwned + Send>(
    mut statement: rusqlite::CachedStatement<'_>,
    values: impl rusqlite::Params,
) -> Result<Vec<T>, StoreError> {
    let kept: Vec<Vec<u8>> = statement.query_map(values, |row| row.get(0))?.collect::<Result<_, _>>()?;
    kept.par_iter().map(|row| decode(row)).collect()
}

/// Rows by day, each with its place in its day.
fn placed<'a, T>(rows: &'a [(i64, &'a T)]) -> impl Iterator<Item = (i64, i64, &'a T)> {
    rows.chunk_by(|a, b| a.0 == b.0)
        .flat_map(|day| (0..).zip(day).map(|(place, &(day, row))| (day, place, row)))
}

impl Store {
    /// Runs `work` on the store as it is now, whatever others write meanwhile.
    ///
    /// # Errors
    /// What `work` says, or that the store cannot be read.
    pub fn snapshot<T>(&self, work: impl FnOnce(&Self) -> Result<T, StoreError>) -> Result<T, StoreError> {
        let transaction = Transaction::new_unchecked(&self.connection, TransactionBehavior::Deferred)?;
        let value = work(self)?;
        transaction.finish()?;
        Ok(value)
    }

    /// What is kept.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn kept_scores(&self) -> Result<KeptState, StoreError> {
        let zone = self.time_zone()?;
        Ok(self.connection.query_row(
            "SELECT change, dirty_ms, model, kept_to FROM score_state",
            [],
            |row| {
                let local = |ms| {
                    Timestamp::from_millisecond(ms).map_or(Date::MIN, |time| zone.to_datetime(time).date())
                };
                Ok(KeptState {
                    change: row.get(0)?,
                    dirty: row.get::<_, Option<i64>>(1)?.map(local),
                    model: row.get(2)?,
                    to: row.get(3)?,
                })
            },
        )?)
    }

    /// Kept rows of cows up to a day, by day.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn kept_rows(&self, which: KeptRows<'_>, to: i64) -> Result<Vec<CowDay>, StoreError> {
        let select = |condition: &str| {
            let sql =
                format!("SELECT row FROM score_days WHERE day <= ?1 AND {condition} ORDER BY day, place");
            self.connection.prepare_cached(&sql)
        };
        match which {
            KeptRows::All => rows(select("TRUE")?, [to]),
            KeptRows::Since(day) => rows(select("day >= ?2")?, [to, day_number(day)]),
            KeptRows::Day(day) => rows(select("day = ?2")?, [to, day_number(day)]),
            KeptRows::Of(animal) => rows(select("animal_id = ?2")?, params![to, animal.0]),
        }
    }

    /// Kept rows of lanes from a day to a day.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn kept_lanes(&self, from: i64, to: i64) -> Result<Vec<LaneDay>, StoreError> {
        let sql = "SELECT row FROM score_lanes WHERE day BETWEEN ?1 AND ?2 ORDER BY day, place";
        rows(self.connection.prepare_cached(sql)?, [from, to])
    }

    /// The last day up to `to` from whose end the score can go on, and what it carries.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn checkpoint(&self, to: i64) -> Result<Option<(i64, Vec<u8>)>, StoreError> {
        let sql = "SELECT day, state FROM score_checkpoints WHERE day <= ?1 ORDER BY day DESC LIMIT 1";
        let mut statement = self.connection.prepare_cached(sql)?;
        let mut rows = statement.query([to])?;
        Ok(rows.next()?.map(|row| Ok::<_, rusqlite::Error>((row.get(0)?, row.get(1)?))).transpose()?)
    }

    /// The last day up to `to` from whose end the score can go on.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn checkpoint_day(&self, to: i64) -> Result<Option<i64>, StoreError> {
        let sql = "SELECT max(day) FROM score_checkpoints WHERE day <= ?1";
        Ok(self.connection.prepare_cached(sql)?.query_row([to], |row| row.get(0))?)
    }

    /// The local day of the passage before which so many others lie from the beginning of a day on, or of all; `None` where
    /// there are fewer.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn day_of_passage(&self, from: Option<Date>, others: usize) -> Result<Option<Date>, StoreError> {
        let zone = self.time_zone()?;
        let begin = from.and_then(|day| day.to_zoned_datetime(zone.clone()).ok());
        let begin_ms = begin.map_or(i64::MIN, |begin| begin.timestamp().as_millisecond());
        let sql = "SELECT start_ms FROM passages WHERE start_ms >= ?1 ORDER BY start_ms LIMIT 1 OFFSET ?2";
        let mut statement = self.connection.prepare_cached(sql)?;
        let others = i64::try_from(others).unwrap_or(i64::MAX);
        let mut rows = statement.query([begin_ms, others])?;
        let Some(row) = rows.next()? else { return Ok(None) };
        let time = Timestamp::from_millisecond(row.get(0)?).unwrap_or_default();
        Ok(Some(zone.to_datetime(time).date()))
    }

    /// Keeps new rows, if nothing the score rests on has changed since `seen`; says whether it did.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep_scores(&self, seen: i64, model: u32, new: &NewRows<'_>) -> Result<bool, StoreError> {
        self.batch(|store| {
            if store.kept_scores()?.change != seen {
                return Ok(false);
            }
            let db = &store.connection;
            for table in ["score_days", "score_lanes", "score_checkpoints"] {
                db.execute(&format!("DELETE FROM {table} WHERE day > ?1"), [new.after])?;
            }
            let mut insert = db.prepare_cached(
                "INSERT INTO score_days (day, place, row, animal_id) VALUES (?1, ?2, ?3, ?4)",
            )?;
            for (day, place, row) in placed(&new.cows) {
                insert.execute(params![day, place, encode(row)?, row.animal.0])?;
            }
            let mut insert =
                db.prepare_cached("INSERT INTO score_lanes (day, place, row) VALUES (?1, ?2, ?3)")?;
            for (day, place, row) in placed(&new.lanes) {
                insert.execute(params![day, place, encode(row)?])?;
            }
            let mut statement = db.prepare_cached("SELECT day FROM score_checkpoints")?;
            let old: Vec<i64> = statement.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
            for day in old.into_iter().filter(|day| !new.wanted.contains(day)) {
                db.execute("DELETE FROM score_checkpoints WHERE day = ?1", [day])?;
            }
            for (day, state) in new.checkpoints {
                db.execute(
                    "INSERT OR REPLACE INTO score_checkpoints (day, state) VALUES (?1, ?2)",
                    params![day, state],
                )?;
            }
            db.execute(
                "UPDATE score_state SET dirty_ms = NULL, model = ?1, kept_to = ?2",
                params![model, new.to],
            )?;
            Ok(true)
        })
    }
}
