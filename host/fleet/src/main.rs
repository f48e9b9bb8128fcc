//! Parse, run, say how it ended.

use clap::Parser;
use fleet::command::{Cli, run};
use std::process::ExitCode;

/// Stack of a thread, bytes: the engine walks its plans by recursion, and those with many joins are deep. Only what is
/// used of it takes memory. Our choice.
const STACK_BYTES: usize = 64 * 1024 * 1024;

#[allow(clippy::print_stderr, reason = "the one place that prints an error")]
fn main() -> ExitCode {
    let cli = Cli::parse();
    let work = move || -> anyhow::Result<()> {
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .thread_stack_size(STACK_BYTES)
            .enable_all()
            .build()?;
        runtime.block_on(run(&cli))
    };
    let thread = std::thread::Builder::new().stack_size(STACK_BYTES).spawn(work);
    let ran = thread.map_err(anyhow::Error::from).and_then(|thread| {
        thread
            .join()
            .unwrap_or_else(|_| Err(anyhow::anyhow!("a fault of the program; its message stands above")))
    });
    match ran {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("fleet: {error:#}");
            ExitCode::FAILURE
        }
    }
}
