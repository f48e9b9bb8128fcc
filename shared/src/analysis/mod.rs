//! From plate readings to one passage summary.

mod analyser;
pub mod calibration;
mod contact;
mod feet;
pub mod filter;
mod frozen;
mod passage;
pub mod quality;
mod stance;
pub mod summary;
mod tally;
mod treads;
mod weight;
pub mod zero;

pub use analyser::{Analyser, Step};
pub use calibration::{Calibration, CalibrationError};
pub use quality::{Quality, Reason};
pub use summary::{LegContacts, PassageKind, PassageSummary, Standing};

use crate::{
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
};

/// One sample of the four plates, calibrated.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reading {
    /// When, on the lane's clock.
    pub time: Milliseconds,
    /// The load on each plate.
    pub loads: PerPlate<Kilograms>,
    /// Plates whose converter was at its end stop.
    pub saturated: PerPlate<bool>,
}
