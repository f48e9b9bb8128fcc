//! Where a device is: the options of every command that talks to one.

use crate::link::Line;
use crate::link::connect::{Port, READ_WAIT, line_to, line_to_name, open_serial, open_tcp, ready_stream};
use std::{
    io::{self, ErrorKind},
    net::TcpListener,
    path::PathBuf,
    sync::atomic::{AtomicBool, Ordering},
};

/// One of the ways to a device.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("port").required(true))]
pub struct PortArguments {
    /// Connect to a device at HOST:PORT
    #[arg(long, group = "port", value_name = "HOST:PORT")]
    pub tcp: Option<String>,
    /// Wait at ADDRESS:PORT for a device to connect
    #[arg(long, group = "port", value_name = "ADDRESS:PORT")]
    pub serve: Option<String>,
    /// Use a serial line
    #[arg(long, group = "port", value_name = "PATH")]
    pub serial: Option<PathBuf>,
    /// Speed of the serial line
    #[arg(long, value_name = "BAUD", default_value_t = 115_200)]
    pub baud: u32,
}

impl PortArguments {
    /// What the port is called.
    #[must_use]
    pub fn name(&self) -> String {
        match (&self.tcp, &self.serve, &self.serial) {
            (Some(address), _, _) | (_, Some(address), _) => address.clone(),
            (_, _, Some(path)) => path.display().to_string(),
            _ => String::new(),
        }
    }

    /// The line to one device.
    ///
    /// # Errors
    /// Where there is none.
    pub fn open(&self, stop: &AtomicBool) -> io::Result<(Box<dyn Port>, Line)> {
        if let Some(address) = &self.tcp {
            return Ok((Box::new(open_tcp(address)?), line_to_name(address)));
        }
        if let Some(path) = &self.serial {
            return Ok((Box::new(open_serial(path, self.baud)?), Line::Cable));
        }
        let listener = TcpListener::bind(self.serve.as_deref().unwrap_or_default())?;
        listener.set_nonblocking(true)?;
        while !stop.load(Ordering::Relaxed) {
            match listener.accept() {
                Ok((stream, peer)) => return Ok((Box::new(ready_stream(stream)?), line_to(peer.ip()))),
                Err(error) if error.kind() == ErrorKind::WouldBlock => std::thread::sleep(READ_WAIT),
                Err(error) => return Err(error),
            }
        }
        Err(ErrorKind::Interrupted.into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(tcp: Option<&str>, serve: Option<&str>, serial: Option<&str>) -> String {
        let text = |text: Option<&str>| text.map(str::to_owned);
        let (tcp, serve, serial) = (text(tcp), text(serve), serial.map(PathBuf::from));
        PortArguments { tcp, serve, serial, baud: 115_200 }.name()
    }

    #[test]
    fn a_port_is_called_by_its_address_or_its_path() {
        assert_eq!(name(Some("lane:7000"), None, None), "lane:7000");
        assert_eq!(name(None, Some("0.0.0.0:7001"), None), "0.0.0.0:7001");
        assert_eq!(name(None, None, Some("/dev/lane")), "/dev/lane");
        assert_eq!(name(None, None, None), "");
    }
}
