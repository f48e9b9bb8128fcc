//! Who was on the plates: ear tag reads matched to passages.
//!
//! Cows cross in the order in which they are read, so reads and passages of a lane are aligned like two lists: each
//! tag names at most one passage of a visit, in order, and a match further apart than [`REACH_S`] is none. The
//! result depends on times and on what the cows showed before, not on which file of a milking came first. A reader's
//! clock that is off is corrected first, [`PERIOD_MS`] by period; where that cannot be done surely, nobody is named, nor
//! where the weight on the plates cannot be hers.

mod pattern;
mod reader_clock;

use crate::store::{Assignment, Candidate, ReaderOffset, Store, StoreError, TagRead};
use pattern::TagPatterns;
use reader_clock::LEAD_S;
pub use reader_clock::ReaderClock;
use shared::identity::{REACH_MS, UNSURE_MS};

/// A tag is in reach of a passage up to this long before the first foot, s.
pub const REACH_S: f64 = REACH_MS as f64 / 1000.0;
/// Price of leaving a tag or a passage without a match, s: two of them are the reach.
const SKIP_S: f64 = REACH_S / 2.0;
/// Reads of one tag closer together than this are one visit, s. Our choice.
const SAME_VISIT_S: f64 = 10.0;
/// Price of a second after the first foot, against one before it. Our choice: the cow on the plates stays in reach
/// of the reader, the one behind her comes into it.
const AFTER_PRICE: f64 = 0.5;
/// A second tag that fits this nearly as well, s, leaves the passage without a name.
const UNSURE_S: f64 = UNSURE_MS as f64 / 1000.0;
/// A reader's clock is taken to keep one offset and drift so long, ms, from midnight UTC on. Our choice: a milking.
const PERIOD_MS: i64 = 6 * 3600 * 1000;
/// Read with a period on both sides, ms, so that a milking across its end has one clock.
const MARGIN_MS: i64 = 2 * 3600 * 1000;

/// One tag in reach of the lane for a while.
#[derive(Clone, Debug)]
struct TagVisit<'a> {
    animal: &'a str,
    times: Vec<i64>,
}

impl TagVisit<'_> {
    fn first(&self) -> i64 {
        self.times[0]
    }

    fn last(&self) -> i64 {
        self.times[self.times.len() - 1]
    }

    /// The read nearest to a passage: its price, s, and its time before the first foot, s. Where the clock was fitted,
    /// the price is the distance from the usual lead.
    fn nearest(&self, passage: &Candidate, fitted: bool) -> Option<(f64, f64)> {
        let reach = seconds(REACH_S);
        if self.last() < passage.start_ms - reach || self.first() > passage.end_ms + reach {
            return None;
        }
        let priced = self.times.iter().map(|&time| {
            let before = ms_between(time, passage.start_ms);
            let beyond = ms_between(passage.end_ms, time).max(0.0);
            let price = if fitted {
                (before - LEAD_S).abs()
            } else if before >= 0.0 {
                before
            } else {
                AFTER_PRICE * -before + beyond
            };
            (price, before)
        });
        priced.min_by(|a, b| a.0.total_cmp(&b.0)).filter(|(price, _)| *price <= REACH_S)
    }
}

#[allow(clippy::cast_possible_truncation, reason = "a few seconds")]
fn seconds(value: f64) -> i64 {
    (value * 1000.0) as i64
}

#[allow(clippy::cast_precision_loss, reason = "differences of times are small")]
fn ms_between(from: i64, to: i64) -> f64 {
    (to - from) as f64 / 1000.0
}

