//! The store: one SQLite file that holds everything the host knows. All SQL lives below here.
//!
//! Many may read while one writes (write-ahead log). Writers go through [`Store::batch`].

mod cases;
mod devices;
mod error;
mod herd;
mod ledger;
mod migrations;
mod outbox;
mod passages;
mod people;
mod scores;
mod settings;
mod sources;
mod upkeep;

pub use devices::{Device, WaitingItem, desk, device_number, lane_name};
pub use error::StoreError;
pub use herd::{Assignment, Candidate, Meanings, Pattern, ReaderOffset, TagRead};
pub use ledger::TakenBack;
pub use outbox::Telling;
pub use passages::{Insert, NewPassage, PassageFilter, RECORD_VERSION};
pub use scores::{KeptRows, KeptState, NewRows};
pub use settings::{SETTINGS, Setting};
pub use sources::{Source, SourceCounts, SourceId};

use flate2::Compress;
use percent_encoding::{AsciiSet, CONTROLS};
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior, config::DbConfig};
use std::{
    cell::{Cell, RefCell},
    path::{Path, PathBuf},
    time::Duration,
};

/// How long to wait for another writer. Our choice: longer than any batch takes.
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);
/// What a file name must not hold as it is in a URI.
const URI_UNSAFE: &AsciiSet = &CONTROLS.add(b' ').add(b'?').add(b'#').add(b'%');
/// Pages of the file kept in memory at most, KiB. Our choice: what a transaction of an import touches fits.
const CACHE_KIB: i64 = 8 * 1024;
/// Prepared statements kept.
const STATEMENTS: usize = 64;

/// An open store.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
    /// The import that is running, whose rows are noted.
    source: Cell<Option<i64>>,
    /// Deflates traces, once there was one: it is large, and good for many.
    deflate: RefCell<Option<Compress>>,
    /// The file it was opened from, and what tells it from another of that name.
    file: Option<(PathBuf, FileMark)>,
    /// Its log lay beside it: another program has it open, or the last one did not close it.
    log_was_there: bool,
}

/// Whether a log that is not empty lies beside a store.
fn has_log(path: &Path) -> bool {
    PathBuf::from(format!("{}-wal", path.display())).metadata().is_ok_and(|about| about.len() > 0)
}

/// What tells a file from another of the same name.
type FileMark = (u64, u64);

fn mark(path: &Path) -> Option<FileMark> {
    let about = path.metadata().ok()?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        Some((about.dev(), about.ino()))
    }
    #[cfg(not(unix))]
    Some((0, u64::from(about.is_file())))
}

fn make_folder_of(path: &Path) -> Result<(), StoreError> {
    let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) else { return Ok(()) };
    let cannot = |error| StoreError::CannotOpen(format!("{}: {error}", folder.display()));
    std::fs::create_dir_all(folder).map_err(cannot)
}

