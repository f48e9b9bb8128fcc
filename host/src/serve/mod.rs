//! The pages over HTTP: who asks, what may be answered, and what people enter. No path of a request names a file.

mod answers;
mod forms;
mod http;
mod lane;
pub mod sessions;

use crate::report::words::Words;
use crate::store::Store;
use anyhow::{Context, bail};
use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;

/// Why something was not taken, by HTTP status and the id of its message.
type Refused = (u16, &'static str);

/// Something nobody can guess. `None` where the system has no random numbers.
fn secret() -> Option<String> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).ok()?;
    Some(format!("{:032x}", u128::from_le_bytes(bytes)))
}

/// Equal in length and in every byte, however many are: how long it takes tells nothing.
fn same(one: &str, other: &str) -> bool {
    one.len() == other.len()
        && one.bytes().zip(other.bytes()).fold(0, |differs, (a, b)| differs | (a ^ b)) == 0
}

/// The server.
pub struct Server {
    listener: TcpListener,
    address: SocketAddr,
    answers: Arc<answers::Answers>,
}

impl Server {
    /// Takes the address.
    ///
    /// # Errors
    /// When it cannot be had, or others could reach it while nobody has a password.
    pub fn bind(address: SocketAddr, store: PathBuf, words: Words) -> anyhow::Result<Self> {
        let open = !address.ip().is_loopback();
        if open && Store::open(&store)?.people()?.is_empty() {
            bail!(
                "others could reach {address}, and nobody has a password yet: `fourplate person add NAME --role record`"
            );
        }
        let listener = TcpListener::bind(address)
            .with_context(|| format!("cannot serve on {address}; try another port with --addr"))?;
        listener.set_nonblocking(true)?;
        let address = listener.local_addr()?;
        Ok(Self { listener, address, answers: Arc::new(answers::Answers::new(store, words, open)?) })
    }

    /// The address taken.
    #[must_use]
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Answers until the process is stopped.
    ///
    /// # Errors
    /// When the machine gives no threads or takes the address away.
    pub fn run(self) -> anyhow::Result<()> {
        http::run(self.listener, self.answers)
    }
}
