//! The lines that tag readers print.
//!
//! Known forms, `_` for a space: `964000000123456`, `964_000000123456`, `LA_982_000001088420`,
//! `LA_00000_0_982_000001088420`, `A0000000964000000123456` (or a leading `1`), `A_00000_0_0999_000000123456`;
//! not an animal: `LR_0006_0000000018514348`, `R00060000000000123456` (or a leading `0` before 22 digits).
//! A line may begin with STX; it ends with CR, LF or ETX. The digits between the letter and the code (retagging,
//! user, reserved, advanced, data block: their order is not published) are checked for form and not used.

use super::code::{AnimalCode, CodeError};

/// Longest line taken, bytes: the longest known form has 28.
const MAX_LINE_BYTES: usize = 48;

const STX: u8 = 0x02;
const ETX: u8 = 0x03;

/// Why a line names no animal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineError {
    /// None of the known forms.
    NotATag,
    /// A tag, but not on an animal.
    NotAnAnimal,
    /// Bytes that no reader prints: noise on the line.
    Noise,
    /// Too long.
    TooLong,
    /// A known form with an impossible code.
    Code(CodeError),
}

/// Reads one whole line, without its end.
///
/// # Errors
/// Where it names no animal.
pub fn parse_line(line: &[u8]) -> Result<AnimalCode, LineError> {
    let line = line.trim_ascii();
    let letters = line.iter().take_while(|byte| byte.is_ascii_alphabetic()).count();
    let (prefix, digits) = line.split_at(letters);
    let animal = match prefix {
        b"" | b"L" | b"A" | b"LA" => true,
        b"R" | b"LR" => false,
        _ => return Err(LineError::NotATag),
    };
    let mut groups = [&[][..]; 4];
    let mut count = 0;
    for group in digits.split(|byte| *byte == b' ').filter(|group| !group.is_empty()) {
        if !group.iter().all(u8::is_ascii_digit) {
            return Err(LineError::NotATag);
        }
        *groups.get_mut(count).ok_or(LineError::NotATag)? = group;
        count += 1;
    }
    if !animal {
        return Err(if count > 0 { LineError::NotAnAnimal } else { LineError::NotATag });
    }
    let lettered = !prefix.is_empty();
    match groups.get(..count).unwrap_or_default() {
        [code] => one_group(code, lettered),
        [country, national] => two_groups(country, national),
        [reserved, data_block, country, national] if reserved.len() == 5 && data_block.len() == 1 => {
            two_groups(country, national)
        }
        _ => Err(LineError::NotATag),
    }
}

fn one_group(digits: &[u8], lettered: bool) -> Result<AnimalCode, LineError> {
    match (digits, digits.len()) {
        (code, 15) => code_of(code),
        ([b'0', code @ ..], 16) => code_of(code),
        (_, 22) if lettered => code_of(digits.get(7..).unwrap_or_default()),
        ([b'1', ..], 23) if !lettered => code_of(digits.get(8..).unwrap_or_default()),
        ([b'0', ..], 23) if !lettered => Err(LineError::NotAnAnimal),
        _ => Err(LineError::NotATag),
    }
}

fn two_groups(country: &[u8], national: &[u8]) -> Result<AnimalCode, LineError> {
    let country = match country {
        [b'0', country @ ..] if country.len() == 3 => country,
        _ => country,
    };
    if country.len() != 3 || national.len() != 12 {
        return Err(LineError::NotATag);
    }
    let mut digits = [0; 15];
    let (first, last) = digits.split_at_mut(3);
    first.copy_from_slice(country);
    last.copy_from_slice(national);
    code_of(&digits)
}

fn code_of(digits: &[u8]) -> Result<AnimalCode, LineError> {
    AnimalCode::from_digits(digits).map_err(LineError::Code)
}

/// Gathers a reader's bytes into lines.
#[derive(Clone, Debug)]
pub struct ReaderLine {
    buffer: [u8; MAX_LINE_BYTES],
    length: usize,
    spoilt: Option<LineError>,
}

impl Default for ReaderLine {
    fn default() -> Self {
        Self::new()
    }
}

impl ReaderLine {
    /// At the start of a line.
    #[must_use]
    pub const fn new() -> Self {
        Self { buffer: [0; MAX_LINE_BYTES], length: 0, spoilt: None }
    }

    /// Takes one byte; says what the line was when the byte ends one that is not empty.
    ///
    /// STX begins afresh. Bytes that are not printable spoil the line they are in, but not while it is still
    /// empty: a line that wakes up gives such bytes.
    pub fn push(&mut self, byte: u8) -> Option<Result<AnimalCode, LineError>> {
        match byte {
            b'\r' | b'\n' | ETX => self.end(),
            STX => {
                *self = Self::new();
                None
            }
            b' '..=b'~' => {
                match self.buffer.get_mut(self.length) {
                    Some(place) => {
                        *place = byte;
                        self.length += 1;
                    }
                    None => self.spoilt = self.spoilt.or(Some(LineError::TooLong)),
                }
                None
            }
            _ => {
                if self.length > 0 {
                    self.spoilt = Some(LineError::Noise);
                }
                None
            }
        }
    }

    fn end(&mut self) -> Option<Result<AnimalCode, LineError>> {
        let line = self.buffer.get(..self.length).unwrap_or_default();
        let result = match self.spoilt {
            Some(error) => Some(Err(error)),
            None if line.trim_ascii().is_empty() => None,
            None => Some(parse_line(line)),
        };
        *self = Self::new();
        result
    }
}