impl Store {
    /// Opens the store, makes it (and its folder) where there is none, and brings its schema up to date; a store of an older
    /// schema is first copied to a file beside it.
    ///
    /// # Errors
    /// When the file cannot be opened or written, is no store, or has a newer schema.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        make_folder_of(path)?;
        let log_was_there = has_log(path);
        let opened = Connection::open(path).map_err(StoreError::from);
        let set_up = opened.and_then(|connection| {
            connection.busy_timeout(BUSY_TIMEOUT)?;
            upkeep::keep_older(&connection, path)?;
            Self::set_up(connection)
        });
        let mut store = match set_up {
            Err(StoreError::ReadOnly | StoreError::CannotOpen(_)) if path.is_file() => {
                Self::open_to_read(path)?
            }
            other => other?,
        };
        store.file = mark(path).map(|mark| (path.to_owned(), mark));
        store.log_was_there = log_was_there;
        Ok(store)
    }

    /// Opens a store that cannot be written, such as one on a read-only disk.
    ///
    /// # Errors
    /// When the file cannot be read, is no store, or has another schema than this program's.
    pub fn open_to_read(path: &Path) -> Result<Self, StoreError> {
        let connection = Self::connection_to_read(path)?;
        migrations::is_newest(&connection)?;
        Ok(Self::of(connection))
    }

    fn connection_to_read(path: &Path) -> Result<Connection, StoreError> {
        // Without a log beside it nobody is writing: the file can be read as it lies, with no lock to be taken.
        let lies_still = !has_log(path);
        let name = percent_encoding::utf8_percent_encode(&path.display().to_string(), URI_UNSAFE).to_string();
        let uri = format!("file:{name}?mode=ro{}", if lies_still { "&immutable=1" } else { "" });
        let flags =
            OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(uri, flags)?;
        Self::tune(&connection)?;
        Ok(connection)
    }

    /// A store that lives in memory only.
    ///
    /// # Errors
    /// When there is no memory.
    pub fn in_memory() -> Result<Self, StoreError> {
        Self::set_up(Connection::open_in_memory()?)
    }

    /// How any connection is used.
    fn tune(connection: &Connection) -> Result<(), StoreError> {
        connection.busy_timeout(BUSY_TIMEOUT)?;
        connection.set_prepared_statement_cache_capacity(STATEMENTS);
        // A plan holds for all values: without this some statements are planned anew for each.
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
        connection.pragma_update(None, "cache_size", -CACHE_KIB)?;
        Ok(())
    }

    fn of(connection: Connection) -> Self {
        Self {
            connection,
            source: Cell::new(None),
            deflate: RefCell::new(None),
            file: None,
            log_was_there: false,
        }
    }

    fn set_up(connection: Connection) -> Result<Self, StoreError> {
        Self::tune(&connection)?;
        connection.pragma_update(None, "foreign_keys", true)?;
        migrations::migrate(&connection)?;
        // Returns the mode in force; a store in memory stays "memory".
        connection.pragma_update_and_check(None, "journal_mode", "wal", |row| row.get::<_, String>(0))?;
        connection.pragma_update(None, "synchronous", "normal")?;
        Ok(Self::of(connection))
    }

    /// Whether it can be written.
    ///
    /// # Errors
    /// When it cannot.
    pub fn can_be_written(&self) -> Result<(), StoreError> {
        if self.connection.is_readonly("main")? { Err(StoreError::ReadOnly) } else { Ok(()) }
    }

    /// Whether the file is still where it was opened.
    ///
    /// # Errors
    /// When it was moved, deleted or put anew.
    pub fn still_there(&self) -> Result<(), StoreError> {
        match &self.file {
            Some((path, known)) if mark(path) != Some(*known) => Err(StoreError::FileMoved),
            _ => Ok(()),
        }
    }

    /// The database itself, for the other modules that keep tables here.
    pub const fn connection(&self) -> &Connection {
        &self.connection
    }

    /// Runs `work` as one transaction: all of it is stored, or none.
    ///
    /// # Errors
    /// What `work` says, or that the store cannot be written.
    pub fn batch<T, E: From<StoreError>>(&self, work: impl FnOnce(&Self) -> Result<T, E>) -> Result<T, E> {
        let begin = || Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate);
        let transaction = begin().map_err(StoreError::from)?;
        let value = work(self)?;
        transaction.commit().map_err(StoreError::from)?;
        Ok(value)
    }

    /// Runs `work` as one transaction that no loss of power can undo once this has returned. Costs a flush to disk,
    /// which [`Store::batch`] leaves to a later checkpoint.
    ///
    /// # Errors
    /// What `work` says, or that the store cannot be written.
    pub fn durable_batch<T, E: From<StoreError>>(
        &self,
        work: impl FnOnce(&Self) -> Result<T, E>,
    ) -> Result<T, E> {
        let synchronous = |mode: &str| self.connection.pragma_update(None, "synchronous", mode);
        synchronous("full").map_err(StoreError::from)?;
        let result = self.batch(work);
        synchronous("normal").map_err(StoreError::from)?;
        result
    }
}

#[cfg(test)]
mod tests;
