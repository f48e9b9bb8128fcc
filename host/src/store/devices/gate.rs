//! Gates: whom somebody wants held back, the lists given to devices, and what came of them.

use crate::record::AnimalId;
use crate::record::gate::{GateRecord, Hold, outcome_name, outcome_of};
use crate::store::devices::device_number;
use crate::store::{Store, StoreError};
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use rusqlite::{OptionalExtension, params};
use shared::wire::{DeviceId, LaneOrders};

/// Bytes that hold what a device says of its orders.
const ORDERS_BYTES: usize = 64;

impl Store {
    /// Keeps what came of a listed cow; says whether it is new.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn insert_gate_event(&self, event: &GateRecord) -> Result<bool, StoreError> {
        let (ms, outcome) = (event.time.as_millisecond(), outcome_name(event.outcome));
        let added = self
            .connection
            .prepare_cached(
                "INSERT OR IGNORE INTO gate_events (lane, time_ms, animal_id, outcome) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![event.lane, ms, event.animal.0, outcome])?;
        if added > 0 {
            let key: [&str; 4] = [&event.lane, &ms.to_string(), &event.animal.0, outcome];
            self.note_brought("gate", &key, None)?;
        }
        Ok(added > 0)
    }

    /// What came of listed cows from a moment on, up to and without another; in order of time.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn gate_events(&self, from: Timestamp, to: Timestamp) -> Result<Vec<GateRecord>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT lane, time_ms, animal_id, outcome FROM gate_events
             WHERE time_ms >= ?1 AND time_ms < ?2 ORDER BY time_ms, lane, animal_id, outcome",
        )?;
        let mut rows = statement.query(params![from.as_millisecond(), to.as_millisecond()])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            let outcome: String = row.get(3)?;
            // Of a later version of this program.
            let Some(outcome) = outcome_of(&outcome) else { continue };
            let (time, tag): (_, String) =
                (Timestamp::from_millisecond(row.get(1)?).unwrap_or_default(), row.get(2)?);
            let day = TimeZone::UTC.to_datetime(time).date();
            let animal = AnimalId(self.animal_called(&tag, &day.to_string())?);
            found.push(GateRecord { lane: row.get(0)?, time, animal, outcome });
        }
        Ok(found)
    }

    /// Wants a cow held back; what was said of her before is replaced.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_hold(&self, hold: &Hold) -> Result<(), StoreError> {
        self.durable_batch(|store| {
            store
                .connection
                .prepare_cached(
                    "INSERT OR REPLACE INTO gate_holds (animal_id, until_day, why, who) VALUES (?1, ?2, ?3, ?4)",
                )?
                .execute(params![hold.animal.0, hold.until.to_string(), hold.why, hold.who])?;
            Ok(())
        })
    }

    /// Wants a cow no longer; says whether she was wanted.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn remove_hold(&self, animal: &AnimalId) -> Result<bool, StoreError> {
        self.durable_batch(|store| {
            let gone =
                store.connection.execute("DELETE FROM gate_holds WHERE animal_id = ?1", [&animal.0])?;
            Ok(gone > 0)
        })
    }

    /// Whom somebody wants held back on a day, by animal.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn holds(&self, day: Date) -> Result<Vec<Hold>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT animal_id, until_day, why, who FROM gate_holds WHERE until_day >= ?1 ORDER BY animal_id",
        )?;
        let mut rows = statement.query([day.to_string()])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            let until: String = row.get(1)?;
            let until = until
                .parse()
                .map_err(|_| StoreError::Damaged(format!("the day of a hold is no day: {until}")))?;
            found.push(Hold { animal: AnimalId(row.get(0)?), until, why: row.get(2)?, who: row.get(3)? });
        }
        Ok(found)
    }

    /// The number of a list for a device: that of its last one where nothing has changed.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn gate_list(&self, device: DeviceId, content: &str) -> Result<u32, StoreError> {
        self.durable_batch(|store| {
            let device = device_number(device);
            let last: Option<(u32, String)> = store
                .connection
                .prepare_cached(
                    "SELECT list, content FROM gate_lists WHERE device = ?1 ORDER BY list DESC LIMIT 1",
                )?
                .query_row([&device], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()?;
            if let Some((list, _)) = last.filter(|last| last.1 == content) {
                return Ok(list);
            }
            store.connection.execute(
                "INSERT INTO gate_lists (device, content) VALUES (?1, ?2)",
                params![device, content],
            )?;
            Ok(u32::try_from(store.connection.last_insert_rowid()).unwrap_or(u32::MAX))
        })
    }

    /// Keeps what a device says of its gate and its table.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_orders(&self, device: DeviceId, orders: &LaneOrders, now_ms: i64) -> Result<(), StoreError> {
        let mut room = [0; ORDERS_BYTES];
        let body = postcard::to_slice(orders, &mut room)
            .map_err(|error| StoreError::Damaged(format!("orders: {error}")))?;
        self.connection
            .prepare_cached(
                "INSERT OR REPLACE INTO device_orders (device, heard_ms, payload) VALUES (?1, ?2, ?3)",
            )?
            .execute(params![device_number(device), now_ms, &*body])?;
        Ok(())
    }

    /// What a device last said of its gate and its table, and when, UTC, ms since the Unix epoch.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn orders(&self, device: DeviceId) -> Result<Option<(i64, LaneOrders)>, StoreError> {
        let row: Option<(i64, Vec<u8>)> = self
            .connection
            .prepare_cached("SELECT heard_ms, payload FROM device_orders WHERE device = ?1")?
            .query_row([device_number(device)], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()?;
        // Kept by a later version of this program, it may have more fields; of another form it is no news.
        Ok(row.and_then(|(ms, body)| Some((ms, postcard::take_from_bytes(&body).ok()?.0))))
    }
}
