//! What is said of a case: its course, why a recheck is due, and what a group of cases shows.

use crate::arithmetic::statistics::Estimated;
use crate::record::case::Claw;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use shared::plate::Leg;
use strum::VariantNames;

/// A leg's load against its usual load, with its 95 % interval: below zero is less.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Load {
    /// The estimate.
    pub pct: f64,
    /// Lower end.
    pub low_pct: f64,
    /// Upper end.
    pub high_pct: f64,
}

impl From<Estimated> for Load {
    fn from(of: Estimated) -> Self {
        Self { pct: of.value, low_pct: of.low, high_pct: of.high }
    }
}

/// How a case is going.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum Verdict {
    /// As most such cases do, or better.
    AsExpected,
    /// Getting better, but slower than nine in ten such cases; or not at all.
    SlowerThanExpected,
    /// Carries less than before the treatment.
    Worse,
    /// Another leg is the sore one now.
    AnotherLegNow,
    /// A sudden step back while the block should be on.
    BlockProbablyLost,
    /// Not enough to say.
    CannotTellYet,
}

/// Why a verdict is as it is. Loads are the legs' own, against usual.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum CourseReason {
    /// The first days after the work are not judged.
    TooEarly {
        /// That many days.
        days: i32,
    },
    /// Too few settled passages.
    FewPassages {
        /// As many are needed.
        passages: usize,
    },
    /// No leg was named, none was clearly low before, and none is now.
    NoLegLow,
    /// Another leg carries less than the treated one.
    OtherLegLower {
        /// The other leg.
        leg: Leg,
        /// Its load now.
        now: Load,
        /// The treated leg.
        treated: Leg,
        /// The treated leg's load now.
        treated_now: Load,
    },
    /// A sudden step in the load while the block should be on.
    SuddenStep {
        /// The treated leg.
        leg: Leg,
        /// First day after the step.
        since: Date,
    },
    /// The block was due off, and nobody has said whether it is.
    BlockEndNotReported {
        /// The treated leg.
        leg: Leg,
        /// The day it was due.
        due: Date,
    },
    /// The leg carries less than before the work.
    LessThanBefore {
        /// The treated leg.
        leg: Leg,
        /// Now.
        now: Load,
        /// Before the work.
        before: Load,
    },
    /// What the leg carries now.
    Carries {
        /// The treated leg.
        leg: Leg,
        /// Now.
        now: Load,
    },
    /// The same, but another leg may be sore.
    CarriesOtherLow {
        /// The treated leg.
        leg: Leg,
        /// Now.
        now: Load,
        /// The other leg.
        other: Leg,
    },
    /// The same, but she shifts her weight more than when sound: both feet may be sore.
    CarriesRestless {
        /// The treated leg.
        leg: Leg,
        /// Now.
        now: Load,
    },
    /// The same, but a block is on and its own part is not known.
    CarriesBlocked {
        /// The treated leg.
        leg: Leg,
        /// Now.
        now: Load,
    },
}

/// Why a foot is to be looked at on that day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum RecheckReason {
    /// The day was entered.
    Planned,
    /// The usual time after a treatment.
    UsualTime {
        /// Days after the work.
        days: i32,
    },
    /// The block has been on for the usual time.
    BlockTime {
        /// Days after it was put on.
        days: i32,
    },
    /// A dressing comes off after the usual time.
    DressingTime {
        /// Days after it was put on.
        days: i32,
    },
    /// A block is looked at early.
    EarlyBlockLook {
        /// First day after it was put on.
        from: i32,
        /// Last day.
        to: i32,
    },
    /// The last look saw the foot worse.
    SeenWorse {
        /// The day.
        date: Date,
    },
    /// The last look saw the foot unchanged.
    SeenSame {
        /// The day.
        date: Date,
    },
    /// The block wears through, as seen at looks so far.
    BlockWear {
        /// Earliest day.
        earliest: Date,
        /// Latest day.
        latest: Date,
    },
    /// The course of the case asks for it.
    Course {
        /// The verdict.
        verdict: Verdict,
        /// Why.
        reason: CourseReason,
    },
}

impl RecheckReason {
    /// Whether the last look, or an early one, is the reason.
    #[must_use]
    pub const fn by_a_look(&self) -> bool {
        matches!(self, Self::SeenWorse { .. } | Self::SeenSame { .. } | Self::EarlyBlockLook { .. })
    }
}

/// One thing to do or to look for at a foot.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum LookFor {
    /// The lesion found last time.
    Lesion {
        /// Its atlas code, or the trimmer's own words.
        lesion: String,
        /// The claw.
        claw: Option<Claw>,
        /// The zone.
        zone: Option<u8>,
    },
    /// Whether the block is on, and its height.
    BlockHeight,
    /// Take the block off.
    BlockOff,
    /// Is the block still on? Its end has not been reported.
    BlockStillOn,
    /// The block is worn through: take it off.
    BlockWorn,
    /// Take the dressing off.
    DressingOff,
    /// Look at the other foot of the pair too.
    OtherFoot,
    /// What was found is for the veterinarian.
    Veterinarian,
}

/// What a group of cases shows; changes are of the treated leg's load, % of usual.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum GroupFinding {
    /// Too few cows to say anything.
    FewCows {
        /// As many are needed.
        cows: usize,
    },
    /// More after than before.
    More {
        /// Mean change.
        change: Load,
    },
    /// Less after than before.
    Less {
        /// Mean change.
        change: Load,
    },
    /// Nothing that could be told from no change.
    NoChange,
}
