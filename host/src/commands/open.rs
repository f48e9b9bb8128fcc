//! Where the store is, and opening it.

use crate::cli::Common;
use crate::store::Store;
use anyhow::Context;
use etcetera::BaseStrategy;
use std::path::PathBuf;

/// The path of the store: as asked for, or `fourplate/store.sqlite` under the user's data directory.
///
/// # Errors
/// When the user has no home directory.
pub fn path(common: &Common) -> anyhow::Result<PathBuf> {
    if let Some(path) = &common.store {
        return Ok(path.clone());
    }
    let folders =
        etcetera::choose_base_strategy().context("no home directory; name the store with --store")?;
    Ok(folders.data_dir().join("fourplate").join("store.sqlite"))
}

/// Opens the store to bring something in; it is made where there is none.
///
/// # Errors
/// When there is no home directory, or the store cannot be opened.
pub fn for_writing(common: &Common) -> anyhow::Result<Store> {
    let path = path(common)?;
    Store::open(&path).with_context(|| format!("the store {}", path.display()))
}

/// Opens a store that must be there already.
///
/// # Errors
/// When there is none, or it cannot be opened.
pub fn existing(common: &Common) -> anyhow::Result<Store> {
    let path = path(common)?;
    anyhow::ensure!(
        path.exists(),
        "there is no store at {}; bring readings in first with `fourplate import`, or name one with --store",
        path.display()
    );
    for_writing(common)
}
