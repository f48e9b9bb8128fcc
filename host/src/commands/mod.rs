//! One module per command, each thin.

pub mod case;
pub mod compare;
pub mod completions;
pub mod manual;
pub mod outcomes;
pub mod recheck;

use crate::cli::{Cli, Command};
use crate::exit_code::ExitCode;

/// Opens the store of the command line, or the one under the user's data directory.
///
/// # Errors
/// When there is no home directory, or the store cannot be used.
pub fn open_store(common: &crate::cli::Common) -> anyhow::Result<crate::store::Store> {
    use anyhow::Context;
    use etcetera::BaseStrategy;
    let path = match &common.store {
        Some(path) => path.clone(),
        None => etcetera::choose_base_strategy()
            .context("there is no home directory; name the store with --store")?
            .data_dir()
            .join("fourplate")
            .join("store.sqlite"),
    };
    crate::store::Store::open(&path).with_context(|| path.display().to_string())
}

/// Runs the command.
///
/// # Errors
/// Whatever stopped it; the message says what to do.
pub fn run(cli: &Cli) -> anyhow::Result<ExitCode> {
    match &cli.command {
        Command::Completions { shell } => completions::run(*shell),
        Command::Manual => manual::run(),
        Command::Case { command } => case::run(command, &cli.common),
        Command::Compare(arguments) => compare::run(arguments, &cli.common),
        Command::Recheck(arguments) => recheck::run(arguments, &cli.common),
        Command::Outcomes(arguments) => outcomes::run(arguments, &cli.common),
    }
}
