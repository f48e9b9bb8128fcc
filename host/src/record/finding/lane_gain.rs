//! What would let a lane see smaller changes.

use serde::{Deserialize, Serialize};
use strum::VariantNames;

/// What would let a lane see smaller changes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, VariantNames)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum LaneGain {
    /// Too few cows came again to tell how well the lane repeats itself.
    TooFewToTell {
        /// Usable passages of known cows.
        passages: usize,
    },
    /// Many passages cannot be used.
    MoreUsable {
        /// Of all.
        unusable_pct: f64,
        /// The commonest reason, by its name in the passage table.
        commonest: String,
        /// How often.
        times: usize,
    },
    /// Many passages have no name.
    MoreNamed {
        /// Of all.
        unidentified_pct: f64,
    },
    /// She seldom stands with a foot on each plate.
    MoreStanding {
        /// Passages with a stance, of the usable ones.
        standing_pct: f64,
    },
    /// She stands too short a time for the sway to average out.
    LongerStanding {
        /// Median time stood.
        seconds: f64,
        /// Of the variance within a day, what the sway within a stance explains.
        from_sway_pct: f64,
    },
    /// Most cows come once a day.
    MoreOften {},
    /// The spread is that of the cows: the lane measures as well as they repeat themselves.
    NothingToGain {},
}
