//! The course of a case in one of a few words, and why.

use crate::case::before_after::kalman::state;
use crate::case::before_after::learn;
use crate::case::before_after::model::{Fit, Normal};
use crate::case::before_after::series::UNSETTLED_DAYS;
use crate::record::finding::{CourseReason, Load, Verdict, one_code};
use jiff::{ToSpan, civil::Date};
use serde::Serialize;
use shared::plate::{Leg, PerLeg};

/// Probability from which a verdict is given (our choice).
const SURE: f64 = 0.95;
/// Probability from which the course is called as expected, or slower (our choice).
const LIKELY: f64 = 0.8;
/// The same for "as expected" while a block is on, whose effect is known less well (our choice).
const LIKELY_BLOCKED: f64 = 0.93;
/// Probability from which another leg stands in the way of "as expected" (our choice).
const MAY_BE: f64 = 0.5;
/// Fewest settled passages a verdict needs (our choice).
const LEAST_PASSAGES: usize = 4;
/// When to ask again if nothing else says so, days (our choice).
const ASK_AGAIN_DAYS: i32 = 7;

/// The course of one leg's load, % above or below its usual load.
#[derive(Clone, Debug)]
pub struct LegCourse {
    /// The leg.
    pub leg: Leg,
    /// The model.
    pub fit: Fit,
    /// Half-width of her normal range.
    pub normal_range: f64,
    /// Passages of the baseline, the window before and the settled window after.
    pub passages: [usize; 3],
    /// How a block acts on the leg now: -1 under it, 1 under the other of the pair, 0 none.
    pub block_now: f64,
}

impl LegCourse {
    /// Probability that the leg is back within her normal range, the block's effect taken out.
    #[must_use]
    pub fn back(&self) -> f64 {
        let now = self.fit.now();
        now.below(self.normal_range) - now.below(-self.normal_range)
    }

    fn low(&self) -> f64 {
        self.fit.now().below(-self.normal_range)
    }

    /// Load now, the block's effect left in, % of usual.
    fn as_measured(&self) -> Normal {
        self.fit.sum(&[(state::DEVIATION, 1.0), (state::BLOCK, self.block_now)])
    }
}

/// What the verdict rests on.
#[derive(Clone, Debug)]
pub struct Facts<'a> {
    /// The treated leg.
    pub treated: Leg,
    /// Every leg's course, where there is one.
    pub legs: &'a PerLeg<Option<LegCourse>>,
    /// Day of the treatment.
    pub at: Date,
    /// Days since the treatment.
    pub days_since: i32,
    /// First day without the block, if one is on.
    pub block_until: Option<Date>,
    /// The day the block was due off, where nobody has said whether it is.
    pub block_unreported: Option<Date>,
    /// A sudden step while the block should be on.
    pub lost_since: Option<Date>,
    /// Usual half-time (median in days, SD of the logarithm).
    pub half_time: (f64, f64),
    /// She shifts her weight more than when sound.
    pub restless: bool,
    /// The last day used.
    pub until: Date,
}

/// The verdict with its reason.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CaseAnswer {
    /// In one word or so.
    pub verdict: Verdict,
    /// Why.
    #[serde(serialize_with = "one_code")]
    pub reason: CourseReason,
    /// The leg it speaks of.
    pub leg: &'static str,
    /// When it will be possible to tell, where it is not yet.
    pub ask_again: Option<Date>,
}

