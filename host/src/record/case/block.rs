//! Whether a block is on, and how it wears.

use crate::record::case::{BlockSeen, KeptCase};
use jiff::{ToSpan, civil::Date};

/// Days after which a block is due to come off where nobody planned it. Middle of days 25-31, when the blocks of a trial
/// were taken off (Thomas 2015, as told by dairyhoofhealth.info).
pub const DEFAULT_BLOCK_DAYS: i32 = 28;
/// Days after which a block that nobody reported off is taken to be gone. Our choice: ten weeks; about half of its height
/// is worn in five (common practice).
pub const LONGEST_BLOCK_DAYS: i32 = 70;

/// First day known to be without the block: entered so, or seen lost or taken off at a follow-up.
#[must_use]
pub fn known_off(kept: &KeptCase) -> Option<Date> {
    let block = kept.case.treatment.block.as_ref()?;
    let seen =
        kept.follow_ups.iter().filter(|f| matches!(f.block, Some(BlockSeen::Lost | BlockSeen::TakenOff)));
    block.off.into_iter().chain(seen.map(|f| f.date)).min()
}

/// The day a block whose end nobody has entered is due to come off: never before the last day it was seen on.
#[must_use]
pub fn due(kept: &KeptCase) -> Option<Date> {
    let block = kept.case.treatment.block.as_ref()?;
    let usual = kept.case.date.saturating_add(DEFAULT_BLOCK_DAYS.days());
    let after_seen = last_seen_on(kept).map(|day| day.saturating_add(1.day()));
    if known_off(kept).is_some() { None } else { block.due.or(Some(usual)).max(after_seen) }
}

/// First day surely without the block: known to be off, or on for as long as none lasts. From the day it is due until
/// then its end is not reported, and nobody can say whether it is on.
#[must_use]
pub fn off(kept: &KeptCase) -> Option<Date> {
    kept.case.treatment.block.as_ref()?;
    known_off(kept).or_else(|| {
        let since = last_seen_on(kept).unwrap_or(kept.case.date).max(kept.case.date);
        due(kept).max(Some(since.saturating_add(LONGEST_BLOCK_DAYS.days())))
    })
}

fn last_seen_on(kept: &KeptCase) -> Option<Date> {
    kept.follow_ups.iter().filter(|look| look.block == Some(BlockSeen::On)).map(|look| look.date).max()
}

/// Whether a block of this case may be on that day.
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
