//! Samples of the four plates as deltas.
//!
//! A stream is a run of samples: the time step since the sample before, ms, as a varint, then for LF, RF, LR, RR
//! the difference to the sample before as a zigzag varint. Before the first sample the time and the four values
//! are zero, so a stream needs no header and its first time is absolute. Values are units of 0.1 kg in a trace
//! and counts in raw readings. Differences wrap at 32 bits.

use crate::{
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
};

/// Longest sample, bytes: a 64-bit time step and four 32-bit differences.
pub const MAX_SAMPLE_BYTES: usize = 10 + 4 * 5;

/// One sample of a stream.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Sample {
    /// When, on the lane's clock.
    pub time: Milliseconds,
    /// Units of 0.1 kg, or counts.
    pub values: PerPlate<i32>,
}

impl Sample {
    /// A trace sample: loads rounded to 0.1 kg, half away from zero.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "a float cast saturates")]
    pub fn of_loads(time: Milliseconds, loads: &PerPlate<Kilograms>) -> Self {
        Self { time, values: PerPlate(loads.0.map(|load| libm::roundf(load.0 * 10.0) as i32)) }
    }

    /// The loads of a trace sample.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "a lane's loads are far below 2^24 tenths of a kilogram")]
    pub fn loads(&self) -> PerPlate<Kilograms> {
        PerPlate(self.values.0.map(|tenths| Kilograms(tenths as f32 / 10.0)))
    }
}

/// Why a stream ended early.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TraceError {
    /// The bytes end inside a sample.
    CutOff,
    /// A number is longer than its type allows.
    Overlong,
}

/// Writes a stream.
#[derive(Clone, Copy, Debug, Default)]
pub struct TraceEncoder {
    before: Sample,
}

impl TraceEncoder {
    /// A new stream.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Writes one sample at the start of `out` and returns its length, or `None`, with nothing changed, where it
    /// does not fit. A time before the last one counts as the last one.
    pub fn push(&mut self, sample: &Sample, out: &mut [u8]) -> Option<usize> {
        let time = sample.time.max(self.before.time);
        let mut at = put(time.0 - self.before.time.0, out, 0)?;
        for (value, before) in sample.values.0.iter().zip(self.before.values.0) {
            at = put(u64::from(zigzag(value.wrapping_sub(before))), out, at)?;
        }
        self.before = Sample { time, values: sample.values };
        Some(at)
    }
}

/// Reads a stream, sample by sample.
#[derive(Clone, Copy, Debug)]
pub struct TraceDecoder<'a> {
    rest: &'a [u8],
    before: Sample,
}

impl<'a> TraceDecoder<'a> {
    /// Reads the stream in `bytes`.
    #[must_use]
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes, before: Sample::default() }
    }

    fn sample(&mut self) -> Result<Sample, TraceError> {
        let step = take(&mut self.rest, u64::MAX)?;
        let mut sample = Sample {
            time: Milliseconds(self.before.time.0.checked_add(step).ok_or(TraceError::Overlong)?),
            values: self.before.values,
        };
        for value in &mut sample.values.0 {
            let difference = take(&mut self.rest, u64::from(u32::MAX))?;
            // The bound above keeps it within 32 bits.
            #[allow(clippy::cast_possible_truncation)]
            let difference = unzigzag(difference as u32);
            *value = value.wrapping_add(difference);
        }
        self.before = sample;
        Ok(sample)
    }
}

impl Iterator for TraceDecoder<'_> {
    type Item = Result<Sample, TraceError>;

    /// The next sample; after an error the stream is over.
    fn next(&mut self) -> Option<Self::Item> {
        if self.rest.is_empty() {
            return None;
        }
        let sample = self.sample();
        if sample.is_err() {
            self.rest = &[];
        }
        Some(sample)
    }
}

#[allow(clippy::cast_sign_loss, reason = "zigzag is a map of bit patterns")]
const fn zigzag(value: i32) -> u32 {
    ((value << 1) ^ (value >> 31)) as u32
}

#[allow(clippy::cast_possible_wrap, reason = "zigzag is a map of bit patterns")]
const fn unzigzag(value: u32) -> i32 {
    (value >> 1) as i32 ^ -((value & 1) as i32)
}

fn put(mut value: u64, out: &mut [u8], mut at: usize) -> Option<usize> {
    loop {
        let byte = (value & 0x7F) as u8;
        value >>= 7;
        *out.get_mut(at)? = if value == 0 { byte } else { byte | 0x80 };
        at += 1;
        if value == 0 {
            return Some(at);
        }
    }
}

fn take(rest: &mut &[u8], most: u64) -> Result<u64, TraceError> {
    let mut value = 0u64;
    for shift in (0..64).step_by(7) {
        let (&byte, tail) = rest.split_first().ok_or(TraceError::CutOff)?;
        *rest = tail;
        let bits = u64::from(byte & 0x7F);
        let shifted = bits << shift;
        if shifted >> shift != bits {
            return Err(TraceError::Overlong);
        }
        value |= shifted;
        if byte & 0x80 == 0 {
            return if value <= most { Ok(value) } else { Err(TraceError::Overlong) };
        }
    }
    Err(TraceError::Overlong)
}
