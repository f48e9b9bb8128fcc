//! The FDX-B telegram of ISO 11785: 128 bits, sent over and over.
//!
//! Eleven header bits (a one, ten zeros), then thirteen bytes, least significant bit first and each with a one
//! before it: eight of the code, two of its CRC-16/KERMIT, three of the trailer. The trailer has no check.

use super::code::{AnimalCode, CodeError};
use crc::{CRC_16_KERMIT, Crc, NoTable};

const CHECK: Crc<u16, NoTable> = Crc::<u16, NoTable>::new(&CRC_16_KERMIT);
const BITS: u32 = 128;
/// Bits of the header.
const HEADER_BITS: u32 = 11;
const HEADER: u128 = 1 << (HEADER_BITS - 1);
const BYTES: usize = 13;
/// A control bit and eight data bits.
const GROUP_BITS: u32 = 9;

/// What a tag sends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Telegram {
    /// The code.
    pub code: AnimalCode,
    /// The data block; meaningful only where the code says that there is one. Not covered by the check.
    pub trailer: [u8; 3],
}

/// Why bits are no telegram.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TelegramError {
    /// Nowhere a header followed by control bits that are all one.
    NoHeader,
    /// The check does not fit the code.
    WrongCheck,
    /// The code is impossible.
    Code(CodeError),
}

impl Telegram {
    /// Reads 128 bits, the first received one most significant, wherever in the telegram they begin.
    ///
    /// # Errors
    /// Where no telegram with a right check is in them.
    pub fn decode(bits: u128) -> Result<Self, TelegramError> {
        let mut error = TelegramError::NoHeader;
        for start in 0..BITS {
            let Some(bytes) = framed(bits.rotate_left(start)) else { continue };
            let [id @ .., check_low, check_high, trailer_0, trailer_1, trailer_2] = bytes;
            if CHECK.checksum(&id) != u16::from_le_bytes([check_low, check_high]) {
                error = TelegramError::WrongCheck;
                continue;
            }
            return AnimalCode::from_bits(u64::from_le_bytes(id))
                .map(|code| Self { code, trailer: [trailer_0, trailer_1, trailer_2] })
                .map_err(TelegramError::Code);
        }
        Err(error)
    }

    /// The 128 bits, the first sent one most significant.
    #[must_use]
    pub fn encode(&self) -> u128 {
        let id = self.code.bits().to_le_bytes();
        let bytes = id.into_iter().chain(self.check().to_le_bytes()).chain(self.trailer);
        bytes.fold(HEADER, |bits, byte| (bits << GROUP_BITS) | (1 << 8) | u128::from(byte.reverse_bits()))
    }

    /// The check of the code.
    #[must_use]
    pub fn check(&self) -> u16 {
        CHECK.checksum(&self.code.bits().to_le_bytes())
    }
}

/// The bytes of bits that begin with the header, where header and control bits are as they must be.
fn framed(bits: u128) -> Option<[u8; BYTES]> {
    if bits >> (BITS - HEADER_BITS) != HEADER {
        return None;
    }
    let mut bytes = [0; BYTES];
    let mut shift = BITS - HEADER_BITS;
    for byte in &mut bytes {
        shift -= GROUP_BITS;
        let group = bits >> shift;
        if group & (1 << 8) == 0 {
            return None;
        }
        // The eight bits below the control bit.
        #[allow(clippy::cast_possible_truncation)]
        let data = group as u8;
        *byte = data.reverse_bits();
    }
    Some(bytes)
}
