//! Opening a store that is to be read.

use crate::commands::cli::Common;
use crate::commands::{open_store, store_path};
use crate::store::Store;
use std::path::PathBuf;

/// There is no store where one was looked for.
#[derive(Debug, thiserror::Error)]
#[error("there is no store at {}; bring readings in first with `fourplate import`, or name one with --store", .0.display())]
pub struct NoStore(PathBuf);

/// Opens a store that must be there already.
///
/// # Errors
/// When there is none, or it cannot be opened.
pub fn existing(common: &Common) -> anyhow::Result<Store> {
    let path = store_path(common)?;
    if path.exists() { open_store(common) } else { Err(NoStore(path).into()) }
}
