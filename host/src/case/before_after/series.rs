//! From a cow's passages to the observations of each leg.

use crate::arithmetic::dates::days_between;
use crate::arithmetic::statistics::{Z95, median, spread_about};
use crate::case::before_after::kalman::{CasePhase, LoadKind, Observation};
use crate::case::before_after::model::EVEN_SD;
use crate::record::Passage;
use jiff::civil::Date;
use shared::plate::{Leg, PerLeg};

/// Days after a treatment that are not judged. Source: cows with a fresh block scored lamer on days 1, 2 and 3
/// (Cutler 2015); on the day itself a passage may be from before or after the work.
pub const UNSETTLED_DAYS: i32 = 3;
/// How far back the baseline may reach, days (our choice).
const BASELINE_DAYS: i32 = 180;
/// Most passages of a baseline: the latest ones (our choice).
pub const BASELINE_MOST: usize = 60;
/// Fewest passages of a kind that make a baseline of her own (our choice).
pub const BASELINE_LEAST: usize = 5;
/// Baseline values further from the median than this many robust SDs are left out (our choice).
const OUTLIER: f64 = 3.5;
/// Least half-width of a normal range, % of a leg's usual load (our choice: one point of share on a quarter).
const LEAST_RANGE: f64 = 4.0;
/// Share of a front and a hind leg where the cow herself does not tell, % (our choice).
pub const USUAL_SHARE: (f64, f64) = (27.0, 23.0);
/// Walking peak of a front and a hind leg, % of body weight. Source: Scott 1988.
pub const USUAL_PEAK: (f64, f64) = (60.0, 50.0);

/// The days of a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlockDays {
    /// The leg under which it is.
    pub leg: Leg,
    /// First day with it.
    pub from: Date,
    /// The day it is due to come off, while nobody has said that it did.
    pub due: Option<Date>,
    /// First day surely without it.
    pub off: Option<Date>,
}

impl BlockDays {
    /// Whether it may be on that day.
    #[must_use]
    pub fn covers(&self, day: Date) -> bool {
        day >= self.from && self.off.is_none_or(|off| day < off)
    }

    /// The day it was due, where it may be on and its end has not been reported.
    #[must_use]
    pub fn unreported(&self, day: Date) -> Option<Date> {
        self.due.filter(|due| *due <= day && self.covers(day))
    }
}

/// What to hold against what.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Day of the treatment.
    pub at: Date,
    /// Last day used.
    pub until: Date,
    /// Days of the window before.
    pub before_days: i32,
    /// Days of the window after.
    pub after_days: i32,
    /// Every block of the cow.
    pub blocks: Vec<BlockDays>,
    /// Days on which she is not believed sound: first and last of each stretch.
    pub unsound: Vec<(Date, Date)>,
}

impl Plan {
    /// Which part of the case a day belongs to; `None` = not used.
    #[must_use]
    pub fn phase(&self, day: Date) -> Option<CasePhase> {
        let since = days_between(self.at, day);
        if day > self.until || since > self.after_days {
            return None;
        }
        if since > UNSETTLED_DAYS {
            return Some(CasePhase::After);
        }
        if since >= 0 {
            return None;
        }
        if since >= -self.before_days {
            return Some(CasePhase::Before);
        }
        let sound = !self.unsound.iter().any(|(first, last)| (*first..=*last).contains(&day));
        (since >= -BASELINE_DAYS && sound && !self.blocks.iter().any(|b| b.covers(day)))
            .then_some(CasePhase::Baseline)
    }

    /// How a block acts on a leg that day: -1 under it, 1 under the other leg of its pair.
    #[must_use]
    pub fn block(&self, leg: Leg, day: Date) -> f64 {
        self.blocks
            .iter()
            .filter(|b| b.covers(day))
            .map(|b| if b.leg == leg { -1.0 } else { f64::from(b.leg == leg.opposite()) })
            .sum()
    }
}

/// The observations of one leg.
#[derive(Clone, Debug, Default)]
pub struct LegSeries {
    /// In order of time: baseline, before, after.
    pub observations: Vec<Observation>,
    /// Half-width of her normal range, % of usual: within it lie 95 % of her days while sound.
    pub normal_range: f64,
    /// Usual value of the leg: share while standing and peak while walking, % of body weight.
    pub usual: [f64; 2],
    /// Passages behind the baseline, the more of the two kinds.
    pub baseline_passages: usize,
}

/// Value and error variance of a leg in a passage, in % of body weight, of one kind.
fn value(passage: &Passage, leg: Leg, kind: LoadKind) -> Option<(f64, f64, f64)> {
    match kind {
        LoadKind::Standing => passage
            .summary
            .standing
            .as_ref()
            .map(|s| (f64::from(s.share_pct[leg]), f64::from(s.share_se_pct[leg]).powi(2), 1.0)),
        LoadKind::Walking => {
            let contacts = &passage.summary.walking[leg];
            (contacts.count > 0 && contacts.peak_pct > 0.0)
                .then(|| (f64::from(contacts.peak_pct), 0.0, f64::from(contacts.count)))
        }
    }
    .filter(|v| v.0.is_finite() && v.1.is_finite())
}

