//! Findings: closed lists of codes with their numbers. Words for them are made in `report::words` alone.
//!
//! Names of fields carry their units; a field never changes its meaning. Loads and shares are in % of what the name
//! says, `sd` is the size of a change in standard deviations of what is usual for her.

mod case;
pub mod check;
mod coded;
mod day;
mod lane;
mod lane_fault;
mod lane_gain;
mod objection;

pub use case::{CourseReason, GroupFinding, Load, LookFor, RecheckReason, Verdict};
pub use coded::{Coded, Finding, cell, code, coded, codes, one_code};
pub use day::{Advice, Confidence, DayEvent, FlagReason};
pub use lane::{LaneRemark, Swap};
pub use lane_fault::{LaneFault, RestartCause, Since};
pub use lane_gain::LaneGain;
pub use objection::Objection;
