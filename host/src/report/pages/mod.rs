//! A small read-only web page: the list, one cow, the rechecks, the lane. No outside resources.

mod picture;
mod render;

use crate::report::farm::Farm;
use crate::report::words::Words;
use crate::store::Store;
use anyhow::anyhow;
pub use render::{Page, Pages};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::time::SystemTime;
use tiny_http::{Header, Request, Response};

/// Sent with every page: nothing from outside, no scripts, in no frame.
const HEADERS: [(&str, &str); 6] = [
    ("Content-Type", "text/html; charset=utf-8"),
    (
        "Content-Security-Policy",
        "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cache-Control", "no-store"),
    ("Allow", "GET, HEAD"),
];

/// What tells that the store has changed: size and time of its files.
type Stamp = [Option<(u64, SystemTime)>; 2];

/// The server.
pub struct Server {
    server: tiny_http::Server,
    address: SocketAddr,
    store: PathBuf,
    pages: Pages,
}

impl Server {
    /// Takes the address.
    ///
    /// # Errors
    /// When it cannot be had.
    pub fn bind(address: SocketAddr, store: PathBuf, words: Words) -> anyhow::Result<Self> {
        let server = tiny_http::Server::http(address)
            .map_err(|error| anyhow!("cannot serve on {address}: {error}; try another port with --addr"))?;
        let address = server.server_addr().to_ip().ok_or_else(|| anyhow!("no internet address"))?;
        Ok(Self { server, address, store, pages: Pages::new(words)? })
    }

    /// The address taken.
    #[must_use]
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Answers until the process is stopped.
    pub fn run(&self) {
        let mut farm: Option<(Stamp, Option<Farm>)> = None;
        for request in self.server.incoming_requests() {
            let now = stamp(&self.store);
            if farm.as_ref().is_none_or(|(then, _)| *then != now) {
                farm = load(&self.store).ok().map(|farm| (now, farm));
            }
            let page = match &farm {
                Some((_, farm)) => self.answer(&request, farm.as_ref()),
                None => self.pages.problem(503, "page-busy"),
            };
            // A reader that went away is no fault.
            let _ = request.respond(response(page));
        }
    }

    fn answer(&self, request: &Request, farm: Option<&Farm>) -> Page {
        let host = request.headers().iter().find(|header| header.field.equiv("Host"));
        if self.address.ip().is_loopback() && !host.is_some_and(|host| is_local(host.value.as_str())) {
            // Another site's name that was made to point here must not read the farm's data.
            return self.pages.problem(403, "page-local-only");
        }
        self.pages.answer(request.method().as_str(), request.url(), farm)
    }
}

fn response(page: Page) -> Response<std::io::Cursor<Vec<u8>>> {
    let response = Response::from_string(page.body).with_status_code(page.status);
    HEADERS
        .iter()
        .filter_map(|(name, value)| Header::from_bytes(*name, *value).ok())
        .fold(response, Response::with_header)
}

fn is_local(host: &str) -> bool {
    let name = host.rsplit_once(':').filter(|(_, port)| port.bytes().all(|b| b.is_ascii_digit()));
    matches!(name.map_or(host, |(name, _)| name), "localhost" | "127.0.0.1" | "[::1]")
}

fn stamp(store: &Path) -> Stamp {
    let log = PathBuf::from(format!("{}-wal", store.display()));
    [store, &log].map(|path| {
        let data = path.metadata().ok()?;
        Some((data.len(), data.modified().ok()?))
    })
}

fn load(store: &Path) -> anyhow::Result<Option<Farm>> {
    Farm::load(&Store::open(store)?, None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_local_names_are_answered_on_a_local_address() {
        for local in ["localhost", "localhost:8080", "127.0.0.1:1", "[::1]:8080", "[::1]"] {
            assert!(is_local(local), "{local}");
        }
        for other in ["example.org", "127.0.0.1.example.org:80", "localhost.example.org", "", "[::2]"] {
            assert!(!is_local(other), "{other}");
        }
    }
}
