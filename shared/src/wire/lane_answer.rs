//! The table of cows on its way to a device, and what the device says of a cow by it.

use crate::{
    identity::AnimalCode, lane_score::LaneFlag, limits::MAX_TRACE_DATA_BYTES, plate::Leg, units::Milliseconds,
};
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// Rows of a table, one after the other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TableRows {
    /// The table.
    pub table: u32,
    /// Place of the first of them.
    pub first: u16,
    /// Whole rows: see [`crate::lane_score::CowRow`].
    pub rows: Vec<u8, MAX_TRACE_DATA_BYTES>,
}

/// What the device says of a cow as she leaves. The day's list stays the authority.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LaneAnswer {
    /// This boot.
    pub boot: u32,
    /// Number of the passage.
    pub passage: u32,
    /// When it began, on the device's clock.
    pub start: Milliseconds,
    /// Her tag.
    pub code: AnimalCode,
    /// The table that she was held against.
    pub table: u32,
    /// Her flag by this passage.
    pub flag: LaneFlag,
    /// Probability that a person would score her 2 or more.
    pub probability: f32,
    /// The leg that is likeliest sore, where one is and she is not clear.
    pub leg: Option<Leg>,
}
