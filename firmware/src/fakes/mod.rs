//! Fault-injecting hardware for the tests of this crate and of others.

mod board;
mod cells;
mod chance;
mod deck;
mod flash;
mod port;

pub use board::Board;
pub use cells::FakeCells;
pub use chance::Chance;
pub use deck::Deck;
pub use flash::{FailingFlash, PowerCut, SharedFlash};
pub use port::FakePort;
