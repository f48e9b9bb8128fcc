//! What a lane can see: how its passages turn out, how well it repeats itself, and what would make it see more.

use crate::arithmetic::statistics::median;
use crate::evaluate::repeat::{Repeated, RepeatedMeasure, repeated};
use crate::record::Passage;
use crate::record::finding::{LaneGain, codes};
use crate::report::list::seen::spoilt_by;
use jiff::civil::Date;
use serde::Serialize;
use shared::plate::Leg;
use std::collections::BTreeSet;
use strum::IntoEnumIterator;

/// Passages of which so many in a hundred cannot be used, or are nobody's, are worth a word; our choice.
const LOST_PCT: f64 = 10.0;
/// With fewer passages with a stance, in a hundred, standing tells little; our choice.
const STANDING_PCT: f64 = 50.0;
/// From this part of the variance within a day on, a longer stance would help, %; our choice.
const SWAY_PCT: f64 = 25.0;
/// Fewer passages of a cow on a day than this are once a day; our choice, between one milking and two.
const OFTEN: f64 = 1.5;

/// What a lane can see, by the passages of some days.
#[derive(Clone, Debug, Serialize)]
pub struct Check {
    /// The lane.
    pub lane: String,
    /// First day.
    pub from: Date,
    /// Last day.
    pub to: Date,
    /// Passages.
    pub passages: usize,
    /// Cows that are known.
    pub cows: usize,
    /// Passages that can be used, of all, %.
    pub usable_pct: f64,
    /// Why the others cannot, by the names of the passage table, with how often; the commonest first.
    pub unusable: Vec<(String, usize)>,
    /// Passages of known cows, of all, %.
    pub identified_pct: f64,
    /// Passages with a stance, of the usable ones, %.
    pub standing_pct: f64,
    /// Time stood, median of them, s.
    pub standing_s: Option<f64>,
    /// Passages of a cow on a day she came, mean.
    pub a_day: f64,
    /// How well each measure is repeated.
    pub repeated: Vec<Repeated>,
    /// What would make it see more.
    #[serde(serialize_with = "codes")]
    pub gains: Vec<LaneGain>,
}

fn percent(part: usize, of: usize) -> f64 {
    if of == 0 { 0.0 } else { 100.0 * part as f64 / of as f64 }
}

impl Check {
    /// The check of one lane's passages from one day to another; `None` where there is none.
    #[must_use]
    pub fn of(lane: &str, passages: &[Passage]) -> Option<Self> {
        let passages: Vec<&Passage> = passages.iter().filter(|passage| passage.lane == lane).collect();
        let days = || passages.iter().map(|passage| passage.date);
        let (from, to) = (days().min()?, days().max()?);
        let usable: Vec<&Passage> =
            passages.iter().copied().filter(|passage| passage.summary.quality.trusted()).collect();
        let mut stood: Vec<f64> = usable
            .iter()
            .filter_map(|passage| passage.summary.standing)
            .map(|standing| f64::from(standing.seconds))
            .collect();
        let reasons = spoilt_by(passages.iter().copied());
        let mut unusable: Vec<_> =
            reasons.into_iter().map(|(name, times)| (name.to_owned(), times)).collect();
        unusable.sort_by_key(|(_, times)| std::cmp::Reverse(*times));
        let known = || passages.iter().filter_map(|passage| Some((passage.animal.as_ref()?, passage.date)));
        let cow_days = known().collect::<BTreeSet<_>>().len();
        let mut check = Self {
            lane: lane.to_owned(),
            from,
            to,
            passages: passages.len(),
            cows: known().map(|(cow, _)| cow).collect::<BTreeSet<_>>().len(),
            usable_pct: percent(usable.len(), passages.len()),
            unusable,
            identified_pct: percent(known().count(), passages.len()),
            standing_pct: percent(stood.len(), usable.len()),
            standing_s: (!stood.is_empty()).then(|| median(&mut stood)),
            a_day: known().count() as f64 / cow_days.max(1) as f64,
            repeated: RepeatedMeasure::iter()
                .map(|measure| repeated(measure, usable.iter().copied()))
                .collect(),
            gains: Vec::new(),
        };
        check.gains = check.worth_doing(&usable);
        Some(check)
    }

    fn worth_doing(&self, usable: &[&Passage]) -> Vec<LaneGain> {
        let mut gains = Vec::new();
        if self.repeated.iter().all(|measure| measure.within_day.is_none() && measure.between_days.is_none())
        {
            gains.push(LaneGain::TooFewToTell { passages: usable.len() });
        }
        if let Some((commonest, times)) = self.unusable.first().filter(|_| self.usable_pct < 100.0 - LOST_PCT)
        {
            let (unusable_pct, times) = (100.0 - self.usable_pct, *times);
            gains.push(LaneGain::MoreUsable { unusable_pct, commonest: commonest.clone(), times });
        }
        if self.identified_pct < 100.0 - LOST_PCT {
            gains.push(LaneGain::MoreNamed { unidentified_pct: 100.0 - self.identified_pct });
        }
        if self.standing_pct < STANDING_PCT {
            gains.push(LaneGain::MoreStanding { standing_pct: self.standing_pct });
        }
        if let Some((from_sway_pct, seconds)) = self.part_of_sway(usable).zip(self.standing_s)
            && from_sway_pct >= SWAY_PCT
        {
            gains.push(LaneGain::LongerStanding { seconds, from_sway_pct });
        }
        if self.a_day < OFTEN {
            gains.push(LaneGain::MoreOften {});
        }
        if gains.is_empty() {
            gains.push(LaneGain::NothingToGain {});
        }
        gains
    }

