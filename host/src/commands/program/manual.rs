//! The manual page.

use crate::commands::cli::Cli;
use crate::commands::exit_code::ExitCode;
use clap::CommandFactory;

/// Prints the manual page in roff.
///
/// # Errors
/// When the output cannot be written.
pub fn run() -> anyhow::Result<ExitCode> {
    clap_mangen::Man::new(Cli::command()).render(&mut anstream::stdout())?;
    Ok(ExitCode::Done)
}
