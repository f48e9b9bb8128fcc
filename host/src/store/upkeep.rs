//! Care of the file: checked once a day, backed up, put back.

use crate::store::{Store, StoreError, make_folder_of, migrations};
use jiff::{SignedDuration, Timestamp};
use rusqlite::{Connection, OptionalExtension, params};
use std::fs::File;
use std::path::{Path, PathBuf};

/// The file is looked over when this long has passed since the last time: once a day.
const CHECK_AFTER: SignedDuration = SignedDuration::from_hours(24);
/// And after this when it may not have been closed well. Our choice: another program that has it open looks the same.
const CHECK_UNCLOSED_AFTER: SignedDuration = SignedDuration::from_hours(1);

impl Store {
    /// Looks the whole file over.
    ///
    /// # Errors
    /// When it is damaged.
    pub fn check(&self) -> Result<(), StoreError> {
        looked_over(self.connection())
    }

    /// Looks it over if that was not done for a day, or for an hour where it may not have been closed well.
    ///
    /// # Errors
    /// When it is damaged.
    pub fn check_daily(&self, now: Timestamp) -> Result<(), StoreError> {
        let last = self.upkeep("checked")?;
        let after = if self.log_was_there { CHECK_UNCLOSED_AFTER } else { CHECK_AFTER };
        if last.is_some_and(|last| (SignedDuration::ZERO..after).contains(&now.duration_since(last))) {
            return Ok(());
        }
        self.check()?;
        // A file that cannot be written, or that another program holds, is looked over again next time.
        let _ = self.note_upkeep("checked", now).and_then(|()| self.thin_traces(now));
        Ok(())
    }

    /// Lets go of traces that are older than the farm keeps them; says how many. What they took is used again for what
    /// comes, so that the file stops growing by them.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn thin_traces(&self, now: Timestamp) -> Result<usize, StoreError> {
        let days = self.setting("keep_traces_days")?.and_then(|days| days.parse::<i64>().ok());
        let Some(days) = days else { return Ok(0) };
        let cut = now.checked_sub(SignedDuration::from_hours(24 * days)).unwrap_or(Timestamp::MIN);
        self.batch(|store| {
            Ok(store
                .connection()
                .prepare_cached(
                    "DELETE FROM traces WHERE passage_id IN (SELECT id FROM passages WHERE start_ms < ?1)",
                )?
                .execute([cut.as_millisecond()])?)
        })
    }

    /// When the store was last backed up.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn last_backup(&self) -> Result<Option<Timestamp>, StoreError> {
        self.upkeep("backed_up")
    }

    fn upkeep(&self, what: &str) -> Result<Option<Timestamp>, StoreError> {
        let at: Option<i64> = self
            .connection()
            .prepare_cached("SELECT at_ms FROM upkeep WHERE what = ?1")?
            .query_row([what], |row| row.get(0))
            .optional()?;
        Ok(at.and_then(|at| Timestamp::from_millisecond(at).ok()))
    }

    fn note_upkeep(&self, what: &str, now: Timestamp) -> Result<(), StoreError> {
        self.connection().execute(
            "INSERT INTO upkeep (what, at_ms) VALUES (?1, ?2) ON CONFLICT (what) DO UPDATE SET at_ms = excluded.at_ms",
            params![what, now.as_millisecond()],
        )?;
        Ok(())
    }

    /// Copies the store, as it is at one moment, into a new file, while others may go on reading and writing; the copy
    /// is opened and looked over before it takes its name.
    ///
    /// # Errors
    /// When there is such a file, the disk fails, or the store is damaged.
    pub fn back_up(&self, to: &Path, now: Timestamp) -> Result<(), StoreError> {
        if to.exists() {
            return Err(StoreError::CannotOpen(format!("{} is there already", to.display())));
        }
        let part = beside(to, ".part");
        let _ = std::fs::remove_file(&part);
        self.note_upkeep("backed_up", now).or_else(|error| match error {
            StoreError::ReadOnly => Ok(()),
            other => Err(other),
        })?;
        let copied = self.connection().execute("VACUUM INTO ?1", [part.display().to_string()]);
        copied
            .map_err(StoreError::from)
            .and_then(|_| sound(&part))
            .and_then(|()| take_name(&part, to))
            .inspect_err(|_| {
                let _ = std::fs::remove_file(&part);
            })
    }

    /// Puts a backup in the place of a store; the store that was there is kept under the name given back.
    ///
    /// # Errors
    /// When the backup is none or damaged, another program has the store open, or the disk fails; then nothing moved.
    pub fn put_back(backup: &Path, store: &Path, now: Timestamp) -> Result<Option<PathBuf>, StoreError> {
        sound(backup)?;
        make_folder_of(store)?;
        let part = beside(store, ".part");
        std::fs::copy(backup, &part).map_err(|error| disk(&part, &error))?;
        let before = if store.exists() {
            // The last one to close a store takes its log away: one that stays belongs to another program.
            if let Ok(open) = Self::open(store) {
                open.connection().pragma_query(None, "wal_checkpoint", |_| Ok(()))?;
            }
            if beside(store, "-wal").exists() {
                let _ = std::fs::remove_file(&part);
                return Err(StoreError::Locked);
            }
            let before = beside(store, &format!(".before-{}", now.strftime("%Y%m%dT%H%M%SZ")));
            take_name(store, &before)?;
            Some(before)
        } else {
            None
        };
        take_name(&part, store)?;
        Ok(before)
    }
}

