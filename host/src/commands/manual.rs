//! The manual page.

use crate::{cli::Cli, exit_code::ExitCode};
use clap::CommandFactory;

/// Prints the manual page in roff.
///
/// # Errors
/// When the output cannot be written.
pub fn run() -> anyhow::Result<ExitCode> {
    clap_mangen::Man::new(Cli::command()).render(&mut anstream::stdout())?;
    Ok(ExitCode::Done)
}
