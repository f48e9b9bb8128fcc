//! One lane's own error on one day.

use crate::record::finding::LaneRemark;
use jiff::civil::Date;
use shared::plate::Plate;

/// What the common shift of a day comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LaneCause {
    /// Nothing to speak of.
    Steady,
    /// A plate.
    Plate,
    /// The whole herd changed; no plate explains it.
    Herd,
    /// Either.
    CannotTell,
}

impl LaneCause {
    /// Its name in tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Steady => "steady",
            Self::Plate => "plate",
            Self::Herd => "herd",
            Self::CannotTell => "cannot_tell",
        }
    }
}

/// One lane's day: the shift common to all cows, against the lane's first days. It has been taken out of every score.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct LaneDay {
    /// The lane.
    pub lane: String,
    /// The local day; only what was known by its end is used.
    pub date: Date,
    /// Cows it rests on.
    pub cows: u32,
    /// What explains it.
    pub cause: LaneCause,
    /// The plate that explains it, where one does.
    pub plate: Option<Plate>,
    /// What that plate reads, against its first days, %: negative is light.
    pub plate_error_pct: Option<f64>,
    /// Common shift of the front split, points.
    pub front_split_points: f64,
    /// Common shift of the rear split, points.
    pub rear_split_points: f64,
    /// Common shift of the front share, % of body weight.
    pub front_share_pct: f64,
    /// Common shift of the body weight, %; `None` where not weighed.
    pub body_weight_pct: Option<f64>,
    /// By how much the feet stay down longer than usual, %.
    pub stance_time_pct: f64,
    /// By how much more than usual the cows sway on their hind legs, %.
    pub sway_pct: f64,
    /// What is said of it; nothing on a steady day.
    pub remark: Option<LaneRemark>,
}

/// A plate's name in tables.
#[must_use]
pub const fn plate_name(plate: Plate) -> &'static str {
    match plate {
        Plate::LF => "LF",
        Plate::RF => "RF",
        Plate::LR => "LR",
        Plate::RR => "RR",
    }
}