/// Copies a store of an older schema to `<store>.schema-N`, before it is brought up to date.
pub(super) fn keep_older(connection: &Connection, store: &Path) -> Result<(), StoreError> {
    let found = migrations::check(connection)?;
    let to = beside(store, &format!(".schema-{found}"));
    if found == 0 || found == migrations::newest() || to.exists() || connection.is_readonly("main")? {
        return Ok(());
    }
    let part = beside(&to, ".part");
    let _ = std::fs::remove_file(&part);
    connection.execute("VACUUM INTO ?1", [part.display().to_string()])?;
    take_name(&part, &to)
}

/// Whether a file is a whole store that this program knows.
fn sound(file: &Path) -> Result<(), StoreError> {
    if !file.is_file() {
        return Err(StoreError::CannotOpen(format!("{}: there is no such file", file.display())));
    }
    let connection = Store::connection_to_read(file)?;
    migrations::check(&connection)?;
    looked_over(&connection)
}

fn looked_over(connection: &Connection) -> Result<(), StoreError> {
    let said: String = connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0))?;
    if said == "ok" { Ok(()) } else { Err(StoreError::Damaged(said)) }
}

fn beside(path: &Path, end: &str) -> PathBuf {
    PathBuf::from(format!("{}{end}", path.display()))
}

/// Gives a file, flushed, its name.
fn take_name(file: &Path, name: &Path) -> Result<(), StoreError> {
    let flushed = File::open(file).and_then(|open| open.sync_all());
    flushed.and_then(|()| std::fs::rename(file, name)).map_err(|error| disk(name, &error))
}

