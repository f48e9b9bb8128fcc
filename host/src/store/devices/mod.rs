//! Lane devices: who they are, their clocks, what they sent, how they are.

use crate::record::ClockPoint;
pub mod desk;
mod gate;
mod others;

use crate::store::{Store, StoreError};
use rusqlite::{OptionalExtension, Row, params};
use shared::wire::{DeviceHello, DeviceId, Health, ItemKey, LinkKey};

/// Of the content of an item.
const CRC: crc::Crc<u32> = crc::Crc::<u32>::new(&crc::CRC_32_ISCSI);

/// Bytes that hold any health message.
const HEALTH_BYTES: usize = shared::limits::MAX_PAYLOAD_BYTES;

/// A lane device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Device {
    /// Its number.
    pub id: DeviceId,
    /// The lane's name, as set in the device.
    pub name: String,
    /// Its firmware.
    pub firmware: String,
    /// Readings a second, Hz.
    pub rate_hz: u16,
    /// The latest boot heard of.
    pub boot: u32,
    /// Items it had not delivered when it last said hello.
    pub waiting: u32,
    /// When it was last heard, UTC, ms since the Unix epoch.
    pub heard_ms: i64,
}

impl Device {
    /// What its lane is called: its name, or its number where it has none.
    #[must_use]
    pub fn lane(&self) -> String {
        lane_name(&self.name, self.id)
    }
}

/// What the lane of a device is called: its name, or the device's number where it has none.
#[must_use]
pub fn lane_name(name: &str, device: DeviceId) -> String {
    if name.is_empty() { device_number(device) } else { name.to_owned() }
}

/// An item that waits for its place in time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WaitingItem {
    /// Its name.
    pub key: ItemKey,
    /// The message, from sender to body.
    pub payload: Vec<u8>,
}

/// A device's number as it is written.
#[must_use]
pub fn device_number(device: DeviceId) -> String {
    format!("{:016x}", device.0)
}

fn device(row: &Row<'_>) -> rusqlite::Result<Device> {
    let id: String = row.get(0)?;
    Ok(Device {
        id: DeviceId(u64::from_str_radix(&id, 16).unwrap_or_default()),
        name: row.get(1)?,
        firmware: row.get(2)?,
        rate_hz: row.get(3)?,
        boot: row.get(4)?,
        waiting: row.get(5)?,
        heard_ms: row.get(6)?,
    })
}

