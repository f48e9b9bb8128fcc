//! How far a tag reader's clock is off: cows leave at uneven intervals and are unlike, and only one shift of the reads
//! lays them on the passages.
//!
//! Passages are taken to have a read some [`LEAD_S`] before the first foot, or none. Every shift
//! within [`RANGE_S`], at every drift within [`DRIFTS_S_PER_H`], has a likelihood; with a prior that trusts the clock it
//! has a probability. The clock is corrected only where one shift holds nearly all of it.

use super::pattern::TagPatterns;
use super::{TagVisit, ms_between};
use crate::store::Candidate;

/// Shifts that are tried, s either way. Our choice: a clock set by hand, minutes off.
pub const RANGE_S: f64 = 300.0;
/// Drifts that are tried, s an hour. Our choice.
const DRIFTS_S_PER_H: [f64; 7] = [0.0, -0.5, 0.5, -1.0, 1.0, -2.0, 2.0];
/// A tag is read so long before the first foot, s, give or take [`SPREAD_S`]. Our choice: a cow length at a walk.
pub const LEAD_S: f64 = 1.2;
const SPREAD_S: f64 = 1.0;
/// The tail: cows that wait or hurry, s, as share of all. Our choice.
const TAIL: (f64, f64) = (0.15, 4.0);
/// Further off than this a read says nothing of a passage, s.
const REACH: f64 = 4.0 * TAIL.1;
const THIN_MS: i64 = 500;
/// More reads, so thinned, within a second either way are none of cows. Our choice: three cows in reach at once.
const CROWD: usize = 15;
/// Share of reads that belong to no passage of the lane. Our choice.
const STRAY: f64 = 0.1;
/// A clock is right within this, s: the lead itself is known no better.
const RIGHT_S: f64 = 3.0;
/// Probability, before looking, that a clock is right. Our choice: few are off, but those that are name wrong cows.
const PRIOR_RIGHT: f64 = 0.9;
/// Probability that one shift must hold, with its neighbours within [`RIGHT_S`]. Our choice.
const SURE: f64 = 0.99;
/// Steps of the two searches, s.
const COARSE_S: f64 = 1.0;
const FINE_S: f64 = 0.25;
/// Shifts from the first search that the second looks at more closely.
const PEAKS: usize = 6;
/// With fewer visits than this a clock is not corrected: either it is taken to be right, or nobody is named. Our choice.
const FEWEST: usize = 8;

/// What the times say of a reader's clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ReaderClock {
    /// Too few reads to tell; nothing speaks against it.
    Trusted,
    /// Ahead of the lane by so many seconds at `mid_ms` of its own time, gaining so many an hour, if tags are read
    /// [`LEAD_S`] before the first foot.
    Fitted {
        /// Seconds.
        seconds: f64,
        /// Seconds an hour.
        drift_s_per_h: f64,
        /// Where `seconds` holds, ms since the Unix epoch.
        mid_ms: i64,
    },
    /// No shift fits well enough to name anybody by it.
    Unsure,
}

impl ReaderClock {
    /// How far it is off, s, where that is more than the reader's place explains; `None` in it where no shift fits.
    #[must_use]
    pub fn off(self) -> Option<Option<f64>> {
        match self {
            Self::Unsure => Some(None),
            Self::Fitted { seconds, .. } if seconds.abs() > RIGHT_S => Some(Some(seconds)),
            Self::Trusted | Self::Fitted { .. } => None,
        }
    }

    /// The lane's time for one of the reader's, ms since the Unix epoch.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "at most some minutes")]
    pub fn to_lane(self, read_ms: i64) -> i64 {
        match self {
            Self::Trusted | Self::Unsure => read_ms,
            Self::Fitted { seconds, drift_s_per_h, mid_ms } => {
                let ahead = seconds + drift_s_per_h * ms_between(mid_ms, read_ms) / 3600.0;
                read_ms - (1000.0 * ahead).round() as i64
            }
        }
    }
}

/// One read: its visit by number, and its share of the visit's reads.
struct Read {
    time: f64,
    visit: usize,
    weight: f64,
}

