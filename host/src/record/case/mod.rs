//! One case: what was found on one foot at one visit, and what was done.

pub mod block;
pub mod field;
pub mod history;
pub mod lesion;
pub mod versions;
pub mod withdrawal;
pub mod zone;

use crate::record::AnimalId;
use crate::record::case::lesion::{DdStage, Lesion, Severity};
use crate::record::case::zone::Zone;
use jiff::civil::Date;
use shared::plate::Leg;

/// Which claw of a leg.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Claw {
    /// The outer (lateral) claw.
    Outer,
    /// The inner (medial) claw.
    Inner,
    /// Both claws, or the skin between them.
    Both,
}

impl Claw {
    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Outer => "outer",
            Self::Inner => "inner",
            Self::Both => "both",
        }
    }

    /// The claw of a name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        match name.to_ascii_lowercase().as_str() {
            "outer" | "lateral" | "outside" => Some(Self::Outer),
            "inner" | "medial" | "inside" => Some(Self::Inner),
            "both" | "between" => Some(Self::Both),
            _ => None,
        }
    }

    /// The claw beside it; a foot has no third one.
    #[must_use]
    pub const fn beside(self) -> Option<Self> {
        match self {
            Self::Outer => Some(Self::Inner),
            Self::Inner => Some(Self::Outer),
            Self::Both => None,
        }
    }
}

/// A block glued under the sound claw.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Block {
    /// The claw it is under.
    pub claw: Option<Claw>,
    /// Wood, rubber, ...
    pub material: Option<String>,
    /// Height when put on, mm.
    pub height_mm: Option<f64>,
    /// The day it is to be taken off, where one was set.
    pub due: Option<Date>,
    /// First day without it, where that is known.
    pub off: Option<Date>,
}

/// What was done to the foot.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Treatment {
    /// Trimmed.
    pub trim: bool,
    /// Loose horn removed.
    pub horn_removed: bool,
    /// Drained.
    pub drained: bool,
    /// Dressing put on.
    pub dressing: bool,
    /// Block put on.
    pub block: Option<Block>,
    /// Anything else, in words.
    pub other: Option<String>,
}

/// Pain relief and withdrawal as the user entered them: nothing here is computed, and no dose is kept.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Medicine {
    /// Whether pain relief was given.
    pub pain_relief: Option<bool>,
    /// Who prescribed it.
    pub prescribed_by: Option<String>,
    /// Last day of milk withdrawal.
    pub milk_withdrawal_end: Option<Date>,
    /// Last day of meat withdrawal.
    pub meat_withdrawal_end: Option<Date>,
}

/// A case.
#[derive(Clone, Debug, PartialEq)]
pub struct Case {
    /// Day of the visit.
    pub date: Date,
    /// Which cow.
    pub animal: AnimalId,
    /// Which leg; `None` = all feet looked at, nothing to tell of one.
    pub leg: Option<Leg>,
    /// Which claw.
    pub claw: Option<Claw>,
    /// What was found; `None` = no lesion.
    pub lesion: Option<Lesion>,
    /// Where on the claw.
    pub zone: Option<Zone>,
    /// Stage, if it is digital dermatitis.
    pub stage: Option<DdStage>,
    /// How bad, on our own scale.
    pub severity: Option<Severity>,
    /// What was done.
    pub treatment: Treatment,
    /// Medicine, as entered.
    pub medicine: Medicine,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Where the photo is.
    pub photo: Option<String>,
    /// Planned recheck.
    pub recheck: Option<Date>,
    /// Who did the work.
    pub who: Option<String>,
}

impl Case {
    /// Whether what was found is for the veterinarian: interdigital phlegmon, a swelling above the hoof, or severe.
    #[must_use]
    pub fn for_the_veterinarian(&self) -> bool {
        let lesion = self.lesion.as_ref().map(lesion::Lesion::as_str);
        self.severity == Some(lesion::Severity::Severe) || matches!(lesion, Some("IP" | "SW"))
    }

    /// A case of which only the cow and the day are known.
    #[must_use]
    pub fn new(animal: AnimalId, date: Date) -> Self {
        Self {
            date,
            animal,
            leg: None,
            claw: None,
            lesion: None,
            zone: None,
            stage: None,
            severity: None,
            treatment: Treatment::default(),
            medicine: Medicine::default(),
            note: None,
            photo: None,
            recheck: None,
            who: None,
        }
    }
}

/// What a look at the block told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BlockSeen {
    /// Still on.
    On,
    /// Lost by itself.
    Lost,
    /// Taken off.
    TakenOff,
}

impl BlockSeen {
    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::On => "on",
            Self::Lost => "lost",
            Self::TakenOff => "off",
        }
    }

    /// From its name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::On, Self::Lost, Self::TakenOff].into_iter().find(|seen| seen.name() == name)
    }
}

/// How the foot looks beside last time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Course {
    /// Healed.
    Healed,
    /// Improving.
    Improving,
    /// The same.
    Same,
    /// Worse.
    Worse,
}

impl Course {
    /// Every course.
    pub const ALL: [Self; 4] = [Self::Healed, Self::Improving, Self::Same, Self::Worse];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Healed => "healed",
            Self::Improving => "improving",
            Self::Same => "same",
            Self::Worse => "worse",
        }
    }

    /// From its name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|course| course.name() == name)
    }
}

/// A second look at a treated foot.
#[derive(Clone, Debug, PartialEq)]
pub struct FollowUp {
    /// Day of the look.
    pub date: Date,
    /// What the block did.
    pub block: Option<BlockSeen>,
    /// Height left of the block, mm.
    pub height_mm: Option<f64>,
    /// How the foot looks.
    pub course: Option<Course>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Who looked.
    pub who: Option<String>,
}

/// A height left of a block, mm; nothing of it may be left.
#[must_use]
pub fn height_left(text: &str) -> Option<f64> {
    text.parse().ok().filter(|height: &f64| height.is_finite() && *height >= 0.0)
}

/// A case as kept, with all that was seen of it since.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptCase {
    /// The store's number for it.
    pub id: i64,
    /// The case as it stands, corrections included.
    pub case: Case,
    /// Later looks, in the order of their days.
    pub follow_ups: Vec<FollowUp>,
    /// Why it no longer counts, if it was withdrawn; it is kept all the same.
    pub withdrawn: Option<String>,
}
