//! From plate readings to one passage summary.

pub mod quality;
pub mod summary;

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
