//! Shell completions.

use crate::commands::cli::Cli;
use crate::commands::exit_code::ExitCode;
use clap::CommandFactory;

/// Prints the completion script.
///
/// # Errors
/// None today.
pub fn run(shell: clap_complete::Shell) -> anyhow::Result<ExitCode> {
    clap_complete::generate(shell, &mut Cli::command(), "fourplate", &mut anstream::stdout());
    Ok(ExitCode::Done)
}
