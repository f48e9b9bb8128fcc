//! Parts that fail on demand, for the tests of this and of other crates.

mod flash;

pub use flash::{FailingFlash, PowerCut};
