//! How good the tool is on a herd: its rows held against observers, lesions or an outside truth.

pub mod agreement;
pub mod bootstrap;
pub mod calibration;
pub mod figures;
#[cfg(test)]
mod oracle;
pub mod pairing;
pub mod plot;
pub mod proportion;
pub mod roc;
pub mod text;
pub mod timing;

pub use figures::{Evaluation, Options, evaluate};
pub use pairing::{Judged, Truth, pair, read_truth};

use serde::Serialize;

/// A 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

impl Interval {
    /// An interval of a share: cut to 0..1.
    #[must_use]
    pub const fn clipped(lower: f64, upper: f64) -> Self {
        Self { lower: lower.max(0.0), upper: upper.min(1.0) }
    }
}
