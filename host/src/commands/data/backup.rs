//! A copy of the store, and the way back.

use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::{open, store_path};
use crate::report;
use crate::store::Store;
use anyhow::Context;
use clap::Args;
use jiff::Timestamp;
use std::{io::Write, path::PathBuf};

/// Where the copy goes.
#[derive(Debug, Args)]
pub struct Backup {
    /// The new file; another disk is the better place
    #[arg(value_name = "FILE")]
    to: PathBuf,
}

/// Which copy comes back.
#[derive(Debug, Args)]
pub struct Restore {
    /// The backup
    #[arg(value_name = "FILE")]
    from: PathBuf,
    /// Put it in the place of the store that is there, which is kept beside it
    #[arg(long)]
    replace: bool,
}

/// Copies the store.
///
/// # Errors
/// When the store or the copy cannot be used.
pub fn backup(arguments: &Backup, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    store
        .back_up(&arguments.to, Timestamp::now())
        .with_context(|| format!("nothing was backed up to {}", arguments.to.display()))?;
    writeln!(report::out(), "Backed up to {}, and looked over.", arguments.to.display())?;
    Ok(ExitCode::Done)
}

/// Puts a copy back.
///
/// # Errors
/// When the copy or the store cannot be used; then nothing moved.
pub fn restore(arguments: &Restore, common: &Common) -> anyhow::Result<ExitCode> {
    let path = store_path(common)?;
    if path.exists() && !arguments.replace {
        writeln!(
            report::notes(),
            "fourplate: there is a store at {}; --replace puts the backup in its place and keeps the store beside it",
            path.display()
        )?;
        return Ok(ExitCode::Usage);
    }
    let kept = Store::put_back(&arguments.from, &path, Timestamp::now())
        .with_context(|| format!("{} was not put back", arguments.from.display()))?;
    // Brings an older backup up to this program's schema.
    Store::open(&path)?;
    let kept =
        kept.map_or_else(String::new, |kept| format!(" What was there is kept as {}.", kept.display()));
    writeln!(report::out(), "{} is the store at {} now.{kept}", arguments.from.display(), path.display())?;
    Ok(ExitCode::Done)
}
