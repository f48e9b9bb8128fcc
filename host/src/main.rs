//! Parse, run, say how it ended.

use clap::Parser;
use host::{cli::Cli, commands, exit_code::ExitCode};

#[allow(clippy::print_stderr, reason = "the one place that prints an error")]
fn main() -> std::process::ExitCode {
    match commands::run(&Cli::parse()) {
        Ok(code) => code.into(),
        Err(error) => {
            eprintln!("fourplate: {error:#}");
            ExitCode::Failed.into()
        }
    }
}
