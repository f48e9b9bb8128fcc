//! Files as loggers write them, brought into the documented form before they are read: packed or UTF-16, other
//! delimiters, decimal commas, units, names of columns, plates the wrong way round, times without a zone or a second.
//!
//! A line stays a line, so that problems are told at the file's own lines. Where a file can be read in one way only,
//! nothing need be said; what was guessed is told.

mod plan;
mod rewrite;
mod stamp;
mod unpack;

use crate::import::{Column, Input, Problems};
use crate::record::day_words::DayOrder;
use jiff::tz::TimeZone;
use std::io::{self, Read};

/// How a file says its loads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Unit {
    /// Kilograms.
    #[default]
    Kg,
    /// Grams.
    G,
    /// Pounds: 0.45359237 kg, by definition (NIST SP 811).
    Lb,
    /// Newtons: 1 / 9.80665 kg, by the standard acceleration of free fall (NIST SP 811).
    N,
}

impl Unit {
    /// Kilograms in one.
    #[must_use]
    pub const fn kg(self) -> f64 {
        match self {
            Self::Kg => 1.0,
            Self::G => 0.001,
            Self::Lb => 0.453_592_37,
            Self::N => 1.0 / 9.806_65,
        }
    }
}

/// Plates that are wired the wrong way round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum PlateSwap {
    /// Left for right.
    LeftRight,
    /// Front for rear.
    FrontRear,
}

impl PlateSwap {
    fn of(self, plate: &str) -> String {
        match (self, plate.as_bytes()) {
            (Self::LeftRight, [b'l', end]) => format!("r{}", *end as char),
            (Self::LeftRight, [b'r', end]) => format!("l{}", *end as char),
            (Self::FrontRear, [side, b'f']) => format!("{}r", *side as char),
            (Self::FrontRear, [side, b'r']) => format!("{}f", *side as char),
            _ => plate.to_owned(),
        }
    }
}

/// What is said of a file's form; what is not said is the documented form, or guessed where only one reading fits.
#[derive(Clone, Debug, Default)]
pub struct Layout {
    /// Unit of the loads.
    pub unit: Unit,
    /// What parts the fields.
    pub delimiter: Option<u8>,
    /// Decimals after a comma.
    pub decimal_comma: bool,
    /// The zone of times that do not say theirs; without it they are refused.
    pub zone: Option<TimeZone>,
    /// Order of day and month in dates such as 03/04/2026.
    pub days: Option<DayOrder>,
    /// Documented columns by the names they have in the file.
    pub columns: Vec<(String, String)>,
    /// Plates to change about.
    pub swap: Option<PlateSwap>,
}

impl Layout {
    /// Whether anything was said beyond the zone.
    fn is_said(&self) -> bool {
        self.unit != Unit::Kg
            || self.delimiter.is_some()
            || self.decimal_comma
            || self.days.is_some()
            || !self.columns.is_empty()
            || self.swap.is_some()
    }
}

/// The documented form of a file with `columns`.
///
/// # Errors
/// When the input cannot be read.
pub fn documented(
    input: Input,
    columns: &[Column],
    problems: &mut Problems,
) -> io::Result<Box<dyn Read + Send>> {
    let layout = input.layout.clone();
    let mut input = unpack::text(input, problems)?;
    let (head, whole) = plan::head(&mut input)?;
    let Some(plan) = plan::LayoutPlan::of(&head, whole, &layout, columns, problems) else {
        return Ok(Box::new(io::Cursor::new(head).chain(input)));
    };
    Ok(Box::new(rewrite::Rewritten::new(io::Cursor::new(head).chain(input), plan)))
}

#[cfg(test)]
mod tests;
