//! Parse, run, say how it ended.

use clap::Parser;
use host::commands::{self, cli::Cli, exit_code::ExitCode};

#[allow(clippy::print_stderr, reason = "the one place that prints an error")]
fn main() -> std::process::ExitCode {
    match commands::run(&Cli::parse()) {
        Ok(code) => code.into(),
        // The reader of our output went away (`| head`): nothing is wrong.
        Err(error) if ExitCode::is_broken_pipe(&error) => ExitCode::Done.into(),
        Err(error) => {
            eprintln!("fourplate: {error:#}");
            ExitCode::of(&error).into()
        }
    }
}
