//! What is said of one cow on one day.

use crate::record::AnimalId;
use crate::record::finding::{Advice, Confidence, FlagReason};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use shared::plate::{Leg, Pair, PerLeg};

/// What the tool says of a cow today.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Flag {
    /// Nothing has been measured that could be judged.
    NoData,
    /// Measured, but not enough to say.
    CannotTell,
    /// Walks and stands as she does when sound.
    Clear,
    /// Changed a little, or lately: look again tomorrow.
    Watch,
    /// Look at her feet.
    Check,
    /// Look at her feet today.
    Urgent,
}

impl Flag {
    /// Its name in tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::NoData => "no_data",
            Self::CannotTell => "cannot_tell",
            Self::Clear => "clear",
            Self::Watch => "watch",
            Self::Check => "check",
            Self::Urgent => "urgent",
        }
    }
}

/// Where the trouble is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Place {
    /// One leg.
    One(Leg),
    /// Both front legs.
    BothFront,
    /// Both hind legs.
    BothRear,
}

impl Place {
    /// Every place, in the order used everywhere.
    pub const ALL: [Self; 6] = [
        Self::One(Leg::LF),
        Self::One(Leg::RF),
        Self::One(Leg::LR),
        Self::One(Leg::RR),
        Self::BothFront,
        Self::BothRear,
    ];

    /// Whether a leg is one of the sore ones.
    #[must_use]
    pub fn holds(self, leg: Leg) -> bool {
        match self {
            Self::One(one) => one == leg,
            Self::BothFront => leg.pair() == Pair::Front,
            Self::BothRear => leg.pair() == Pair::Rear,
        }
    }

    /// Its name in tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::One(leg) => leg.name(),
            Self::BothFront => "both front",
            Self::BothRear => "both rear",
        }
    }
}

/// One row of the table of every cow and day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CowDay {
    /// Which animal.
    pub animal: AnimalId,
    /// The local day; only what was known by its end is used.
    pub date: Date,
    /// The flag.
    pub flag: Flag,
    /// Probability that a trained observer would score her 2 or more.
    pub probability: Option<f64>,
    /// Where.
    pub place: Option<Place>,
    /// Probability that `place` is right, given that she is lame.
    pub place_probability: Option<f64>,
    /// Probability that each leg is a sore one.
    pub leg_probability: PerLeg<f64>,
    /// When it began: earliest, likeliest, latest day.
    pub since: Option<(Date, Date, Date)>,
    /// The reasons, strongest first.
    pub reasons: Vec<FlagReason>,
    /// How far the answer can be leaned on.
    pub confidence: Confidence,
    /// What would settle the answer, where something would.
    pub advice: Option<Advice>,
    /// Trusted passages used that day.
    pub passages: u32,
    /// A block is on.
    pub block_on: bool,
    /// Days since the last trim or treatment, within the unsettled time.
    pub days_since_trim: Option<u32>,
}
