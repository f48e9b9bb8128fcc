//! Whether a passage can be trusted, and why not.

use serde::{Deserialize, Serialize};

/// Something that was seen and limits what a passage can say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Reason {
    /// More load, or more feet, than one cow has.
    TwoAnimals = 0,
    /// A foot stood on two plates at once.
    FootAcross = 1,
    /// She never stood with one foot on each plate.
    NoStance = 2,
    /// Too short to measure anything.
    TooShort = 3,
    /// She went out the way she came.
    BackedOut = 4,
    /// A converter reached its end stop.
    Saturated = 5,
    /// Readings are missing.
    LostReadings = 6,
    /// The deck was ringing.
    Ringing = 7,
    /// Too light for a cow: a calf, a person, a hose.
    TooLight = 8,
    /// A plate did not move while the others did.
    StuckPlate = 9,
    /// The readings began or ended in the middle of her.
    CutOff = 10,
    /// The empty deck was not seen, so the zero is unsure.
    ZeroUnsure = 11,
    /// Feet could not be told apart.
    FeetUnsure = 12,
    /// A value is none that a cow can give: no number, or far out of range. Said by the host, never by a device.
    Implausible = 13,
}

/// The reasons of one passage, as a set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Quality(pub u16);

impl Reason {
    /// Every reason, in the order of its bit.
    pub const ALL: [Self; 14] = [
        Self::TwoAnimals,
        Self::FootAcross,
        Self::NoStance,
        Self::TooShort,
        Self::BackedOut,
        Self::Saturated,
        Self::LostReadings,
        Self::Ringing,
        Self::TooLight,
        Self::StuckPlate,
        Self::CutOff,
        Self::ZeroUnsure,
        Self::FeetUnsure,
        Self::Implausible,
    ];

    /// Its name in tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::TwoAnimals => "two_animals",
            Self::FootAcross => "foot_across",
            Self::NoStance => "no_stance",
            Self::TooShort => "too_short",
            Self::BackedOut => "backed_out",
            Self::Saturated => "saturated",
            Self::LostReadings => "lost_readings",
            Self::Ringing => "ringing",
            Self::TooLight => "too_light",
            Self::StuckPlate => "stuck_plate",
            Self::CutOff => "cut_off",
            Self::ZeroUnsure => "zero_unsure",
            Self::FeetUnsure => "feet_unsure",
            Self::Implausible => "implausible",
        }
    }

    /// Whether a passage with this reason is kept but never scored.
    #[must_use]
    pub const fn spoils(self) -> bool {
        !matches!(self, Self::NoStance | Self::LostReadings | Self::Ringing | Self::ZeroUnsure)
    }
}

impl Quality {
    /// Adds a reason.
    pub const fn add(&mut self, reason: Reason) {
        self.0 |= 1 << reason as u8;
    }

    /// Whether a reason is in the set.
    #[must_use]
    pub const fn has(self, reason: Reason) -> bool {
        self.0 & (1 << reason as u8) != 0
    }

    /// The reasons in the set.
    pub fn reasons(self) -> impl Iterator<Item = Reason> {
        Reason::ALL.into_iter().filter(move |reason| self.has(*reason))
    }

    /// Whether the passage may be scored: no known reason spoils it, and there is none that is not known here.
    #[must_use]
    pub fn trusted(self) -> bool {
        self.0 >> Reason::ALL.len() == 0 && !self.reasons().any(Reason::spoils)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_names_are_those_of_the_table() {
        let names = [
            "two_animals",
            "foot_across",
            "no_stance",
            "too_short",
            "backed_out",
            "saturated",
            "lost_readings",
            "ringing",
            "too_light",
            "stuck_plate",
            "cut_off",
            "zero_unsure",
            "feet_unsure",
            "implausible",
        ];
        assert_eq!(Reason::ALL.map(Reason::name), names);
    }
}