/// Judges the course of a case.
#[must_use]
pub fn judge(facts: &Facts<'_>) -> CaseAnswer {
    let answer =
        |verdict, reason, leg: Leg, ask_again| CaseAnswer { verdict, reason, leg: leg.name(), ask_again };
    let cannot = |reason, day| answer(Verdict::CannotTellYet, reason, facts.treated, Some(day));
    if facts.days_since <= UNSETTLED_DAYS {
        let day = facts.at.saturating_add((UNSETTLED_DAYS + 1).days());
        return cannot(CourseReason::TooEarly { days: UNSETTLED_DAYS }, day);
    }
    let next = facts.until.saturating_add(ASK_AGAIN_DAYS.days());
    let Some(course) = facts.legs[facts.treated].as_ref().filter(|c| c.passages[2] >= LEAST_PASSAGES) else {
        return cannot(CourseReason::FewPassages { passages: LEAST_PASSAGES }, next);
    };
    let (now, range) = (course.fit.now(), course.normal_range);
    let (leg, load) = (facts.treated, Load::from(now.interval()));
    if let Some(other) = other_leg(facts, course) {
        let reason = CourseReason::OtherLegLower {
            leg: other.leg,
            now: other.fit.now().interval().into(),
            treated: leg,
            treated_now: load,
        };
        return answer(Verdict::AnotherLegNow, reason, other.leg, None);
    }
    if let Some(since) = facts.lost_since {
        return answer(Verdict::BlockProbablyLost, CourseReason::SuddenStep { leg, since }, leg, None);
    }
    let change = course.fit.sum(&[(state::DEVIATION, 1.0), (state::AT_TREATMENT, -1.0)]);
    if course.passages[1] > 0 && change.below(-0.5 * range) > SURE {
        let before = course.fit.at_treatment().interval().into();
        let reason = CourseReason::LessThanBefore { leg, now: load, before };
        return answer(Verdict::Worse, reason, leg, None);
    }
    if let Some(due) = facts.block_unreported {
        return cannot(CourseReason::BlockEndNotReported { leg, due }, facts.until);
    }
    let (expected, slower) = expectation(course, facts);
    let carries = CourseReason::Carries { leg, now: load };
    let blocked = facts.block_until.is_some_and(|off| off > facts.until);
    let enough = if blocked { LIKELY_BLOCKED } else { LIKELY };
    if let Some(other) = low_other_leg(facts).filter(|_| expected >= enough) {
        return cannot(CourseReason::CarriesOtherLow { leg, now: load, other: other.leg }, next);
    }
    if expected >= enough && facts.restless {
        return cannot(CourseReason::CarriesRestless { leg, now: load }, next);
    }
    if expected >= enough {
        return answer(Verdict::AsExpected, carries, leg, None);
    }
    if slower >= LIKELY {
        return answer(Verdict::SlowerThanExpected, carries, leg, None);
    }
    match facts.block_until {
        Some(off) if off > facts.until => {
            let day = off.saturating_add((UNSETTLED_DAYS + 1).days()).min(next.max(off));
            cannot(CourseReason::CarriesBlocked { leg, now: load }, day)
        }
        _ => cannot(carries, next),
    }
}

/// Probability that what is left is within the usual course (or within her normal range), and that it is beyond.
fn expectation(course: &LegCourse, facts: &Facts<'_>) -> (f64, f64) {
    let range = course.normal_range;
    let (now, before) = (course.fit.now(), course.fit.at_treatment());
    if before.below(-range) < 0.5 {
        return (course.back(), course.low());
    }
    let (_, left) = learn::band(facts.half_time, f64::from(facts.days_since));
    // How far the deviation is above what the slow tenth of cases would have left of it.
    let margin = course.fit.sum(&[(state::DEVIATION, 1.0), (state::AT_TREATMENT, -left)]);
    let within = (1.0 - margin.below(0.0)).max(1.0 - now.below(-range));
    (within, 1.0 - within)
}

/// A leg that is below her normal range now, was better before, and is worse off than the treated one. Taken as
/// measured: a block under the treated leg adds load to the other one, so that a low one is lame in spite of it.
fn other_leg<'a>(facts: &'a Facts<'_>, treated: &LegCourse) -> Option<&'a LegCourse> {
    facts
        .legs
        .0
        .iter()
        .flatten()
        .filter(|c| c.leg != facts.treated && c.passages[2] >= LEAST_PASSAGES && c.low() > LIKELY)
        .filter(|c| c.as_measured().below(-c.normal_range) > SURE)
        .filter(|c| {
            let weights = [(state::DEVIATION, 1.0), (state::AT_TREATMENT, -1.0), (state::BLOCK, c.block_now)];
            c.fit.sum(&weights).below(0.0) > SURE && c.as_measured().mean < treated.as_measured().mean
        })
        .min_by(|a, b| a.as_measured().mean.total_cmp(&b.as_measured().mean))
}

/// A leg that may be below her normal range now: not enough to say so, but enough not to call the case as expected, for
/// a cow that saves another leg loads the treated one.
fn low_other_leg<'a>(facts: &'a Facts<'_>) -> Option<&'a LegCourse> {
    let others = facts.legs.0.iter().flatten().filter(|c| c.leg != facts.treated);
    others
        .filter(|c| c.as_measured().below(-c.normal_range) > MAY_BE)
        .min_by(|a, b| a.as_measured().mean.total_cmp(&b.as_measured().mean))
}

/// The treated leg where the record names none: the one that was lowest before, if it was clearly low.
#[must_use]
pub fn lowest_before(legs: &PerLeg<Option<LegCourse>>) -> Option<Leg> {
    legs.0
        .iter()
        .flatten()
        .filter(|c| c.fit.at_treatment().below(-c.normal_range) > 0.5)
        .min_by(|a, b| mean(a.fit.at_treatment()).total_cmp(&mean(b.fit.at_treatment())))
        .map(|c| c.leg)
}

const fn mean(of: Normal) -> f64 {
    of.mean
}

#[cfg(test)]
mod tests;
