//! What speaks for a cow's flag, how far it can be leaned on, and what would settle it.

use crate::record::AnimalId;
use serde::{Deserialize, Serialize};
use shared::plate::{Leg, Pair};
use strum::VariantNames;

/// Why a cow has her flag.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum FlagReason {
    /// No passage that can be trusted so far.
    NoTrustedPassage,
    /// Not seen today.
    NotSeen {
        /// Days since she was last seen.
        days: i64,
    },
    /// Passages under her tag that weigh another cow's weight.
    SetAsideByWeight {
        /// How many.
        passages: usize,
        /// What the first of them weighed.
        seen_kg: f64,
        /// What she weighs.
        usual_kg: f64,
    },
    /// Passages under her tag whose loads fit her on no leg.
    SetAsideByLoads {
        /// How many.
        passages: usize,
    },
    /// Two cows seem to wear each other's tags.
    TagsSwapped {
        /// The other cow.
        with: AnimalId,
    },
    /// A block is on: no judging of that pair.
    BlockOn {
        /// The leg, where it was named.
        leg: Option<Leg>,
        /// Days since it was put on.
        days: i64,
    },
    /// A block was due off, and nobody has said whether it is: no judging of that pair.
    BlockEndNotReported {
        /// The leg, where it was named.
        leg: Option<Leg>,
        /// Days since it was due off.
        days: i64,
    },
    /// She is lamer than a block or a trim explains.
    MoreThanTreatment {
        /// The sore leg, where it is clear.
        leg: Option<Leg>,
    },
    /// A trim or treatment a few days ago.
    FootWork {
        /// Days since.
        days: u32,
    },
    /// A leg carries less of her weight than usual, standing.
    ShareLow {
        /// The leg that carries less.
        leg: Leg,
        /// Of her weight, lately.
        now_pct: f64,
        /// Of her weight, when sound.
        usual_pct: f64,
        /// Size of the change.
        sd: f64,
    },
    /// The front legs together carry another part of her weight.
    FrontShare {
        /// Of her weight, lately.
        now_pct: f64,
        /// Of her weight, when sound.
        usual_pct: f64,
        /// Size of the change, signed.
        sd: f64,
    },
    /// A leg presses less than its neighbour when walking.
    PeakLow {
        /// The leg that presses less.
        leg: Leg,
        /// The other of the pair.
        other: Leg,
        /// Its peak against the other's, lately: below zero is less.
        now_pct: f64,
        /// The same when sound.
        usual_pct: f64,
        /// Size of the change.
        sd: f64,
    },
    /// The front legs take another part of her walking peaks.
    FrontPeaks {
        /// Lately.
        now_pct: f64,
        /// When sound.
        usual_pct: f64,
        /// Size of the change, signed.
        sd: f64,
    },
    /// A foot stays on the ground for a shorter time than its neighbour.
    TimeShort {
        /// The leg.
        leg: Leg,
        /// The other of the pair.
        other: Leg,
        /// Its time against the other's, lately: below zero is shorter.
        now_pct: f64,
        /// The same when sound.
        usual_pct: f64,
        /// Size of the change.
        sd: f64,
    },
    /// A pair's load sways from side to side more or less than usual, standing.
    Sway {
        /// The pair.
        pair: Pair,
        /// Change against usual.
        change_pct: f64,
        /// Size of the change, signed.
        sd: f64,
    },
    /// Her feet stay down for longer or shorter than usual.
    Pace {
        /// Change of the time against usual: above zero she is slower.
        change_pct: f64,
        /// Size of the change, signed.
        sd: f64,
    },
    /// She shifts her weight more often than usual.
    Shifts {
        /// Lately.
        now_per_minute: f64,
        /// When sound.
        usual_per_minute: f64,
    },
    /// She lifts a leg more often than usual.
    Lifts {
        /// Lately.
        now_per_minute: f64,
        /// When sound.
        usual_per_minute: f64,
    },
    /// A pair's smoothed left-right difference is beyond its control limit.
    Drift {
        /// The pair.
        pair: Pair,
        /// The chart's value.
        value_sd: f64,
        /// Its limit.
        limit_sd: f64,
    },
    /// No single change stands out.
    SeveralSmall,
    /// Loads as when sound.
    AsWhenSound,
}

/// How far an answer can be leaned on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum Confidence {
    /// Little is known.
    Low,
    /// Some doubt.
    Fair,
    /// Much is known.
    High,
}

impl Confidence {
    /// Its name in tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Fair => "fair",
            Self::High => "high",
        }
    }
}

/// What would settle an answer.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum Advice {
    /// A passage with a tag read.
    TaggedPassage,
    /// Read her tag by hand.
    ReadTag,
    /// Read the tags of both by hand.
    ReadTags {
        /// The other cow.
        with: AnimalId,
    },
    /// Recheck the foot; the loads can be judged once the block is off.
    RecheckFoot,
    /// Say whether the block is off.
    SayBlock,
    /// Look at her feet today, with the veterinarian.
    CallVet,
    /// Look again a week or two after the foot work.
    WaitAfterFootWork,
    /// More passages, or a mobility score by eye.
    MorePassages {
        /// How many.
        passages: u32,
    },
    /// Lift both feet of the pair.
    LiftPair,
    /// Lift the foot.
    LiftFoot,
    /// The next two days, or a mobility score by eye.
    NextDays,
}

/// What happened to a cow on a day, beside her passages.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum DayEvent {
    /// She calved.
    Calved,
    /// A foot was trimmed or treated.
    FootWork {
        /// The leg, where it was named.
        leg: Option<Leg>,
        /// A lesion was found.
        lesion: bool,
        /// A block was put on.
        block: bool,
    },
    /// A block is on.
    BlockOn,
    /// A block came off.
    BlockOff,
    /// Somebody scored her mobility.
    Scored {
        /// 0 to 3.
        score: u8,
    },
    /// Another program told of lameness.
    Told,
}
