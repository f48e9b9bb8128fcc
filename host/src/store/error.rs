//! What can go wrong with the store, in words that say what to do.

use rusqlite::ErrorCode;

/// Why the store cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// Written by a later version of this program.
    #[error(
        "the store has schema {found}, this fourplate knows up to {known}: update fourplate, or name another store with --store"
    )]
    Newer {
        /// The file's schema.
        found: u32,
        /// The newest schema known here.
        known: u32,
    },
    /// Some other file.
    #[error("the file is not a fourplate store: name another with --store")]
    NotAStore,
    /// Another process holds it.
    #[error("the store is locked: another fourplate is writing; wait until it is done and try again")]
    Locked,
    /// The file or its folder cannot be written.
    #[error("the store cannot be written (read-only): check the rights of the file and of its folder")]
    ReadOnly,
    /// No room left.
    #[error("the disk is full: make room and run the same command again; what was stored is kept")]
    Full,
    /// The file or its folder cannot be opened or made.
    #[error("the store cannot be opened: {0}; check the path, or name another with --store")]
    CannotOpen(String),
    /// Writing or reading the disk failed.
    #[error(
        "the disk failed or is full ({0}): check it and run the same command again; what was stored is kept"
    )]
    Disk(String),
    /// The file is damaged.
    #[error(
        "the store is damaged ({0}): `fourplate restore` puts a backup back; or import again into a new store"
    )]
    Damaged(String),
    /// A device sent another item under a key that is known.
    #[error(
        "device {device:016x} counts anew, or shares its number with another: boot {boot}, item {sequence} is known with \
         other content. Nothing of it is acknowledged, so the device keeps all of it; give it a number of its own"
    )]
    OtherItem {
        /// The device.
        device: u64,
        /// The key's boot.
        boot: u32,
        /// The key's sequence number.
        sequence: u32,
    },
    /// The store's file is not where it was opened.
    #[error(
        "the store's file was moved or deleted while it was open: nothing more is acknowledged; put it back"
    )]
    FileMoved,
    /// A passage record cannot be read.
    #[error("the record of passage {id} cannot be read (version {version}): {reason}")]
    Record {
        /// The passage.
        id: i64,
        /// The record's version.
        version: u32,
        /// What the decoder says.
        reason: String,
    },
    /// A setting holds something it must not.
    #[error("setting {key}: {reason}")]
    Setting {
        /// The key.
        key: String,
        /// What is wrong with it.
        reason: String,
    },
    /// Anything else the database says.
    #[error("the store failed: {0}")]
    Other(rusqlite::Error),
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Locked,
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => Self::ReadOnly,
            Some(ErrorCode::DiskFull) => Self::Full,
            Some(ErrorCode::NotADatabase) => Self::NotAStore,
            Some(ErrorCode::CannotOpen) => Self::CannotOpen(error.to_string()),
            Some(ErrorCode::SystemIoFailure) => Self::Disk(error.to_string()),
            Some(ErrorCode::DatabaseCorrupt) => Self::Damaged(error.to_string()),
            _ => Self::Other(error),
        }
    }
}