/// Builds the series of every leg from the cow's passages in order of time.
#[must_use]
pub fn series(passages: &[Passage], plan: &Plan) -> PerLeg<LegSeries> {
    let used: Vec<(&Passage, CasePhase)> = passages
        .iter()
        .filter(|p| p.summary.quality.trusted())
        .filter_map(|p| plan.phase(p.date).map(|phase| (p, phase)))
        .collect();
    PerLeg(Leg::ALL.map(|leg| leg_series(&used, plan, leg)))
}

/// Means of the days of the baseline, in order of time.
fn day_means(used: &[(&Passage, CasePhase)], leg: Leg, kind: LoadKind) -> Vec<f64> {
    let baseline: Vec<(Date, f64)> = used
        .iter()
        .filter(|u| u.1 == CasePhase::Baseline)
        .filter_map(|u| value(u.0, leg, kind).map(|v| (u.0.date, v.0)))
        .collect();
    let mean = |day: &[(Date, f64)]| day.iter().map(|d| d.1).sum::<f64>() / day.len() as f64;
    baseline.chunk_by(|a, b| a.0 == b.0).map(mean).collect()
}

fn leg_series(used: &[(&Passage, CasePhase)], plan: &Plan, leg: Leg) -> LegSeries {
    let mut result = LegSeries::default();
    let mut squares = Vec::new();
    let epoch = f64::from(days_between(Date::constant(1970, 1, 1), plan.at));
    for kind in [LoadKind::Standing, LoadKind::Walking] {
        let mut baseline: Vec<f64> = used
            .iter()
            .filter(|u| u.1 == CasePhase::Baseline)
            .filter_map(|u| value(u.0, leg, kind).map(|v| v.0))
            .collect();
        baseline.drain(..baseline.len().saturating_sub(BASELINE_MOST));
        let own = baseline.len() >= BASELINE_LEAST;
        let (front, rear) = if kind == LoadKind::Standing { USUAL_SHARE } else { USUAL_PEAK };
        let default = if matches!(leg, Leg::LF | Leg::RF) { front } else { rear };
        let usual = if own { median(&mut baseline) } else { default };
        let spread = spread_about(usual, &baseline);
        let limit = if own { OUTLIER * spread.max(0.01 * usual) } else { f64::INFINITY };
        result.usual[kind as usize] = usual;
        result.baseline_passages = result.baseline_passages.max(baseline.len());
        if own {
            let mut days = day_means(used, leg, kind);
            days.drain(..days.len().saturating_sub(BASELINE_MOST));
            let middle = median(&mut days.clone());
            let of_days = spread_about(middle, &days);
            squares.push((100.0 * of_days / usual).powi(2));
        }
        let mut skip =
            used.iter().filter(|u| u.1 == CasePhase::Baseline && value(u.0, leg, kind).is_some()).count();
        skip = skip.saturating_sub(BASELINE_MOST);
        for (passage, phase) in used {
            let Some((load, variance, count)) = value(passage, leg, kind) else { continue };
            if *phase == CasePhase::Baseline {
                if skip > 0 {
                    skip -= 1;
                    continue;
                }
                if (load - usual).abs() > limit {
                    continue;
                }
            }
            result.observations.push(Observation {
                day: passage.time.as_millisecond() as f64 / 86_400_000.0 - epoch,
                value: 100.0 * (load / usual - 1.0),
                variance: variance * (100.0 / usual).powi(2),
                count,
                kind,
                phase: *phase,
                block: plan.block(leg, passage.date),
            });
        }
    }
    result
        .observations
        .sort_by(|a, b| (a.phase, a.day).partial_cmp(&(b.phase, b.day)).expect("days are finite"));
    result.normal_range = if squares.is_empty() {
        Z95 * EVEN_SD
    } else {
        (Z95 * squares.iter().fold(f64::INFINITY, |a, b| a.min(*b)).sqrt()).max(LEAST_RANGE)
    };
    result
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_block_unloads_its_leg_and_loads_the_other_of_the_pair_while_it_is_on() {
        let at = date(2026, 3, 2);
        let block = |leg: Leg, off: Date| BlockDays { leg, from: at, due: None, off: Some(off) };
        let plan = Plan {
            at,
            until: date(2026, 4, 13),
            before_days: 28,
            after_days: 42,
            blocks: vec![block(Leg::RR, date(2026, 3, 30)), block(Leg::LR, date(2026, 3, 16))],
            unsound: vec![],
        };
        let on = |day: Date| Leg::ALL.map(|leg| plan.block(leg, day));
        assert_eq!(on(date(2026, 3, 1)), [0.0; 4], "the day before");
        // Under both hind legs: on each, one that takes load off and one that puts load on.
        assert_eq!((on(at), on(date(2026, 3, 15))), ([0.0; 4], [0.0; 4]));
        // Under RR alone, in the order LF, RF, LR, RR, until the day before it is off.
        let alone = [0.0, 0.0, 1.0, -1.0];
        assert_eq!((on(date(2026, 3, 16)), on(date(2026, 3, 29))), (alone, alone));
        assert_eq!(on(date(2026, 3, 30)), [0.0; 4]);
    }
}
