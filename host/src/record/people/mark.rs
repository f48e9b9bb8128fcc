//! Marks: what people say of a cow in a word.

use crate::record::AnimalId;
use jiff::civil::Date;
use serde::Serialize;

/// What was said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Looked at, and nothing found.
    Looked,
    /// Booked for the trimmer.
    Booked,
    /// In milk, or back.
    Milking,
    /// Dried off.
    Dry,
    /// Sold.
    Sold,
    /// Died.
    Died,
    /// Lent, or at another place.
    Lent,
    /// Another program told of lameness.
    Told,
}

impl Mark {
    /// Every mark.
    pub const ALL: [Self; 8] = [
        Self::Looked,
        Self::Booked,
        Self::Milking,
        Self::Dry,
        Self::Sold,
        Self::Died,
        Self::Lent,
        Self::Told,
    ];

    /// Its name in tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Looked => "looked",
            Self::Booked => "booked",
            Self::Milking => "milking",
            Self::Dry => "dry",
            Self::Sold => "sold",
            Self::Died => "died",
            Self::Lent => "lent",
            Self::Told => "told",
        }
    }

    /// By its name; `back` is `milking`.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let name = if name == "back" { "milking" } else { name };
        Self::ALL.into_iter().find(|mark| mark.name() == name)
    }

    /// Whether it says where she is, and not what was done.
    #[must_use]
    pub const fn is_state(self) -> bool {
        !matches!(self, Self::Looked | Self::Booked | Self::Told)
    }
}

/// A mark on a cow.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Marked {
    /// The day it was said of.
    pub date: Date,
    /// Which animal.
    pub animal: AnimalId,
    /// What was said.
    pub mark: Mark,
    /// By whom; may be empty.
    pub who: String,
}

/// Where she is on a day, by her marks up to then in order of their days, and the last day she was seen: one who comes
/// through the lane later than she was said to be gone is there.
#[must_use]
pub fn state(marks: &[Marked], last_seen: Option<Date>, on: Date) -> Mark {
    let said = marks.iter().rev().find(|marked| marked.mark.is_state() && marked.date <= on);
    match said {
        Some(said) if last_seen.is_none_or(|seen| seen <= said.date) => said.mark,
        _ => Mark::Milking,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn the_last_state_holds_until_she_is_seen_again() {
        let marked = |day, mark| Marked {
            date: date(2026, 3, day),
            animal: AnimalId("98".into()),
            mark,
            who: String::new(),
        };
        let marks = [marked(2, Mark::Dry), marked(5, Mark::Looked), marked(20, Mark::Milking)];
        let on =
            |day, seen: Option<i8>| state(&marks, seen.map(|day| date(2026, 3, day)), date(2026, 3, day));
        assert_eq!(on(1, None), Mark::Milking, "nothing said yet");
        assert_eq!(on(2, Some(2)), Mark::Dry, "dried off after the milking of that day");
        assert_eq!(on(6, Some(2)), Mark::Dry, "a look is no state");
        assert_eq!(on(6, Some(3)), Mark::Milking, "seen after it");
        assert_eq!(on(20, Some(2)), Mark::Milking);
        assert_eq!(state(&[], None, date(2026, 3, 1)), Mark::Milking);
    }

    #[test]
    fn every_mark_has_a_name_of_its_own() {
        for mark in Mark::ALL {
            assert_eq!(Mark::from_name(mark.name()), Some(mark));
        }
        assert_eq!(Mark::from_name("back"), Some(Mark::Milking));
        assert_eq!(Mark::from_name("gone"), None);
    }
}
