//! One module per command, each thin.

pub mod animal;
pub mod cli;
pub mod data;
pub mod day;
pub mod device;
pub mod exit_code;
pub mod herd;
pub mod open;
pub mod program;
pub mod trim;

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
    if cli.common.raw {
        crate::report::output::csv::write_raw();
    }
    match &cli.command {
        Command::Listen(arguments) => device::listen::run(arguments, &cli.common),
        Command::Gate(arguments) => device::gate::run(arguments, &cli.common),
        Command::Lane(arguments) => device::lane::run(arguments, &cli.common),
        Command::Backup(arguments) => data::backup::backup(arguments, &cli.common),
        Command::Restore(arguments) => data::backup::restore(arguments, &cli.common),
        Command::Completions { shell } => program::completions::run(*shell),
        Command::Export(args) => data::export::run(args, &cli.common),
        Command::Farm(args) => data::farm::run(args, &cli.common),
        Command::Person(args) => data::person::run(args, &cli.common),
        Command::Import(args) => data::import::run(args, &cli.common),
        Command::List(args) => herd::list::run(args, &cli.common),
        Command::Cow(args) => herd::cow::run(args, &cli.common),
        Command::Mark(args) => herd::mark::run(args, &cli.common),
        Command::Evaluate(args) => herd::evaluate::run(args, &cli.common),
        Command::Tell(args) => herd::tell::run(args, &cli.common),
        Command::Serve(args) => herd::serve::run(args, &cli.common),
        Command::Manual => program::manual::run(),
        Command::Case { command } => trim::case::run(command, &cli.common),
        Command::Visit(arguments) => trim::visit::run(arguments, &cli.common),
        Command::Compare(arguments) => trim::compare::run(arguments, &cli.common),
        Command::Recheck(arguments) => trim::recheck::run(arguments, &cli.common),
        Command::Rescore(arguments) => data::rescore::run(arguments, &cli.common),
        Command::Outcomes(arguments) => trim::outcomes::run(arguments, &cli.common),
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
    let store =
        Store::open(&path).and_then(|store| store.check_daily(jiff::Timestamp::now()).map(|()| store));
    store.with_context(|| format!("store {}", path.display()))
}
