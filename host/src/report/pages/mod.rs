//! Small web pages: the list with its marks, one cow, the rechecks, the lane. No outside resources.

mod picture;
mod record;
mod render;

use crate::report::farm::Farm;
use crate::report::words::Words;
use crate::store::Store;
use anyhow::anyhow;
use jiff::civil::Date;
pub use render::{Page, Pages};
use std::io::Read;
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
    ("Allow", "GET, HEAD, POST"),
];

/// What tells that the store has changed: size and time of its files.
type Stamp = [Option<(u64, SystemTime)>; 2];

/// The server.
pub struct Server {
    server: tiny_http::Server,
    address: SocketAddr,
    store: PathBuf,
    pages: Pages,
    /// What a form must bring to be taken; none is taken where others on the network can reach the pages.
    token: Option<String>,
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
        let token = record::token().filter(|_| address.ip().is_loopback());
        let pages = Pages::new(words)?.with_token(token.clone());
        Ok(Self { server, address, store, pages, token })
    }

    /// The address taken.
    #[must_use]
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Answers until the process is stopped.
    pub fn run(&self) {
        let mut farm: Option<(Stamp, Option<Farm>)> = None;
        for mut request in self.server.incoming_requests() {
            if *request.method() == tiny_http::Method::Post {
                let page = self.take(&mut request);
                let _ = request.respond(response(page));
                continue;
            }
            if let Some(date) = render::date_of(request.url()) {
                let page = match load(&self.store, Some(date)) {
                    Ok(farm) => self.answer(&request, farm.as_ref()),
                    Err(_) => self.pages.problem(503, "page-busy"),
                };
                let _ = request.respond(response(page));
                continue;
            }
            let now = stamp(&self.store);
            if farm.as_ref().is_none_or(|(then, _)| *then != now) {
                farm = load(&self.store, None).ok().map(|farm| (now, farm));
            }
            let page = match &farm {
                Some((_, farm)) => self.answer(&request, farm.as_ref()),
                None => self.pages.problem(503, "page-busy"),
            };
            // A reader that went away is no fault.
            let _ = request.respond(response(page));
        }
    }

    /// Takes a form in.
    fn take(&self, request: &mut Request) -> Page {
        let refused = |(status, what): record::Refused| self.pages.problem(status, what);
        let Some(token) = self.token.as_ref().filter(|_| self.is_ours(request)) else {
            return refused((403, "page-local-only"));
        };
        if request.url() != "/mark" {
            return refused((404, "page-no-page"));
        }
        let mut form = String::new();
        let most = record::MOST_BYTES as u64 + 1;
        let read = request.as_reader().take(most).read_to_string(&mut form);
        if read.is_err() || form.len() > record::MOST_BYTES {
            return refused((413, "page-bad-form"));
        }
        let Ok(store) = Store::open(&self.store) else { return refused((503, "page-busy")) };
        match record::mark(&store, &form, token, jiff::Timestamp::now()) {
            Ok(date) => Page { status: 303, body: format!("/?date={date}") },
            Err(why) => refused(why),
        }
    }

    /// Whether the request was meant for this machine. Another site's name that was made to point here must not read
    /// the farm's data, nor its pages write.
    fn is_ours(&self, request: &Request) -> bool {
        let header = |name: &'static str| {
            let found = request.headers().iter().find(|header| header.field.equiv(name));
            found.map(|header| header.value.as_str().to_owned())
        };
        let from_here =
            header("Origin").is_none_or(|origin| origin.strip_prefix("http://").is_some_and(is_local));
        !self.address.ip().is_loopback() || header("Host").is_some_and(|host| is_local(&host)) && from_here
    }

    fn answer(&self, request: &Request, farm: Option<&Farm>) -> Page {
        if !self.is_ours(request) {
            return self.pages.problem(403, "page-local-only");
        }
        self.pages.answer(request.method().as_str(), request.url(), farm)
    }
}

fn response(page: Page) -> Response<std::io::Cursor<Vec<u8>>> {
    if page.status == 303 {
        let to = Header::from_bytes("Location", page.body).ok();
        return to.into_iter().fold(Response::from_string("").with_status_code(303), Response::with_header);
    }
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

fn load(store: &Path, date: Option<Date>) -> anyhow::Result<Option<Farm>> {
    Farm::load(&Store::open(store)?, date)
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
