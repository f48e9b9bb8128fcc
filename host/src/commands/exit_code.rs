//! What each exit code means.

use crate::commands::open::NoStore;
use crate::import::ImportError;
use crate::record::day_words::NoDay;
use crate::store::StoreError;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum ExitCode {
    /// All done.
    Done = 0,
    /// Something failed that is no fault of the input: disk, lock, a bug.
    Failed = 1,
    /// The command line is wrong (clap's own code).
    Usage = 2,
    /// Some of the input was bad; the good part is kept.
    BadInput = 3,
    /// The store cannot be used: newer schema, locked, read-only.
    Store = 4,
    /// What was asked for is not there: no such animal, no such day.
    NotFound = 5,
}

impl From<ExitCode> for std::process::ExitCode {
    fn from(code: ExitCode) -> Self {
        Self::from(code as u8)
    }
}

impl ExitCode {
    /// The code of an error that stopped a command.
    #[must_use]
    pub fn of(error: &anyhow::Error) -> Self {
        let store = error.chain().any(|cause| {
            cause.is::<StoreError>() || matches!(cause.downcast_ref(), Some(ImportError::Store(_)))
        });
        if store {
            Self::Store
        } else if error.is::<NoDay>() {
            Self::Usage
        } else if error.is::<NoStore>() {
            Self::NotFound
        } else {
            Self::Failed
        }
    }

    /// Whether output was refused because its reader had gone.
    #[must_use]
    pub fn is_broken_pipe(error: &anyhow::Error) -> bool {
        let refused = std::io::ErrorKind::BrokenPipe;
        error.chain().any(|cause| {
            cause.downcast_ref::<std::io::Error>().is_some_and(|io| io.kind() == refused)
                || cause
                    .downcast_ref::<serde_json::Error>()
                    .is_some_and(|json| json.io_error_kind() == Some(refused))
        })
    }
}