/// Names passages by reads, each taken back to the lane's clock.
fn name_by(
    clock: ReaderClock,
    usual: &TagPatterns,
    passages: &[Candidate],
    reads: &[TagRead],
) -> Vec<Assignment> {
    if clock == ReaderClock::Unsure {
        let nobody = |passage: &Candidate| Assignment {
            passage: passage.id,
            animal: None,
            evidence: "the tag reader's clock does not fit".to_owned(),
        };
        return passages.iter().map(nobody).collect();
    }
    let moved = |read: &TagRead| {
        let time = clock.to_lane(read.time.as_millisecond());
        Some(TagRead { time: jiff::Timestamp::from_millisecond(time).ok()?, animal: read.animal.clone() })
    };
    let reads: Vec<TagRead> = reads.iter().filter_map(moved).collect();
    let visits = visits(&reads);
    let aligned = groups(passages, &visits);
    let fitted = matches!(clock, ReaderClock::Fitted { .. });
    let named = |group: PassageGroup| align(&passages[group.passages], &visits[group.visits], fitted);
    let mut named: Vec<Assignment> = aligned.into_iter().flat_map(named).collect();
    let weighed: Vec<_> = named
        .iter()
        .zip(passages)
        .map(|(one, passage)| (one.animal.as_ref().map(|animal| animal.0.as_str()), passage.pattern))
        .collect();
    for place in usual.not_hers(&weighed) {
        named[place].animal = None;
        named[place].evidence = "the weight is not that of the tag's cow".to_owned();
    }
    named
}

/// Matches everything of a lane in the periods from `from_ms` to `to_ms`; says how many passages changed.
///
/// # Errors
/// When the store fails.
pub fn rematch(store: &Store, lane: &str, from_ms: i64, to_ms: i64) -> Result<u64, StoreError> {
    // A read that is minutes off may belong to the period before or after.
    let reach = seconds(reader_clock::RANGE_S + REACH_S);
    let period = |time: i64| time.div_euclid(PERIOD_MS) * PERIOD_MS;
    let first = period(from_ms.saturating_sub(reach));
    let end = period(to_ms.saturating_add(reach)).saturating_add(PERIOD_MS);
    let mut changed = 0;
    for begin in store.open_periods(lane, first, end, PERIOD_MS)? {
        changed += rematch_period(store, lane, begin)?;
    }
    Ok(changed)
}

/// Matches the passages of one period.
fn rematch_period(store: &Store, lane: &str, begin: i64) -> Result<u64, StoreError> {
    let (from, to) = (begin - MARGIN_MS, begin + PERIOD_MS + MARGIN_MS);
    let passages = store.unnamed_passages(lane, from, to)?;
    let reads = store.tag_reads(lane, from, to)?;
    let usual = TagPatterns::of(store, &visits(&reads), from)?;
    let clock = reader_clock::estimate(&passages, &visits(&reads), &usual);
    if let Some(seconds) = clock.off() {
        store.put_reader_offset(lane, begin, ReaderOffset { seconds })?;
    }
    let own: std::collections::HashSet<i64> = passages
        .iter()
        .filter(|passage| (begin..begin + PERIOD_MS).contains(&passage.start_ms))
        .map(|passage| passage.id)
        .collect();
    let mut changed = 0;
    for assignment in name_by(clock, &usual, &passages, &reads) {
        if own.contains(&assignment.passage) {
            changed += u64::from(store.assign(&assignment)?);
        }
    }
    Ok(changed)
}

/// Visits in order of their first read.
fn visits(reads: &[TagRead]) -> Vec<TagVisit<'_>> {
    let mut visits: Vec<TagVisit<'_>> = Vec::new();
    let mut newest = std::collections::HashMap::<&str, usize>::new();
    for read in reads {
        let (animal, time) = (read.animal.0.as_str(), read.time.as_millisecond());
        match newest.get(animal) {
            Some(&index) if ms_between(visits[index].last(), time) <= SAME_VISIT_S => {
                visits[index].times.push(time);
            }
            _ => {
                newest.insert(animal, visits.len());
                visits.push(TagVisit { animal, times: vec![time] });
            }
        }
    }
    visits
}

/// Passages and visits that can have to do with one another.
#[derive(Debug)]
struct PassageGroup {
    end: i64,
    passages: std::ops::Range<usize>,
    visits: std::ops::Range<usize>,
}

