//! The 64-bit code of ISO 11784.

use core::fmt;
use serde::{Deserialize, Serialize};

/// Largest national identification code: 38 bits.
pub const MAX_NATIONAL: u64 = (1 << 38) - 1;
/// Largest country or manufacturer code.
pub const MAX_COUNTRY: u16 = 999;
/// The code range kept for tests: valid, but no animal should wear it.
pub const TEST_COUNTRY: u16 = 999;

const ANIMAL_SHIFT: u32 = 63;
const RETAG_SHIFT: u32 = 60;
const USER_SHIFT: u32 = 55;
const RESERVED_SHIFT: u32 = 50;
const ADVANCED_SHIFT: u32 = 49;
const DATA_BLOCK_SHIFT: u32 = 48;
const COUNTRY_SHIFT: u32 = 38;

/// An ISO 11784 code with a possible country and national code. Bit 1 of the standard is the most significant.
///
/// Tags are copied, swapped and misread: a code is evidence of who it was, never proof.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "u64", into = "u64")]
pub struct AnimalCode(u64);

/// Why something is no animal's code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CodeError {
    /// Country 000 names nobody.
    CountryZero,
    /// Country above 999.
    CountryTooLarge,
    /// National code above 274 877 906 943.
    NationalTooLarge,
    /// Not 15 digits.
    NotFifteenDigits,
}

impl fmt::Display for CodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::CountryZero => "country 000 names nobody",
            Self::CountryTooLarge => "the country code is above 999",
            Self::NationalTooLarge => "the national code is above 274877906943",
            Self::NotFifteenDigits => "not 15 digits",
        })
    }
}

impl core::error::Error for CodeError {}

impl TryFrom<u64> for AnimalCode {
    type Error = CodeError;
    fn try_from(bits: u64) -> Result<Self, CodeError> {
        Self::from_bits(bits)
    }
}

impl From<AnimalCode> for u64 {
    fn from(code: AnimalCode) -> Self {
        code.bits()
    }
}

impl core::str::FromStr for AnimalCode {
    type Err = CodeError;
    fn from_str(text: &str) -> Result<Self, CodeError> {
        Self::from_digits(text.as_bytes())
    }
}

impl AnimalCode {
    /// A first tag on an animal, with no other bit set.
    ///
    /// # Errors
    /// Where the country or the national code is impossible.
    pub const fn new(country: u16, national: u64) -> Result<Self, CodeError> {
        if country > MAX_COUNTRY {
            return Err(CodeError::CountryTooLarge);
        }
        if national > MAX_NATIONAL {
            return Err(CodeError::NationalTooLarge);
        }
        Self::from_bits((1 << ANIMAL_SHIFT) | ((country as u64) << COUNTRY_SHIFT) | national)
    }

    /// A code from its 64 bits.
    ///
    /// # Errors
    /// Where the country is 000 or above 999.
    pub const fn from_bits(bits: u64) -> Result<Self, CodeError> {
        match Self(bits).country() {
            0 => Err(CodeError::CountryZero),
            1..=MAX_COUNTRY => Ok(Self(bits)),
            _ => Err(CodeError::CountryTooLarge),
        }
    }

    /// A code from its 15 digits: country, then national code.
    ///
    /// # Errors
    /// Where there are not 15 digits, or they are impossible.
    pub fn from_digits(digits: &[u8]) -> Result<Self, CodeError> {
        if digits.len() != 15 || !digits.iter().all(u8::is_ascii_digit) {
            return Err(CodeError::NotFifteenDigits);
        }
        let (country, national) = digits.split_at(3);
        let number =
            |text: &[u8]| text.iter().fold(0u64, |value, digit| value * 10 + u64::from(digit - b'0'));
        // Three digits fit.
        #[allow(clippy::cast_possible_truncation)]
        Self::new(number(country) as u16, number(national))
    }

    /// The 64 bits.
    #[must_use]
    pub const fn bits(self) -> u64 {
        self.0
    }

    const fn field(self, shift: u32, width: u32) -> u64 {
        (self.0 >> shift) & ((1 << width) - 1)
    }

    /// Country or manufacturer.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "ten bits")]
    pub const fn country(self) -> u16 {
        self.field(COUNTRY_SHIFT, 10) as u16
    }

    /// National identification code.
    #[must_use]
    pub const fn national(self) -> u64 {
        self.field(0, 38)
    }

    /// Whether the tag says it is on an animal.
    #[must_use]
    pub const fn is_animal(self) -> bool {
        self.field(ANIMAL_SHIFT, 1) == 1
    }

    /// How often the animal was given a new tag with this number, 0 to 7.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "three bits")]
    pub const fn retagging(self) -> u8 {
        self.field(RETAG_SHIFT, 3) as u8
    }

    /// User information, 0 to 31.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "five bits")]
    pub const fn user(self) -> u8 {
        self.field(USER_SHIFT, 5) as u8
    }

    /// Reserved bits, 0 to 31.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "five bits")]
    pub const fn reserved(self) -> u8 {
        self.field(RESERVED_SHIFT, 5) as u8
    }

    /// Whether the tag says it is an advanced transponder.
    #[must_use]
    pub const fn is_advanced(self) -> bool {
        self.field(ADVANCED_SHIFT, 1) == 1
    }

    /// Whether a data block follows the code.
    #[must_use]
    pub const fn has_data_block(self) -> bool {
        self.field(DATA_BLOCK_SHIFT, 1) == 1
    }

    /// Whether it lies in the range kept for tests.
    #[must_use]
    pub const fn is_test(self) -> bool {
        self.country() == TEST_COUNTRY
    }

    /// The 15 digits in ASCII.
    #[must_use]
    pub fn digits(self) -> [u8; 15] {
        let mut digits = [b'0'; 15];
        let mut number = u64::from(self.country()) * 1_000_000_000_000 + self.national();
        for digit in digits.iter_mut().rev() {
            // A remainder of ten fits.
            #[allow(clippy::cast_possible_truncation)]
            let units = (number % 10) as u8;
            *digit += units;
            number /= 10;
        }
        digits
    }
}

impl fmt::Display for AnimalCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(core::str::from_utf8(&self.digits()).unwrap_or_default())
    }
}
