//! What trims and blocks mean for the score of a day.

use crate::arithmetic::dates::day_number;
use crate::record::FootWork;
use crate::score::model::baseline::Baseline;
use crate::score::model::cow::Filter;
use crate::score::model::features::{Measure, PerMeasure};
use crate::score::model::hypotheses::STATES;
use crate::score::model::noise::Noise;
use crate::score::settings::{BLOCK_POINTS, HEALING_DAYS, MENDING_DAYS, UNSETTLED_DAYS};
use shared::plate::{Leg, Pair};

/// One trim or treatment, by day number.
#[derive(Clone, Copy, Debug)]
pub struct DatedWork {
    /// Day of the work.
    pub day: i64,
    /// The leg, where named.
    pub leg: Option<Leg>,
    /// Whether a lesion was found.
    pub lesion: bool,
    /// Only looked at: she is as she was.
    look: bool,
    /// Days on which a block is on: from, up to and without.
    pub block: Option<(i64, i64)>,
    /// The day the block is due to come off, while nobody has said that it did.
    due: Option<i64>,
    /// Days on which this version of the record was the one known: from, up to and without.
    known: (i64, i64),
}

impl DatedWork {
    /// From the record.
    #[must_use]
    pub fn new(work: &FootWork) -> Self {
        let day = day_number(work.date);
        let block = work.block.then(|| (day, work.block_off.map_or(i64::MAX, day_number)));
        let known = (day_number(work.known.from), work.known.until.map_or(i64::MAX, day_number));
        Self {
            day,
            leg: work.leg,
            lesion: work.lesion,
            look: work.look,
            block,
            due: work.block_due.map(day_number),
            known,
        }
    }
}

impl DatedWork {
    fn known_on(&self, day: i64) -> bool {
        (self.known.0..self.known.1).contains(&day)
    }
}

/// What was found on a day when feet of hers were lifted: nothing, or lesions at some legs (`None`: leg not named).
#[must_use]
pub fn found(works: &[DatedWork], day: i64) -> Option<Vec<Option<Leg>>> {
    let mut lifted = works.iter().filter(|work| work.day == day && work.known_on(day)).peekable();
    lifted.peek()?;
    Some(lifted.filter(|work| work.lesion).map(|work| work.leg).collect())
}

/// How a day stands to the work done by then.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WorkStanding {
    /// A block is on this leg (`Some(None)`: leg not named).
    pub block: Option<Option<Leg>>,
    /// Day the block went on.
    pub block_since: i64,
    /// Days since the block was due off without a word on whether it is.
    pub block_overdue: Option<i64>,
    /// Days since the last work, within the unsettled time.
    pub unsettled: Option<u32>,
    /// A lesion was treated, and such cows are healing still.
    pub healing: bool,
}

impl WorkStanding {
    /// Of a day. Later work is not known yet.
    #[must_use]
    pub fn of(works: &[DatedWork], day: i64) -> Self {
        let mut standing = Self::default();
        for work in works.iter().filter(|work| work.day <= day && !work.look && work.known_on(day)) {
            if work.block.is_some_and(|(on, off)| (on..off).contains(&day)) {
                standing.block = Some(work.leg);
                standing.block_since = work.day;
                standing.block_overdue = work.due.filter(|due| *due <= day).map(|due| day - due);
            }
            if day - work.day <= if work.lesion { MENDING_DAYS } else { UNSETTLED_DAYS } {
                standing.unsettled = Some((day - work.day) as u32);
            }
            standing.healing |= work.lesion && day - work.day <= HEALING_DAYS;
        }
        standing
    }

    /// Whether the last work is so fresh that her loads say less.
    #[must_use]
    pub fn fresh(&self) -> bool {
        self.unsettled.is_some_and(|days| i64::from(days) <= UNSETTLED_DAYS)
    }

    /// Whether a block or fresh work keeps her from being judged as usual.
    #[must_use]
    pub const fn treated(&self) -> bool {
        self.block.is_some() || self.unsettled.is_some()
    }
}

/// The measures of a pair that a block shifts, and by how much of its points (walking, half: our choice).
const FRONT: [(Measure, f64); 3] =
    [(Measure::FrontSplit, 1.0), (Measure::FrontPeak, 0.5), (Measure::FrontTime, 0.5)];
const REAR: [(Measure, f64); 3] =
    [(Measure::RearSplit, 1.0), (Measure::RearPeak, 0.5), (Measure::RearTime, 0.5)];
/// A block also tilts front against rear by this part. Our choice.
const SHARE_PART: f64 = 0.15;

/// Her baselines from before the block, which are hers again when it is off.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct Saved {
    baseline: Box<[Baseline; STATES]>,
    leg: Option<Leg>,
    since: i64,
}

impl Saved {
    /// What belonged to the lanes is her own.
    pub fn take(&mut self, part: &PerMeasure) {
        self.baseline.iter_mut().for_each(|baseline| baseline.shift(part));
    }

    /// The leg with the block; `None` where not named.
    #[must_use]
    pub const fn leg(&self) -> Option<Leg> {
        self.leg
    }
}

fn shifted(leg: Option<Leg>) -> Vec<(Measure, f64)> {
    let mut all = vec![(Measure::FrontShare, SHARE_PART), (Measure::PeakFront, SHARE_PART)];
    if leg.is_none_or(|l| l.pair() == Pair::Front) {
        all.extend(FRONT);
    }
    if leg.is_none_or(|l| l.pair() == Pair::Rear) {
        all.extend(REAR);
    }
    all
}

/// A block goes on: what it shifts is unknown from now, in either direction, while she stays the cow she is.
#[must_use]
pub fn block_on(filter: &mut Filter, leg: Option<Leg>, day: i64) -> Saved {
    let saved = Saved { baseline: filter.baseline.clone(), leg, since: day };
    for (measure, part) in shifted(leg) {
        for baseline in filter.baseline.iter_mut() {
            baseline.variance[measure as usize] += (part * BLOCK_POINTS).powi(2) as f32;
        }
    }
    saved
}

/// The block is off: what it shifted is again what it was, less sure by the days between.
pub fn block_off(filter: &mut Filter, saved: &Saved, noise: &Noise, day: i64) {
    let days = (day - saved.since).max(0) as f64;
    for (measure, _) in shifted(saved.leg) {
        let k = measure as usize;
        for (baseline, before) in filter.baseline.iter_mut().zip(saved.baseline.iter()) {
            baseline.go_back(k, before);
            baseline.variance[k] += (days * noise.drift(k)) as f32;
        }
    }
}

#[cfg(test)]
mod tests;
