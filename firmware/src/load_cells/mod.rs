//! Converters that weigh: the four plates read together.

pub mod ads131m04;
pub mod hx711;
pub mod monitor;

use shared::{plate::PerPlate, units::Counts};

pub use monitor::{ChannelFault, Monitor};

/// Highest code of a 24-bit two's complement converter; the output clips there.
pub const TOP_CODE: i32 = 0x7F_FFFF;
/// Lowest code of a 24-bit two's complement converter; the output clips there.
pub const BOTTOM_CODE: i32 = -0x80_0000;

/// The four plates, read at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sample {
    /// Converter codes.
    pub counts: PerPlate<Counts>,
}

impl Sample {
    /// Plates whose converter clips: at its highest or lowest code.
    #[must_use]
    pub fn saturated(&self) -> PerPlate<bool> {
        let clips = |Counts(code)| code >= TOP_CODE || code <= BOTTOM_CODE;
        let [lf, rf, lr, rr] = self.counts.0;
        PerPlate([clips(lf), clips(rf), clips(lr), clips(rr)])
    }
}

/// A converter of four plates. Never waits: the caller asks again.
pub trait LoadCells {
    /// What can go wrong on its wires.
    type Error;

    /// The next sample, once, if it is ready.
    ///
    /// # Errors
    /// The wires failed, or what came over them cannot be trusted; that sample is lost.
    fn poll(&mut self) -> Result<Option<Sample>, Self::Error>;

    /// Starts the converter afresh, after it has fallen silent or makes no sense. May wait for a millisecond.
    ///
    /// # Errors
    /// The wires failed, or the converter does not answer as it should.
    fn restart(&mut self) -> Result<(), Self::Error>;
}

/// The signed value of a 24-bit two's complement word, most significant byte first.
#[must_use]
pub fn sign_extend_24(bytes: [u8; 3]) -> i32 {
    i32::from_be_bytes([bytes[0], bytes[1], bytes[2], 0]) >> 8
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Codes of the ideal output table (data sheet of the four-channel part, table 8-10).
    #[test]
    fn codes_are_twos_complement() {
        assert_eq!(sign_extend_24([0x7F, 0xFF, 0xFF]), TOP_CODE);
        assert_eq!(sign_extend_24([0, 0, 1]), 1);
        assert_eq!(sign_extend_24([0, 0, 0]), 0);
        assert_eq!(sign_extend_24([0xFF, 0xFF, 0xFF]), -1);
        assert_eq!(sign_extend_24([0x80, 0, 0]), BOTTOM_CODE);
    }

    #[test]
    fn both_end_stops_count_as_saturated() {
        let sample = Sample {
            counts: PerPlate([Counts(TOP_CODE), Counts(BOTTOM_CODE), Counts(TOP_CODE - 1), Counts(0)]),
        };
        assert_eq!(sample.saturated().0, [true, true, false, false]);
    }
}
