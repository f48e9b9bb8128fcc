//! How good the tool is on a herd: its rows held against observers, lesions or an outside truth.

pub mod agreement;
pub mod calibration;
pub mod figures;
#[cfg(test)]
mod oracle;
pub mod pairing;
pub mod plain;
pub mod price;
pub mod proportion;
pub mod repeat;
pub mod roc;
pub mod timing;

pub use crate::arithmetic::statistics::Interval;
pub use figures::{Evaluation, Options, evaluate};
pub use pairing::{Judged, OutsideTruth, pair, read_truth};