fn disk(path: &Path, error: &std::io::Error) -> StoreError {
    StoreError::Disk(format!("{}: {error}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Timestamp = Timestamp::UNIX_EPOCH;

    fn named(path: &Path) -> String {
        Store::open(path).unwrap().setting("name").unwrap().unwrap()
    }

    #[test]
    fn a_backup_goes_back_and_what_was_there_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let store = Store::open(&at("store")).unwrap();
        store.set_setting("name", "before").unwrap();
        assert_eq!(store.last_backup().unwrap(), None);
        store.back_up(&at("copy"), NOW).unwrap();
        assert_eq!(store.last_backup().unwrap(), Some(NOW));
        assert!(
            matches!(store.back_up(&at("copy"), NOW), Err(StoreError::CannotOpen(_))),
            "none is written over"
        );
        store.set_setting("name", "after").unwrap();
        assert!(matches!(Store::put_back(&at("copy"), &at("store"), NOW), Err(StoreError::Locked)));
        assert_eq!(store.setting("name").unwrap().as_deref(), Some("after"), "nothing moved");
        drop(store);
        let kept = Store::put_back(&at("copy"), &at("store"), NOW).unwrap().unwrap();
        assert_eq!((named(&at("store")).as_str(), named(&kept).as_str()), ("before", "after"));
        assert_eq!(Store::put_back(&at("copy"), &at("new"), NOW).unwrap(), None);
        assert!(!at("store.part").exists() && !at("copy.part").exists());
    }

    #[test]
    fn a_damaged_file_is_noticed_and_never_put_back() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        Store::open(&at("store")).unwrap().back_up(&at("copy"), NOW).unwrap();
        let mut bytes = std::fs::read(at("copy")).unwrap();
        // The head of the second page: a table or an index.
        bytes[4096..4104].fill(0xff);
        std::fs::write(at("copy"), &bytes).unwrap();
        assert!(Store::put_back(&at("copy"), &at("store"), NOW).is_err());
        let damaged = Store::open(&at("copy")).unwrap();
        assert!(matches!(damaged.check_daily(NOW), Err(StoreError::Damaged(_))));
        assert!(Store::put_back(&at("missing"), &at("store"), NOW).is_err());
        Store::open(&at("store")).unwrap().check().unwrap();
    }

    #[test]
    fn traces_older_than_the_farm_keeps_them_go_and_passages_stay() {
        let store = Store::in_memory().unwrap();
        let source = store.begin_source("test", "file", NOW).unwrap();
        let traces = || -> i64 {
            store.connection().query_row("SELECT count(*) FROM traces", [], |row| row.get(0)).unwrap()
        };
        for days in [10, 29, 31, 400] {
            let start = NOW - SignedDuration::from_hours(24 * days);
            let connection = store.connection();
            connection
                .execute(
                    "INSERT INTO passages (lane, start_ms, end_ms, record_version, record, source_id)
                     VALUES ('exit', ?1, ?1, 1, x'00', ?2)",
                    params![start.as_millisecond(), source.0],
                )
                .unwrap();
            let id = connection.last_insert_rowid();
            connection.execute("INSERT INTO traces VALUES (?1, x'00')", [id]).unwrap();
        }
        assert_eq!((store.thin_traces(NOW).unwrap(), traces()), (0, 4), "all are kept unless it is said");
        assert!(store.set_setting("keep_traces_days", "29").is_err());
        store.set_setting("keep_traces_days", "30").unwrap();
        store.check_daily(NOW).unwrap();
        assert_eq!((traces(), store.passage_count().unwrap()), (2, 4));
    }

    #[test]
    fn a_store_is_looked_over_once_a_day() {
        let store = Store::in_memory().unwrap();
        store.check_daily(NOW).unwrap();
        assert_eq!(store.upkeep("checked").unwrap(), Some(NOW));
        let hours = |n| NOW + SignedDuration::from_hours(n);
        store.check_daily(hours(23)).unwrap();
        assert_eq!(store.upkeep("checked").unwrap(), Some(NOW));
        store.check_daily(hours(24)).unwrap();
        assert_eq!(store.upkeep("checked").unwrap(), Some(hours(24)));
        store.check_daily(hours(1)).unwrap();
        assert_eq!(
            store.upkeep("checked").unwrap(),
            Some(hours(1)),
            "a clock that was ahead is no reason to wait"
        );
    }

    #[test]
    fn a_store_that_was_not_closed_well_is_looked_over_within_the_hour() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let store = Store::open(&at("store")).unwrap();
        store.check_daily(NOW).unwrap();
        // As a power cut leaves it: the log beside the file.
        std::fs::copy(at("store"), at("cut")).unwrap();
        std::fs::copy(at("store-wal"), at("cut-wal")).unwrap();
        drop(store);
        let checked = |name: &str, minutes| {
            let store = Store::open(&at(name)).unwrap();
            store.check_daily(NOW + SignedDuration::from_mins(minutes)).unwrap();
            store.upkeep("checked").unwrap().unwrap().as_second() / 60
        };
        assert_eq!(checked("store", 60), 0, "closed well");
        let cut = |minutes| {
            std::fs::copy(at("cut"), at("again")).unwrap();
            std::fs::copy(at("cut-wal"), at("again-wal")).unwrap();
            checked("again", minutes)
        };
        assert_eq!((cut(59), cut(60)), (0, 60));
    }
}
