//! Whom the gate behind the plates is to hold back, why, and what came of it.

use crate::record::AnimalId;
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use shared::wire::GateOutcome;

/// Why a cow is to be held back, the most pressing first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum HoldReason {
    /// Somebody said so.
    Hand,
    /// Her flag is urgent.
    Urgent,
    /// A dressing is due to come off.
    Dressing,
    /// A foot is due to be looked at again.
    Recheck,
    /// She is booked for the trimmer.
    Booked,
}

impl HoldReason {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Hand, Self::Urgent, Self::Dressing, Self::Recheck, Self::Booked];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Hand => "hand",
            Self::Urgent => "urgent",
            Self::Dressing => "dressing",
            Self::Recheck => "recheck",
            Self::Booked => "booked",
        }
    }

    /// Those named in a list parted by commas; the name that is none.
    ///
    /// # Errors
    /// The first word that is no reason.
    pub fn of_list(text: &str) -> Result<Vec<Self>, &str> {
        let words = text.split(',').map(str::trim).filter(|word| !word.is_empty());
        words.map(|word| Self::ALL.into_iter().find(|one| one.name() == word).ok_or(word)).collect()
    }
}

/// A cow whom somebody wants held back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Hold {
    /// Which cow.
    pub animal: AnimalId,
    /// The last day on which she is wanted.
    pub until: Date,
    /// What for; may be empty.
    pub why: String,
    /// Who said so; may be empty.
    pub who: String,
}

/// What came of a listed cow at a gate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GateRecord {
    /// The lane.
    pub lane: String,
    /// When her tag was read.
    pub time: Timestamp,
    /// Which cow: the wearer of the tag that was read.
    pub animal: AnimalId,
    /// What came of it.
    pub outcome: GateOutcome,
}

/// The outcomes with their names, in the order of the format.
pub const OUTCOMES: [(GateOutcome, &str); 15] = [
    (GateOutcome::Held, "held"),
    (GateOutcome::HeldBefore, "held_before"),
    (GateOutcome::Enough, "enough"),
    (GateOutcome::NotConfirmed, "not_confirmed"),
    (GateOutcome::Over, "over"),
    (GateOutcome::HostSilent, "host_silent"),
    (GateOutcome::ClockUnsure, "clock_unsure"),
    (GateOutcome::ReaderSilent, "reader_silent"),
    (GateOutcome::NameUnsure, "name_unsure"),
    (GateOutcome::TwoOnDeck, "two_on_deck"),
    (GateOutcome::FirstPlates, "first_plates"),
    (GateOutcome::PlatesUnsure, "plates_unsure"),
    (GateOutcome::Busy, "busy"),
    (GateOutcome::Stopped, "stopped"),
    (GateOutcome::NotKept, "not_kept"),
];

/// The name of an outcome.
#[must_use]
pub fn outcome_name(outcome: GateOutcome) -> &'static str {
    OUTCOMES.iter().find(|known| known.0 == outcome).map_or("", |known| known.1)
}

/// The outcome of a name.
#[must_use]
pub fn outcome_of(name: &str) -> Option<GateOutcome> {
    OUTCOMES.iter().find(|known| known.1 == name).map(|known| known.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_are_read_from_a_list() {
        assert_eq!(HoldReason::of_list("urgent, hand,"), Ok(vec![HoldReason::Urgent, HoldReason::Hand]));
        assert_eq!(HoldReason::of_list(""), Ok(Vec::new()));
        assert_eq!(HoldReason::of_list("urgent,limping"), Err("limping"));
        assert!(HoldReason::ALL.is_sorted(), "the most pressing first");
    }

    #[test]
    fn every_outcome_has_a_name_of_its_own() {
        for (outcome, name) in OUTCOMES {
            assert_eq!((outcome_name(outcome), outcome_of(name)), (name, Some(outcome)));
        }
        assert_eq!(outcome_of("moved"), None);
    }
}
