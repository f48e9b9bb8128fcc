//! Fault-injecting hardware, and what is given to a device, for the tests of this crate and of others.

mod board;
mod cells;
mod chance;
mod deck;
mod flash;
mod given;
mod port;

pub use board::Board;
pub use cells::FakeCells;
pub use chance::Chance;
pub use deck::Deck;
pub use flash::{FailingFlash, PowerCut, SharedFlash};
pub use given::{GATE, at, code, head};
pub use port::FakePort;