fn groups(passages: &[Candidate], visits: &[TagVisit<'_>]) -> Vec<PassageGroup> {
    let reach = seconds(REACH_S);
    let mut groups: Vec<PassageGroup> = Vec::new();
    let (mut next_passage, mut next_visit) = (0, 0);
    loop {
        let passage = passages.get(next_passage).map(|p| (p.start_ms - reach, p.end_ms + reach));
        let visit = visits.get(next_visit).map(|visit| (visit.first(), visit.last()));
        let takes_passage = match (passage, visit) {
            (None, None) => return groups,
            (Some(passage), Some(visit)) => passage.0 <= visit.0,
            (passage, _) => passage.is_some(),
        };
        let (begin, end) = if takes_passage { passage } else { visit }.unwrap_or_default();
        if groups.last().is_none_or(|group| begin > group.end) {
            groups.push(PassageGroup {
                end,
                passages: next_passage..next_passage,
                visits: next_visit..next_visit,
            });
        }
        let last = groups.len() - 1;
        let group = &mut groups[last];
        group.end = group.end.max(end);
        if takes_passage {
            next_passage += 1;
            group.passages.end = next_passage;
        } else {
            next_visit += 1;
            group.visits.end = next_visit;
        }
    }
}

/// The cheapest alignment in order.
fn align(passages: &[Candidate], visits: &[TagVisit<'_>], fitted: bool) -> Vec<Assignment> {
    let (rows, columns) = (passages.len() + 1, visits.len() + 1);
    let mut price = vec![0.0; rows * columns];
    let at = |row: usize, column: usize| row * columns + column;
    let fit = |row: usize, column: usize| visits[column].nearest(&passages[row], fitted);
    for row in 0..rows {
        for column in 0..columns {
            let mut best = if row + column == 0 { 0.0 } else { f64::INFINITY };
            if row > 0 {
                best = f64::min(best, price[at(row - 1, column)] + SKIP_S);
            }
            if column > 0 {
                best = f64::min(best, price[at(row, column - 1)] + SKIP_S);
            }
            if row > 0
                && column > 0
                && let Some((cost, _)) = fit(row - 1, column - 1)
            {
                best = f64::min(best, price[at(row - 1, column - 1)] + cost);
            }
            price[at(row, column)] = best;
        }
    }
    let mut taken = vec![None; passages.len()];
    let mut used = vec![false; visits.len()];
    let (mut row, mut column) = (passages.len(), visits.len());
    while row > 0 && column > 0 {
        let here = price[at(row, column)];
        let matched =
            fit(row - 1, column - 1).is_some_and(|(cost, _)| price[at(row - 1, column - 1)] + cost <= here);
        if matched {
            (taken[row - 1], used[column - 1]) = (Some(column - 1), true);
            (row, column) = (row - 1, column - 1);
        } else if price[at(row - 1, column)] + SKIP_S <= here {
            row -= 1;
        } else {
            column -= 1;
        }
    }
    passages.iter().zip(taken).map(|(passage, taken)| judge(passage, taken, visits, &used, fitted)).collect()
}

/// Says who a passage was and how that is known.
fn judge(
    passage: &Candidate,
    taken: Option<usize>,
    visits: &[TagVisit<'_>],
    used: &[bool],
    fitted: bool,
) -> Assignment {
    let nobody = |evidence: String| Assignment { passage: passage.id, animal: None, evidence };
    let Some((index, (price, before))) =
        taken.and_then(|index| visits[index].nearest(passage, fitted).map(|nearest| (index, nearest)))
    else {
        return nobody("no tag".to_owned());
    };
    let animal = visits[index].animal;
    let rival = visits.iter().zip(used).find(|(visit, used)| {
        !**used
            && visit.animal != animal
            && visit.nearest(passage, fitted).is_some_and(|(other, _)| other <= price + UNSURE_S)
    });
    if let Some((rival, _)) = rival {
        return nobody(format!("two tags in reach: {animal}, {}", rival.animal));
    }
    let side = if before >= 0.0 { "before" } else { "after" };
    Assignment {
        passage: passage.id,
        animal: Some(crate::record::AnimalId(animal.to_owned())),
        evidence: format!("tag read {:.1} s {side} first foot", before.abs()),
    }
}

#[cfg(test)]
mod tests;
