//! The things the host knows: animals, their passages, what people saw and did.

use jiff::{Timestamp, civil::Date};
use serde::{Deserialize, Serialize};
use shared::analysis::PassageSummary;
use shared::plate::{Leg, Pair, PerLeg};
use std::fmt;

/// An animal: 15 digits after ISO 11784, or the farm's own number.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct AnimalId(pub String);

impl fmt::Display for AnimalId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// One cow's crossing of one lane, as stored.
#[derive(Clone, Debug)]
pub struct Passage {
    /// The store's own number.
    pub id: i64,
    /// The lane it was measured in.
    pub lane: String,
    /// First foot on, UTC.
    pub time: Timestamp,
    /// The local day of `time` in the farm's time zone.
    pub date: Date,
    /// Who it was, where a tag says so.
    pub animal: Option<AnimalId>,
    /// What the lane measured.
    pub summary: PassageSummary,
}

/// A line of the herd register.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HerdEntry {
    /// Which animal.
    pub animal: AnimalId,
    /// Lactation number.
    pub parity: Option<u8>,
    /// Last calving known.
    pub calving_date: Option<Date>,
}

/// A mobility score given by a trained person, 0 to 3.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MobilityScore {
    /// Day of the observation.
    pub date: Date,
    /// Which animal.
    pub animal: AnimalId,
    /// 0 to 3.
    pub score: u8,
}

/// What the score needs to know of one trim or treatment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FootWork {
    /// Day of the work.
    pub date: Date,
    /// Which animal.
    pub animal: AnimalId,
    /// The leg, where one was named.
    pub leg: Option<Leg>,
    /// Whether a lesion was found.
    pub lesion: bool,
    /// First day without the block, if one was put on and is known to be off; `None` with `block` = still on.
    pub block_off: Option<Date>,
    /// Whether a block was put on.
    pub block: bool,
    /// When this version of the record was the one known.
    pub known: Known,
}

/// The days on which one version of a record was the one known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Known {
    /// The first of them.
    pub from: Date,
    /// The first day on which another version was; `None` for the latest version.
    pub until: Option<Date>,
}

impl Known {
    /// A record with one version.
    pub const ALWAYS: Self = Self { from: Date::MIN, until: None };

    /// Whether this version was the one known at the end of that day.
    #[must_use]
    pub fn on(self, day: Date) -> bool {
        self.from <= day && self.until.is_none_or(|until| day < until)
    }
}

/// What was known of the foot work by the end of `day`: versions that came later are left out.
pub fn known_by(work: &mut Vec<FootWork>, day: Date) {
    work.retain(|work| work.date <= day && work.known.from <= day);
    for work in work {
        work.known.until = work.known.until.filter(|until| *until <= day);
    }
}

/// Takes what became known after `day` as known on that day already: for a list of the last day, read later.
pub fn known_at_last(work: &mut Vec<FootWork>, day: Date) {
    for work in work.iter_mut() {
        work.known.from = work.known.from.min(day);
        work.known.until = work.known.until.map(|until| until.min(day));
    }
    work.retain(|work| work.date <= day && work.known.until.is_none_or(|until| work.known.from < until));
}

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

/// `high`, `fair` or `low`.
pub type Confidence = &'static str;

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
    /// The strongest reasons in words with numbers, strongest first.
    pub reasons: Vec<String>,
    /// How far the answer can be leaned on: `high`, `fair`, `low`.
    #[serde(deserialize_with = "confidence")]
    pub confidence: Confidence,
    /// What would change or settle the answer, in words.
    pub would_settle: String,
    /// Trusted passages used that day.
    pub passages: u32,
    /// A block is on.
    pub block_on: bool,
    /// Days since the last trim or treatment, within the unsettled time.
    pub days_since_trim: Option<u32>,
}

fn confidence<'de, D: serde::Deserializer<'de>>(from: D) -> Result<Confidence, D::Error> {
    let word = <std::borrow::Cow<'de, str>>::deserialize(from)?;
    ["high", "fair", "low"]
        .into_iter()
        .find(|known| *known == word)
        .ok_or_else(|| serde::de::Error::custom("no confidence"))
}
