//! What is said of a lane on a day.

use serde::{Deserialize, Serialize};
use shared::plate::Plate;
use strum::VariantNames;

/// Plates that stand for one another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Swap {
    /// Left for right, in front and behind.
    LeftAndRight,
    /// The two front plates.
    FrontPlates,
    /// The two rear plates.
    RearPlates,
    /// The front plates for the rear ones.
    FrontAndRear,
}

/// The shift that all cows of a day show, taken out of every score; or a gross fault, for which none is scored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum LaneRemark {
    /// One plate reads wrong.
    PlateOff {
        /// Which.
        plate: Plate,
        /// By how much: below zero is light.
        error_pct: f64,
    },
    /// One plate would explain it, but other lanes show the same.
    PlateOrHerd {
        /// Which.
        plate: Plate,
        /// By how much: below zero is light.
        error_pct: f64,
    },
    /// More than one plate reads wrong.
    PlatesOff {
        /// Shift of the front pair, right less left, points.
        front_split_points: f64,
        /// Shift of the rear pair, right less left, points.
        rear_split_points: f64,
    },
    /// Every cow's front share has moved.
    FrontShareMoved {
        /// By how much, % of body weight.
        change_pct: f64,
    },
    /// The whole herd moves differently; no plate explains it.
    HerdMoves {
        /// Change of the time a foot stays down.
        stance_time_pct: f64,
        /// Change of the sway.
        sway_pct: f64,
    },
    /// One plate reads far off what the same cows carried there: nothing is scored until it is settled.
    PlateWrong {
        /// Which.
        plate: Plate,
        /// By how much: below zero is light.
        error_pct: f64,
    },
    /// Several plates do: nothing is scored.
    PlatesWrong {
        /// Left front, %: below zero is light.
        lf_pct: f64,
        /// Right front.
        rf_pct: f64,
        /// Left rear.
        lr_pct: f64,
        /// Right rear.
        rr_pct: f64,
    },
    /// Plates stand for one another: nothing is scored.
    PlatesSwapped {
        /// Which.
        swapped: Swap,
    },
    /// A plate reads no more than a limit: nothing is scored.
    PlateClips {
        /// Which.
        plate: Plate,
        /// The limit, kg.
        at_kg: f64,
    },
    /// The load on a plate trembles more than the cows do: nothing is scored.
    PlateNoisy {
        /// Which.
        plate: Plate,
        /// How many times as much as usual.
        times: f64,
    },
    /// Fewer passages than usual.
    FewPassages {
        /// That day.
        passages: usize,
        /// On most days.
        usual: usize,
    },
    /// Many passages cannot be used.
    Unusable {
        /// Of all.
        unusable_pct: f64,
        /// The commonest reason, by its name in the passage table.
        commonest: String,
        /// How often.
        times: usize,
    },
    /// The tag reader's clock is ahead of the lane's; the names allow for it.
    ReaderAhead {
        /// By how much, s.
        by_s: f64,
    },
    /// It is behind.
    ReaderBehind {
        /// By how much, s.
        by_s: f64,
    },
    /// The reads fit the passages at no one setting of its clock: nobody was named.
    ReaderUnsure {},
    /// Many passages have no ear tag.
    Untagged {
        /// Of all.
        untagged_pct: f64,
    },
}
