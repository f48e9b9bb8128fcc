//! The web pages.

use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::report;
use crate::serve::Server;
use std::io::Write;
use std::net::{Ipv4Addr, SocketAddr, UdpSocket};

/// Where to serve.
#[derive(Debug, clap::Args)]
pub struct ServeArgs {
    /// Address and port; port 0 takes a free one. With another address than 127.0.0.1 people of the farm's network log in (`fourplate person add`)
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8080")]
    addr: SocketAddr,
}

/// Serves until it is stopped.
///
/// # Errors
/// When there is no store, the address cannot be had, or others could reach it while nobody has a password.
pub fn run(args: &ServeArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let words = common.words(&open::existing(common)?)?;
    let server = Server::bind(args.addr, crate::commands::store_path(common)?, words)?;
    let mut notes = report::notes();
    let address = seen_from_outside(server.address());
    writeln!(notes, "fourplate: look at http://{address}/ (stop with Ctrl-C)")?;
    if address.ip().is_loopback() {
        writeln!(
            notes,
            "fourplate: only this machine can see it; name another address with --addr to let others in"
        )?;
    } else {
        writeln!(
            notes,
            "fourplate: whoever has a password can log in; what is sent is not encrypted, so use a network of your own"
        )?;
        let code = qrcode::QrCode::new(format!("http://{address}/"))?;
        writeln!(notes, "{}", code.render::<qrcode::render::unicode::Dense1x2>().build())?;
    }
    server.run()?;
    Ok(ExitCode::Done)
}

/// The address that a phone reaches: the machine's own where the server takes every one. Nothing is sent to find it.
fn seen_from_outside(address: SocketAddr) -> SocketAddr {
    let own = || {
        let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
        // An address set aside for documentation: only the way there is asked for.
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
        Some(SocketAddr::new(socket.local_addr().ok()?.ip(), address.port()))
    };
    if address.ip().is_unspecified() { own().unwrap_or(address) } else { address }
}
