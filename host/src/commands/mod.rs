//! One module per command, each thin.

pub mod animal;
pub mod case;
pub mod compare;
pub mod completions;
pub mod cow;
pub mod evaluate;
pub mod export;
pub mod farm;
pub mod import;
pub mod lane;
pub mod list;
pub mod listen;
pub mod manual;
pub mod open;
pub mod outcomes;
pub mod port;
pub mod recheck;
pub mod rescore;
pub mod serve;

use crate::commands::cli::{Cli, Command, Common};
use crate::commands::exit_code::ExitCode;
use crate::store::Store;
use anyhow::Context;
use etcetera::BaseStrategy;
use std::path::PathBuf;

/// Runs the command.
///
/// # Errors
/// Whatever stopped it; the message says what to do.
pub fn run(cli: &Cli) -> anyhow::Result<ExitCode> {
    match &cli.command {
        Command::Listen(arguments) => listen::run(arguments, &store_path(&cli.common)?),
        Command::Lane(arguments) => lane::run(arguments, &cli.common),
        Command::Completions { shell } => completions::run(*shell),
        Command::Export(args) => export::run(args, &cli.common),
        Command::Farm(args) => farm::run(args, &cli.common),
        Command::Import(args) => import::run(args, &cli.common),
        Command::List(args) => list::run(args, &cli.common),
        Command::Cow(args) => cow::run(args, &cli.common),
        Command::Evaluate(args) => evaluate::run(args, &cli.common),
        Command::Serve(args) => serve::run(args, &cli.common),
        Command::Manual => manual::run(),
        Command::Case { command } => case::run(command, &cli.common),
        Command::Compare(arguments) => compare::run(arguments, &cli.common),
        Command::Recheck(arguments) => recheck::run(arguments, &cli.common),
        Command::Rescore(arguments) => rescore::run(arguments, &cli.common),
        Command::Outcomes(arguments) => outcomes::run(arguments, &cli.common),
    }
}

/// The store that was named, or the one under the user's data directory.
///
/// # Errors
/// When there is no home directory to look in.
pub fn store_path(common: &Common) -> anyhow::Result<PathBuf> {
    if let Some(path) = &common.store {
        return Ok(path.clone());
    }
    let folders = etcetera::choose_base_strategy()
        .context("no home directory to keep the store in; name a store with --store PATH")?;
    Ok(folders.data_dir().join("fourplate").join("store.sqlite"))
}

/// Opens the store of a command.
///
/// # Errors
/// When it cannot be used; the message names it.
pub fn open_store(common: &Common) -> anyhow::Result<Store> {
    let path = store_path(common)?;
    Store::open(&path).with_context(|| format!("store {}", path.display()))
}