/// Reads and first feet in seconds from a common moment.
struct ReadTimes {
    /// By time.
    reads: Vec<Read>,
    /// How many there are.
    visits: usize,
    feet: Vec<f64>,
    /// How well what the plates show is hers, by visit and passage.
    odds: Vec<Option<Vec<f32>>>,
    mid_ms: i64,
    /// Time between passages, s.
    interval_s: f64,
}

/// One shift and its log likelihood.
#[derive(Clone, Copy, Debug)]
struct Shift {
    seconds: f64,
    drift: f64,
    fit: f64,
}

/// Density of a first foot so far from where a read lets one expect it, 1/s, worked out once for every
/// [`GRID_S`]: it is asked for millions of times.
struct OffsetDensity(Vec<f64>);

/// Finer than any reader's clock tells.
const GRID_S: f64 = 0.02;

impl OffsetDensity {
    fn new(spread: f64) -> Self {
        let body = (1.0 - TAIL.0) / (spread * std::f64::consts::TAU.sqrt());
        let at = |off: f64| {
            body * (-0.5 * (off / spread).powi(2)).exp() + TAIL.0 / (2.0 * TAIL.1) * (-off / TAIL.1).exp()
        };
        Self(steps(0.0, REACH, GRID_S).map(at).collect())
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a float cast saturates")]
    fn at(&self, off: f64) -> f64 {
        self.0.get((off.abs() / GRID_S) as usize).copied().unwrap_or(0.0)
    }
}

/// The reads of a visit, at least [`THIN_MS`] apart: a reader may give hundreds a second.
fn thinned(times: &[i64]) -> Vec<i64> {
    let mut kept: Vec<i64> = Vec::new();
    for &time in times {
        if kept.last().is_none_or(|last| time - last >= THIN_MS) {
            kept.push(time);
        }
    }
    kept
}

/// Without the reads that come faster than cows can: a reader gone wrong.
fn uncrowded(reads: Vec<Read>) -> Vec<Read> {
    let at = |time: f64| reads.partition_point(|read| read.time < time);
    let crowded: Vec<bool> =
        reads.iter().map(|read| at(read.time + 1.0) - at(read.time - 1.0) > CROWD).collect();
    reads.into_iter().zip(crowded).filter(|(_, crowded)| !crowded).map(|(read, _)| read).collect()
}

impl ReadTimes {
    #[allow(clippy::cast_precision_loss, reason = "a few reads a visit")]
    fn new(passages: &[Candidate], visits: &[TagVisit<'_>], usual: &TagPatterns) -> Option<Self> {
        let (first, last) = (passages.first()?, passages.last()?);
        let mid_ms = first.start_ms.midpoint(last.start_ms);
        let feet: Vec<f64> = passages.iter().map(|p| ms_between(mid_ms, p.start_ms)).collect();
        let mut reads = Vec::new();
        for (visit, of) in visits.iter().enumerate() {
            let times = thinned(&of.times);
            let weight = 1.0 / times.len() as f64;
            reads.extend(times.into_iter().map(|time| Read {
                time: ms_between(mid_ms, time),
                visit,
                weight,
            }));
        }
        reads.sort_by(|a, b| a.time.total_cmp(&b.time));
        let reads = uncrowded(reads);
        // Breaks between groups of cows are no part of the usual interval.
        let mut intervals: Vec<f64> = feet.windows(2).map(|pair| pair[1] - pair[0]).collect();
        intervals.sort_by(f64::total_cmp);
        let interval_s = intervals.get(intervals.len() / 2).map_or(RANGE_S, |s| s.clamp(1.0, RANGE_S));
        let odds = usual.odds(passages, visits);
        Some(Self { reads, visits: visits.len(), feet, odds, mid_ms, interval_s })
    }

    /// How well a shift explains the passages: 0 where none has a read near. A passage counts once, however many tags
    /// were read, so that a reader gone wrong has no weight.
    fn fit(&self, seconds: f64, drift: f64, density: &OffsetDensity) -> f64 {
        let (scale, ahead) = (1.0 - drift / 3600.0, LEAD_S - seconds);
        let expected = |read: f64| read * scale + ahead;
        let odds = (1.0 - STRAY) / STRAY * self.interval_s;
        let mut by_visit = vec![0.0_f64; self.visits];
        let (mut later, mut sum, mut product) = (&self.reads[..], 0.0, 1.0_f64);
        for (passage, &foot) in self.feet.iter().enumerate() {
            while let [read, rest @ ..] = later
                && expected(read.time) < foot - REACH
            {
                later = rest;
            }
            let near = later.iter().take_while(|read| expected(read.time) < foot + REACH);
            for read in near.clone() {
                let hers = self.odds[read.visit].as_ref().map_or(1.0, |odds| f64::from(odds[passage]));
                by_visit[read.visit] += hers * read.weight * density.at(foot - expected(read.time));
            }
            let best = near.fold(0.0, |best, read| f64::max(best, std::mem::take(&mut by_visit[read.visit])));
            product *= 1.0 + odds * best;
            // A logarithm of many passages at once, before they are too much for a number.
            if product > 1e200 {
                sum += std::mem::replace(&mut product, 1.0).ln();
            }
        }
        sum + product.ln()
    }

    fn search(&self) -> Vec<Shift> {
        // Wide enough that no shift falls between two steps.
        let (wide, narrow) = (OffsetDensity::new(SPREAD_S + COARSE_S), OffsetDensity::new(SPREAD_S));
        let mut coarse: Vec<Shift> = steps(-RANGE_S, RANGE_S, COARSE_S)
            .map(|seconds| Shift { seconds, drift: 0.0, fit: self.fit(seconds, 0.0, &wide) })
            .collect();
        coarse.sort_by(|a, b| b.fit.total_cmp(&a.fit));
        let mut peaks: Vec<Shift> = Vec::new();
        for shift in coarse {
            if peaks.len() < PEAKS && peaks.iter().all(|peak| (peak.seconds - shift.seconds).abs() > RIGHT_S)
            {
                peaks.push(shift);
            }
        }
        let (times, narrow) = (self, &narrow);
        let fine = |peak: Shift| {
            let around = steps(peak.seconds - 2.0 * COARSE_S, peak.seconds + 2.0 * COARSE_S, FINE_S);
            around.flat_map(move |seconds| {
                DRIFTS_S_PER_H.map(|drift| Shift { seconds, drift, fit: times.fit(seconds, drift, narrow) })
            })
        };
        let right = Shift { seconds: 0.0, drift: 0.0, fit: 0.0 };
        peaks
            .into_iter()
            .chain([right])
            .filter_map(|peak| fine(peak).max_by(|a, b| a.fit.total_cmp(&b.fit)))
            .collect()
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some hundreds of steps")]
fn steps(from: f64, to: f64, step: f64) -> impl Iterator<Item = f64> {
    (0..=((to - from) / step).round() as u32).map(move |i| from + step * f64::from(i))
}

/// What passages and visits of one milking, in order, say of the reader's clock.
#[must_use]
pub(super) fn estimate(passages: &[Candidate], visits: &[TagVisit<'_>], usual: &TagPatterns) -> ReaderClock {
    if visits.is_empty() {
        return ReaderClock::Trusted;
    }
    let Some(times) = ReadTimes::new(passages, visits, usual) else { return ReaderClock::Trusted };
    let prior = |seconds: f64| {
        if seconds.abs() <= RIGHT_S {
            PRIOR_RIGHT
        } else {
            (1.0 - PRIOR_RIGHT) * (2.0 * RIGHT_S) / (2.0 * RANGE_S)
        }
    };
    let shifts = times.search();
    let weight = |shift: &Shift| shift.fit + prior(shift.seconds).ln();
    let Some(best) = shifts.iter().copied().max_by(|a, b| weight(a).total_cmp(&weight(b))) else {
        return ReaderClock::Trusted;
    };
    let (mut same, mut other) = (0.0, 0.0);
    for shift in &shifts {
        let relative = (weight(shift) - weight(&best)).exp();
        if (shift.seconds - best.seconds).abs() <= RIGHT_S {
            same = f64::max(same, relative);
        } else {
            other += relative;
        }
    }
    match visits.len() < FEWEST {
        true if best.seconds.abs() <= RIGHT_S => ReaderClock::Trusted,
        false if same / (same + other) >= SURE => {
            ReaderClock::Fitted { seconds: best.seconds, drift_s_per_h: best.drift, mid_ms: times.mid_ms }
        }
        _ => ReaderClock::Unsure,
    }
}

#[cfg(test)]
mod tests;
