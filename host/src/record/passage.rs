//! One cow's way through one lane.

use crate::record::AnimalId;
use jiff::{Timestamp, civil::Date};
use shared::analysis::PassageSummary;

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
