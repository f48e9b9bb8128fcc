//! fourplate on the host. Each folder knows only those before it; `tests/layering.rs` holds that.

#[cfg(test)]
extern crate self as host;

pub mod arithmetic;
pub mod progress;
pub mod record;

pub mod store;

pub mod case;
pub mod evaluate;
pub mod identity;
pub mod import;
pub mod link;
pub mod score;

pub mod report;
pub mod serve;
pub mod tell;

pub mod commands;

/// A herd for tests of the score; the figures over many seeds are made from the same.
#[cfg(test)]
#[path = "../../tests/support/simulated_herd.rs"]
mod simulated_herd;
