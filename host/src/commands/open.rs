//! Opening a store that is to be read.

use crate::commands::cli::Common;
use crate::commands::{open_store, store_path};
use crate::store::Store;

/// Opens a store that must be there already.
///
/// # Errors
/// When there is none, or it cannot be opened.
pub fn existing(common: &Common) -> anyhow::Result<Store> {
    let path = store_path(common)?;
    anyhow::ensure!(
        path.exists(),
        "there is no store at {}; bring readings in first with `fourplate import`, or name one with --store",
        path.display()
    );
    open_store(common)
}
