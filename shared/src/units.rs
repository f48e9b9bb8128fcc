//! Quantities that must not be mixed up.

use serde::{Deserialize, Serialize};

/// One converter reading, before calibration.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Counts(pub i32);

/// A load in kilograms.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
pub struct Kilograms(pub f32);

/// Time on a lane's clock, or a length of time, in milliseconds.
///
/// On the device the clock starts at boot; for readings that come as a file it is milliseconds since the Unix
/// epoch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Milliseconds(pub u64);

impl Milliseconds {
    /// Time since `earlier`; zero where `earlier` is later.
    #[must_use]
    pub fn since(self, earlier: Self) -> Self {
        Self(self.0.saturating_sub(earlier.0))
    }

    /// The length in seconds.
    #[must_use]
    pub fn seconds(self) -> f32 {
        self.float() / 1000.0
    }

    /// The length, ms. Most lengths fit 32 bits, which small processors convert far faster than 64.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn float(self) -> f32 {
        u32::try_from(self.0).map_or_else(|_| self.0 as f32, |short| short as f32)
    }
}

/// A value with its standard error, both in the same unit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The value.
    pub value: f32,
    /// Its standard error.
    pub se: f32,
}
