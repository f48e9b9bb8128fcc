//! One module per command, each thin.

pub mod completions;
pub mod manual;

use crate::cli::{Cli, Command};
use crate::exit_code::ExitCode;

/// Runs the command.
///
/// # Errors
/// Whatever stopped it; the message says what to do.
pub fn run(cli: &Cli) -> anyhow::Result<ExitCode> {
    match &cli.command {
        Command::Completions { shell } => completions::run(*shell),
        Command::Manual => manual::run(),
    }
}
