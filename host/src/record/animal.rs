//! Animals, the herd register, and the scores people gave.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::fmt;

/// An animal: 15 digits after ISO 11784, or the farm's own number.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct AnimalId(pub String);

impl fmt::Display for AnimalId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A line of the herd register.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HerdEntry {
    /// Which animal.
    pub animal: AnimalId,
    /// Lactation number.
    pub parity: Option<u8>,
    /// Last calving known.
    pub calving_date: Option<Date>,
}

/// A mobility score given by a trained person, 0 to 3.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MobilityScore {
    /// Day of the observation.
    pub date: Date,
    /// Which animal.
    pub animal: AnimalId,
    /// 0 to 3.
    pub score: u8,
}
