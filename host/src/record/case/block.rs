//! Whether a block is on, and how it wears.

use crate::record::case::{BlockSeen, KeptCase};
use jiff::{ToSpan, civil::Date};

/// Days a block is taken to be on where nobody entered when it came off. Middle of days 25-31, when the blocks of
/// a trial were taken off (Thomas 2015, as told by dairyhoofhealth.info).
pub const DEFAULT_BLOCK_DAYS: i32 = 28;

/// First day known to be without the block: entered so, or seen lost or taken off at a follow-up.
#[must_use]
pub fn known_off(kept: &KeptCase) -> Option<Date> {
    let block = kept.case.treatment.block.as_ref()?;
    let seen =
        kept.follow_ups.iter().filter(|f| matches!(f.block, Some(BlockSeen::Lost | BlockSeen::TakenOff)));
    block.off.into_iter().chain(seen.map(|f| f.date)).min()
}

/// First day without the block, known or assumed: never before the last day it was seen on.
#[must_use]
pub fn off(kept: &KeptCase) -> Option<Date> {
    let block = kept.case.treatment.block.as_ref()?;
    known_off(kept).or_else(|| {
        let usual = kept.case.date.saturating_add(DEFAULT_BLOCK_DAYS.days());
        let last_seen =
            kept.follow_ups.iter().filter(|f| f.block == Some(BlockSeen::On)).map(|f| f.date).max();
        let after_seen = last_seen.map(|day| day.saturating_add(1.day()));
        block.due.or(Some(usual)).max(after_seen)
    })
}

/// Whether a block of this case is on that day.
#[must_use]
pub fn on(kept: &KeptCase, day: Date) -> bool {
    kept.withdrawn.is_none()
        && kept.case.treatment.block.is_some()
        && day >= kept.case.date
        && off(kept).is_none_or(|off| day < off)
}

/// Height last seen, mm.
#[must_use]
pub fn last_height_mm(kept: &KeptCase) -> Option<f64> {
    let seen = kept.follow_ups.iter().rev().find_map(|f| f.height_mm);
    seen.or_else(|| kept.case.treatment.block.as_ref().and_then(|b| b.height_mm))
}
