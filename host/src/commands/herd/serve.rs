//! The web pages.

use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::report;
use crate::report::pages as web;
use std::io::Write;
use std::net::SocketAddr;

/// Where to serve.
#[derive(Debug, clap::Args)]
pub struct ServeArgs {
    /// Address and port; port 0 takes a free one. Another address than 127.0.0.1 lets others on the network look, and nobody enter
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8080")]
    addr: SocketAddr,
}

/// Serves until it is stopped.
///
/// # Errors
/// When there is no store or the address cannot be had.
pub fn run(args: &ServeArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let words = common.words(&open::existing(common)?)?;
    let server = web::Server::bind(args.addr, crate::commands::store_path(common)?, words)?;
    let mut notes = report::notes();
    writeln!(notes, "fourplate: look at http://{}/ (stop with Ctrl-C)", server.address())?;
    let who = if server.address().ip().is_loopback() {
        "only this machine can see it; name another address with --addr to let others look"
    } else {
        "anyone who can reach this address can see it: there is no password, so nothing can be entered"
    };
    writeln!(notes, "fourplate: {who}")?;
    server.run();
    Ok(ExitCode::Done)
}
