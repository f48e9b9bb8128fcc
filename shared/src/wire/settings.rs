//! Settings and the guided calibration.

use crate::{
    limits::MAX_NAME_BYTES,
    plate::{PerPlate, Plate},
    units::{Counts, Kilograms},
};
use heapless::String;
use serde::{Deserialize, Serialize};

/// What is set in a device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Readings a second, Hz.
    pub rate_hz: u16,
    /// Counts of each empty plate.
    pub zero: PerPlate<Counts>,
    /// Load on plate `row` for one count of plate `column` above its zero, kg; off the diagonal is cross-talk.
    pub kg_per_count: [[f32; 4]; 4],
    /// The lane's name.
    pub name: String<MAX_NAME_BYTES>,
}

/// One step of a guided calibration, in the order a person does them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum CalibrationStep {
    /// The deck is empty: take the zero. Begins a calibration.
    EmptyDeck,
    /// A known weight lies on the middle of one plate, the others are empty.
    KnownWeight {
        /// The plate.
        plate: Plate,
        /// The weight.
        weight: Kilograms,
    },
    /// A known weight lies off the middle of one plate: measure with the new calibration, change nothing.
    Check {
        /// The plate.
        plate: Plate,
        /// The weight.
        weight: Kilograms,
    },
    /// Put the new calibration in force and keep it.
    Finish,
    /// Forget it.
    Abort,
}

/// How a step went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum CalibrationOutcome {
    /// Done.
    Accepted,
    /// The readings did not settle: nothing taken.
    NotSteady,
    /// A plate that should be empty is not, or the weight is not on its plate.
    WrongLoad,
    /// A converter was at its end stop or silent.
    BadChannel,
    /// A step before this one is missing.
    OutOfOrder,
    /// The result is out of range, or the four plates cannot be told apart.
    BadResult,
    /// The result could not be written: the old calibration stays.
    NotStored,
    /// Given up as asked: the old calibration stays.
    Aborted,
}

/// Answer to a calibration step.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CalibrationReply {
    /// The step answered.
    pub step: CalibrationStep,
    /// How it went.
    pub outcome: CalibrationOutcome,
    /// Mean counts of each plate during the step.
    pub counts: PerPlate<Counts>,
    /// Load of each plate by the calibration as it now stands.
    pub loads: PerPlate<Kilograms>,
}