    /// Of the variance of a hind leg's share within a day, the part that the sway within each stance explains, %.
    fn part_of_sway(&self, usable: &[&Passage]) -> Option<f64> {
        let share = self.repeated.iter().find(|repeated| repeated.measure == RepeatedMeasure::RearShare)?;
        let variance = share.within_day?.powi(2);
        let errors = usable.iter().filter_map(|passage| passage.summary.standing);
        let squares: Vec<f64> =
            errors.map(|standing| f64::from(standing.share_se_pct[Leg::LR]).powi(2)).collect();
        let mean = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
        (variance > 0.0).then(|| (100.0 * mean / variance).min(100.0))
    }
}

/// The checks of every lane, over the whole of the passages or by calendar month.
#[must_use]
pub fn checks(lanes: &[String], passages: &[Passage], by_month: bool) -> Vec<Check> {
    let mut found = Vec::new();
    for lane in lanes {
        if !by_month {
            found.extend(Check::of(lane, passages));
            continue;
        }
        let same_month = |a: &Passage, b: &Passage| a.date.first_of_month() == b.date.first_of_month();
        found.extend(passages.chunk_by(same_month).filter_map(|month| Check::of(lane, month)));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::{passage, stance};
    use jiff::civil::date;
    use shared::analysis::Reason;

    /// Ten cows, so many passages each on one day.
    fn day(each: usize) -> Vec<Passage> {
        (0..10 * each).map(|i| passage(&format!("{}", i % 10), date(2026, 3, 1))).collect()
    }

    fn gains(passages: &[Passage]) -> Vec<LaneGain> {
        Check::of("lane", passages).expect("a check").gains
    }

    #[test]
    fn shares_of_passages_by_hand() {
        let mut passages = day(2);
        passages[0].summary.quality.add(Reason::FootAcross);
        passages[1].animal = None;
        let check = Check::of("lane", &passages).unwrap();
        assert_eq!((check.passages, check.cows), (20, 10));
        assert_eq!((check.usable_pct, check.identified_pct), (95.0, 95.0));
        assert_eq!(check.unusable, [("foot_across".to_owned(), 1)]);
        assert!((check.a_day - 1.9).abs() < 1e-9);
        assert!(Check::of("another", &passages).is_none());
    }

    #[test]
    fn a_tenth_lost_is_let_be_and_more_is_told() {
        let spoilt = |number: usize| {
            let mut passages = day(2);
            passages.iter_mut().take(number).for_each(|p| p.summary.quality.add(Reason::TwoAnimals));
            gains(&passages)
        };
        let told = |gains: &[LaneGain]| gains.iter().any(|gain| matches!(gain, LaneGain::MoreUsable { .. }));
        assert!(!told(&spoilt(2)));
        assert!(told(&spoilt(3)), "{:?}", spoilt(3));
        let nobody = |number: usize| {
            let mut passages = day(2);
            passages.iter_mut().take(number).for_each(|passage| passage.animal = None);
            gains(&passages).contains(&LaneGain::MoreNamed { unidentified_pct: 15.0 })
        };
        assert!(!nobody(2) && nobody(3));
    }

    #[test]
    fn once_a_day_is_told_and_twice_is_not() {
        assert!(gains(&day(1)).contains(&LaneGain::MoreOften {}));
        assert!(!gains(&day(2)).contains(&LaneGain::MoreOften {}));
    }

    #[test]
    fn months_stand_apart() {
        let mut passages = day(2);
        passages.extend((0..4).map(|i| passage(&format!("{i}"), date(2026, 4, 1))));
        let months = checks(&["lane".to_owned()], &passages, true);
        assert_eq!(months.iter().map(|month| month.passages).collect::<Vec<_>>(), [20, 4]);
        assert_eq!(checks(&["lane".to_owned()], &passages, false).len(), 1);
    }

    /// Ten cows three times each, standing on the left hind leg with 22, 24 and 26 %, with such a standard error.
    fn swaying(se: f32) -> Vec<Passage> {
        let of = |i: usize| {
            let share = [22.0, 24.0, 26.0][i / 10];
            let mut passage =
                stance(&format!("{}", i % 10), date(2026, 3, 1), [27.0, 27.0, share, 46.0 - share]);
            passage.summary.standing.as_mut().expect("she stands").share_se_pct[Leg::LR] = se;
            passage
        };
        (0..30).map(of).collect()
    }

    // By hand: three shares 2 apart have the variance (4 + 0 + 4) / 2 = 4. An error of 1 explains 1 / 4 of it, which is
    // told; one of 0.9 explains 0.81 / 4 = 20 %, which is not. The weights are all the same and explain nothing.
    #[test]
    fn a_quarter_of_the_spread_of_a_hind_leg_from_sway_asks_for_longer_standing() {
        let told = gains(&swaying(1.0));
        assert!(told.contains(&LaneGain::LongerStanding { seconds: 5.0, from_sway_pct: 25.0 }), "{told:?}");
        let let_be = gains(&swaying(0.9));
        assert!(!let_be.iter().any(|gain| matches!(gain, LaneGain::LongerStanding { .. })), "{let_be:?}");
    }
}