impl Store {
    /// Notes that a device said hello.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn meet_device(&self, hello: &DeviceHello, now_ms: i64) -> Result<(), StoreError> {
        let [major, minor, patch] = hello.firmware;
        self.connection()
            .prepare_cached(
                "INSERT INTO devices (device, name, firmware, schema, rate_hz, boot, waiting, heard_ms)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)
                 ON CONFLICT (device) DO UPDATE SET name = excluded.name, firmware = excluded.firmware,
                     schema = excluded.schema, rate_hz = excluded.rate_hz, boot = max(boot, excluded.boot),
                     waiting = excluded.waiting, heard_ms = max(heard_ms, excluded.heard_ms)
                 WHERE excluded.boot >= boot",
            )?
            .execute(params![
                device_number(hello.device),
                hello.name.as_str(),
                format!("{major}.{minor}.{patch}"),
                hello.schema,
                hello.rate_hz,
                hello.boot,
                hello.waiting,
                now_ms
            ])?;
        Ok(())
    }

    /// Every device ever heard, by number.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn devices(&self) -> Result<Vec<Device>, StoreError> {
        let mut statement = self.connection().prepare_cached(
            "SELECT device, name, firmware, rate_hz, boot, waiting, heard_ms FROM devices ORDER BY device",
        )?;
        let rows = statement.query_map([], device)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// One device.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn device(&self, id: DeviceId) -> Result<Option<Device>, StoreError> {
        Ok(self
            .connection()
            .prepare_cached(
                "SELECT device, name, firmware, rate_hz, boot, waiting, heard_ms FROM devices WHERE device = ?1",
            )?
            .query_row([device_number(id)], device)
            .optional()?)
    }

    /// From where the boots of a device are counted on: 0 for the first journal it is known by; for one made anew, and for
    /// the first that is named where the boots have gone back, all boots known before.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn journal_base(&self, device: DeviceId, boot: u32, journal: u64) -> Result<u32, StoreError> {
        let name = journal.cast_signed();
        self.batch(|store| {
            let connection = store.connection();
            let of = |journal: i64| {
                connection
                    .prepare_cached("SELECT base FROM device_journals WHERE device = ?1 AND journal = ?2")?
                    .query_row(params![device_number(device), journal], |row| row.get(0))
                    .optional()
            };
            if let Some(base) = of(name)? {
                return Ok(base);
            }
            let known = store.device(device)?.map_or(0, |known| known.boot);
            let others: bool = connection
                .prepare_cached("SELECT EXISTS (SELECT 1 FROM device_journals WHERE device = ?1)")?
                .query_row([device_number(device)], |row| row.get(0))?;
            let base = if others || boot < known { known } else { 0 };
            connection
                .prepare_cached("INSERT INTO device_journals (device, journal, base) VALUES (?1, ?2, ?3)")?
                .execute(params![device_number(device), name, base])?;
            Ok(base)
        })
    }

    /// The key that a device is paired with.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn link_key(&self, device: DeviceId) -> Result<Option<LinkKey>, StoreError> {
        let key: Option<[u8; 32]> = self
            .connection()
            .prepare_cached("SELECT key FROM link_keys WHERE device = ?1")?
            .query_row([device_number(device)], |row| row.get(0))
            .optional()?;
        Ok(key.map(LinkKey))
    }

    /// Keeps the key of a device, flushed, or forgets it.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_link_key(&self, device: DeviceId, key: Option<LinkKey>) -> Result<(), StoreError> {
        self.durable_batch(|store| {
            let connection = store.connection();
            match key {
                Some(LinkKey(key)) => connection.execute(
                    "INSERT OR REPLACE INTO link_keys (device, key) VALUES (?1, ?2)",
                    params![device_number(device), key],
                )?,
                None => {
                    connection.execute("DELETE FROM link_keys WHERE device = ?1", [device_number(device)])?
                }
            };
            Ok(())
        })
    }

    /// Keeps a comparison of clocks in the place of the one of the same stretch.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_clock_point(&self, device: DeviceId, boot: u32, point: &ClockPoint) -> Result<(), StoreError> {
        self.connection()
            .prepare_cached(
                "INSERT OR REPLACE INTO clock_sync (device, boot, bucket, device_ms, utc_ms, error_ms)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute(params![
                device_number(device),
                boot,
                point.bucket(),
                point.device_ms,
                point.utc_ms,
                point.error_ms
            ])?;
        Ok(())
    }

    /// The comparisons of clocks of a boot, in order of the device's clock.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn clock_points(&self, device: DeviceId, boot: u32) -> Result<Vec<ClockPoint>, StoreError> {
        let mut statement = self.connection().prepare_cached(
            "SELECT device_ms, utc_ms, error_ms FROM clock_sync WHERE device = ?1 AND boot = ?2 ORDER BY device_ms",
        )?;
        let rows = statement.query_map(params![device_number(device), boot], |row| {
            Ok(ClockPoint { device_ms: row.get(0)?, utc_ms: row.get(1)?, error_ms: row.get(2)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Boots of a device whose clock was compared, the nearest to `boot` first and not itself; so many at most.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn boots_near(&self, device: DeviceId, boot: u32, most: u32) -> Result<Vec<u32>, StoreError> {
        let mut statement = self.connection().prepare_cached(
            "SELECT DISTINCT boot FROM clock_sync WHERE device = ?1 AND boot <> ?2
             ORDER BY abs(boot - ?2), boot LIMIT ?3",
        )?;
        let rows = statement.query_map(params![device_number(device), boot, most], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Keeps an item as received; says whether it is new.
    ///
    /// # Errors
    /// When the store cannot be written, or the key is known with other content.
    pub fn keep_item(&self, device: DeviceId, key: ItemKey, payload: &[u8]) -> Result<bool, StoreError> {
        let crc = CRC.checksum(payload);
        let added = self
            .connection()
            .prepare_cached(
                "INSERT OR IGNORE INTO device_items (device, boot, sequence, payload, crc32)
                 VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute(params![device_number(device), key.boot, key.sequence, payload, crc])?;
        if added > 0 {
            let (boot, sequence) = (key.boot.to_string(), key.sequence.to_string());
            self.note_brought("item", &[&device_number(device), &boot, &sequence], None)?;
            return Ok(true);
        }
        let known: Option<u32> = self
            .connection()
            .prepare_cached(
                "SELECT crc32 FROM device_items WHERE device = ?1 AND boot = ?2 AND sequence = ?3",
            )?
            .query_row(params![device_number(device), key.boot, key.sequence], |row| row.get(0))?;
        match known {
            Some(known) if known != crc => {
                Err(StoreError::OtherItem { device: device.0, boot: key.boot, sequence: key.sequence })
            }
            _ => Ok(false),
        }
    }

    /// Whether an item still waits for its place: another session of the same device may have placed it.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn item_waits(&self, device: DeviceId, key: ItemKey) -> Result<bool, StoreError> {
        let sql = "SELECT EXISTS (SELECT 1 FROM device_items
                   WHERE device = ?1 AND boot = ?2 AND sequence = ?3 AND payload IS NOT NULL)";
        let mut statement = self.connection().prepare_cached(sql)?;
        Ok(statement.query_row(params![device_number(device), key.boot, key.sequence], |row| row.get(0))?)
    }

    /// Notes that a device's items were refused, for they came under keys that are known with other content.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn note_refused(&self, device: DeviceId, now_ms: i64) -> Result<(), StoreError> {
        self.connection()
            .prepare_cached(
                "INSERT INTO device_conflicts (device, since_ms, refused) VALUES (?1, ?2, 1)
                 ON CONFLICT (device) DO UPDATE SET refused = refused + 1",
            )?
            .execute(params![device_number(device), now_ms])?;
        Ok(())
    }

    /// Since when a device's items are refused, UTC, ms since the Unix epoch; `None` where they are not.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn refused_since(&self, device: DeviceId) -> Result<Option<i64>, StoreError> {
        let since = self
            .connection()
            .prepare_cached("SELECT since_ms FROM device_conflicts WHERE device = ?1")?
            .query_row([device_number(device)], |row| row.get(0))
            .optional()?;
        Ok(since)
    }

    /// The items of a device that have no place yet, in order.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn waiting_items(&self, device: DeviceId) -> Result<Vec<WaitingItem>, StoreError> {
        let mut statement = self.connection().prepare_cached(
            "SELECT boot, sequence, payload FROM device_items WHERE device = ?1 AND payload IS NOT NULL
             ORDER BY boot, sequence",
        )?;
        let rows = statement.query_map([device_number(device)], |row| {
            let key = ItemKey { boot: row.get(0)?, sequence: row.get(1)? };
            Ok(WaitingItem { key, payload: row.get(2)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Notes that an item has its place.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn item_placed(&self, device: DeviceId, key: ItemKey, error_ms: f64) -> Result<(), StoreError> {
        self.connection()
            .prepare_cached(
                "UPDATE device_items SET payload = NULL, error_ms = ?4
                 WHERE device = ?1 AND boot = ?2 AND sequence = ?3",
            )?
            .execute(params![device_number(device), key.boot, key.sequence, error_ms])?;
        Ok(())
    }

    /// Keeps how a device is.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_health(&self, device: DeviceId, health: &Health, now_ms: i64) -> Result<(), StoreError> {
        let mut buffer = [0; HEALTH_BYTES];
        let body = postcard::to_slice(health, &mut buffer)
            .map_err(|error| StoreError::Damaged(format!("health message: {error}")))?;
        let id = device_number(device);
        self.connection()
            .prepare_cached(
                "INSERT OR IGNORE INTO device_health (device, boot, uptime_ms, heard_ms, payload)
                 VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute(params![
                id,
                health.boot,
                i64::try_from(health.uptime.0).unwrap_or(i64::MAX),
                now_ms,
                &*body
            ])?;
        self.connection()
            .prepare_cached("UPDATE devices SET heard_ms = max(heard_ms, ?2) WHERE device = ?1")?
            .execute(params![id, now_ms])?;
        Ok(())
    }

    /// What a device said of itself since a moment, with the times it was heard, UTC, ms since the Unix epoch.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn health_since(&self, device: DeviceId, from_ms: i64) -> Result<Vec<(i64, Health)>, StoreError> {
        let mut statement = self.connection().prepare_cached(
            "SELECT heard_ms, payload FROM device_health WHERE device = ?1 AND heard_ms >= ?2
             ORDER BY heard_ms, boot, uptime_ms",
        )?;
        let mut rows = statement.query(params![device_number(device), from_ms])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            let body = row.get_ref(1)?.as_blob().map_err(rusqlite::Error::from)?;
            // A message kept by a later version of this program may have more fields.
            let (health, _) = postcard::take_from_bytes(body)
                .map_err(|error| StoreError::Damaged(format!("health message: {error}")))?;
            found.push((row.get(0)?, health));
        }
        Ok(found)
    }
}
