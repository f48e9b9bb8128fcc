//! How cases went: back to normal, blocks kept, relapses, and who saw it first.

use crate::arithmetic::dates::days_between;
use crate::arithmetic::proportion::{fisher, odds_ratio};
use crate::arithmetic::statistics::{Estimated, median, wilson};
use crate::case::outcomes::survival;
use crate::case::outcomes::survival::{CurveStep, Watched, kaplan_meier};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// Days by which cases are counted as back to normal.
pub const DAYS: [i32; 3] = [28, 35, 42];

/// How one case went.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// What it is counted under, by name of the grouping.
    pub groups: BTreeMap<&'static str, String>,
    /// Whether the lane saw her carry clearly less before the treatment; the others cannot come back to normal.
    pub measured: bool,
    /// Days until she was back to normal; `None` = not yet.
    pub normal_after: Option<i32>,
    /// Days she was watched after the treatment.
    pub watched: i32,
    /// Days the block was on, and whether it was lost by itself; `None` = no block.
    pub block: Option<(i32, bool)>,
    /// The same leg had a new lesion within this many days of being back.
    pub relapse: Option<i32>,
    /// Day the lane first flagged her, and day a person first recorded her.
    pub first: (Option<Date>, Option<Date>),
}

/// Counts of one group.
#[derive(Clone, Debug, Serialize)]
pub struct Group {
    /// What is grouped by.
    pub by: &'static str,
    /// The group.
    pub group: String,
    /// Cases.
    pub cases: usize,
    /// Cases that the lane saw carry clearly less before; back to normal is counted of these.
    pub measured: usize,
    /// Back to normal by 28, 35 and 42 days: hits, of how many watched that long or back before, and Wilson's interval.
    pub back: Vec<Back>,
    /// Back to normal by day 35 beside all other groups together; `None` where either has too few cases.
    pub beside_others: Option<Beside>,
    /// Median days to normal, from the Kaplan-Meier curve.
    pub median_days_to_normal: Option<f64>,
    /// Time to normal.
    pub to_normal: Vec<CurveStep>,
    /// Time a block stayed on before it was lost by itself.
    pub block_kept: Vec<CurveStep>,
    /// Relapses of those back to normal.
    pub relapses: usize,
    /// Cases that the lane flagged before a person recorded them, of those that a person recorded.
    pub lane_first: usize,
    /// Cases with both days known, or only a person's.
    pub recorded: usize,
    /// Median days gained where the lane was first.
    pub days_gained: Option<f64>,
}

/// Back to normal by a day.
#[derive(Clone, Debug, Serialize)]
pub struct Back {
    /// The day.
    pub by_day: i32,
    /// How many.
    pub back: u64,
    /// Of how many.
    pub of: u64,
    /// Part with Wilson's 95 % interval.
    pub part: Option<Estimated>,
}

/// A group beside all others.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Beside {
    /// The others back to normal by then.
    pub back: u64,
    /// Of how many.
    pub of: u64,
    /// Odds of this group against theirs, with Wald's 95 % interval; `None` where all or none are back.
    pub odds_ratio: Option<Estimated>,
    /// Fisher's exact test, two-sided.
    pub fisher_p: f64,
}

/// Day by which groups are held beside each other.
pub const BESIDE_DAY: i32 = 35;
/// Fewest cases on either side for that (our choice).
const LEAST_BESIDE: u64 = 10;

/// Counts the outcomes by one grouping.
#[must_use]
pub fn by(grouping: &'static str, outcomes: &[Outcome]) -> Vec<Group> {
    let mut groups: BTreeMap<&str, Vec<&Outcome>> = BTreeMap::new();
    for outcome in outcomes {
        let name = outcome.groups.get(grouping).map_or("not recorded", |g| g.as_str());
        groups.entry(name).or_default().push(outcome);
    }
    let mut groups: Vec<Group> =
        groups.into_iter().map(|(name, cases)| group(grouping, name, &cases)).collect();
    let counts: Vec<(u64, u64)> = groups.iter().map(Group::by_the_day).collect();
    let all = counts.iter().fold((0, 0), |sum, count| (sum.0 + count.0, sum.1 + count.1));
    for (group, (back, of)) in groups.iter_mut().zip(counts) {
        group.beside_others = beside((back, of), (all.0 - back, all.1 - of));
    }
    groups
}

fn beside((back, of): (u64, u64), others: (u64, u64)) -> Option<Beside> {
    (of >= LEAST_BESIDE && others.1 >= LEAST_BESIDE).then(|| Beside {
        back: others.0,
        of: others.1,
        odds_ratio: odds_ratio(back, of, others.0, others.1),
        fisher_p: fisher(back, of, others.0, others.1),
    })
}

impl Group {
    fn by_the_day(&self) -> (u64, u64) {
        self.back.iter().find(|b| b.by_day == BESIDE_DAY).map_or((0, 0), |b| (b.back, b.of))
    }
}

fn group(by: &'static str, name: &str, cases: &[&Outcome]) -> Group {
    let measured: Vec<&&Outcome> = cases.iter().filter(|c| c.measured).collect();
    let to_normal = kaplan_meier(
        &measured
            .iter()
            .map(|c| Watched {
                days: f64::from(c.normal_after.unwrap_or(c.watched)),
                event: c.normal_after.is_some(),
            })
            .collect::<Vec<_>>(),
    );
    let blocks: Vec<Watched> = cases
        .iter()
        .filter_map(|c| c.block)
        .map(|(days, lost)| Watched { days: f64::from(days), event: lost })
        .collect();
    let mut gained: Vec<f64> = cases
        .iter()
        .filter_map(|c| Some(f64::from(days_between(c.first.0?, c.first.1?))))
        .filter(|days| *days > 0.0)
        .collect();
    Group {
        by,
        group: name.to_owned(),
        cases: cases.len(),
        measured: measured.len(),
        back: DAYS
            .iter()
            .map(|&day| {
                // Only cases whose state on that day is known: watched so long, or back before.
                let known =
                    measured.iter().filter(|c| c.watched >= day || c.normal_after.is_some_and(|d| d <= day));
                let of = known.count() as u64;
                let back =
                    measured.iter().filter(|c| c.normal_after.is_some_and(|d| d <= day)).count() as u64;
                Back { by_day: day, back, of, part: part(back, of) }
            })
            .collect(),
        beside_others: None,
        median_days_to_normal: survival::median(&to_normal),
        to_normal,
        block_kept: kaplan_meier(&blocks),
        relapses: cases.iter().filter(|c| c.relapse.is_some()).count(),
        lane_first: gained.len(),
        recorded: cases.iter().filter(|c| c.first.1.is_some()).count(),
        days_gained: (!gained.is_empty()).then(|| median(&mut gained)),
    }
}

fn part(back: u64, of: u64) -> Option<Estimated> {
    let interval = (of > 0).then(|| wilson(back, of))?;
    Some(Estimated { value: back as f64 / of as f64, low: interval.lower, high: interval.upper })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outcome(normal_after: Option<i32>, watched: i32) -> Outcome {
        Outcome {
            groups: [("lesion", "SU".to_owned())].into(),
            measured: true,
            normal_after,
            watched,
            ..Outcome::default()
        }
    }

    #[test]
    fn only_cases_watched_long_enough_count() {
        let groups = by(
            "lesion",
            &[outcome(Some(20), 20), outcome(None, 40), outcome(None, 30), outcome(Some(40), 50)],
        );
        let back: Vec<(u64, u64)> = groups[0].back.iter().map(|b| (b.back, b.of)).collect();
        assert_eq!(back, [(1, 4), (1, 3), (2, 2)]);
        assert_eq!(groups[0].median_days_to_normal, Some(40.0));
    }

    #[test]
    fn groups_are_held_beside_the_others_as_a_trial_would() {
        // Counts of Sadiq 2022 at day 28: 15/20 v 6/15, odds ratio 4.5 (1.1 to 19.1).
        let cases = |lesion: &str, back: usize, of: usize| -> Vec<Outcome> {
            let after = |i| if i < back { Some(20) } else { None };
            let groups: BTreeMap<_, _> = [("lesion", lesion.to_owned())].into();
            (0..of).map(|i| Outcome { groups: groups.clone(), ..outcome(after(i), 50) }).collect()
        };
        let seen = by("lesion", &[cases("SU", 15, 20), cases("WL", 6, 15)].concat());
        let beside = seen[0].beside_others.unwrap();
        let ratio = beside.odds_ratio.unwrap();
        assert!((ratio.value - 4.5).abs() < 1e-9 && (ratio.high - 19.1).abs() < 0.05);
        assert_eq!((beside.back, beside.of), (6, 15));
        assert_eq!(by("lesion", &cases("SU", 15, 20))[0].beside_others, None);
    }

    #[test]
    fn days_gained_count_where_the_lane_was_first() {
        use jiff::civil::date;
        let mut first = outcome(None, 40);
        first.first = (Some(date(2026, 3, 1)), Some(date(2026, 3, 9)));
        let mut late = outcome(None, 40);
        late.first = (Some(date(2026, 3, 9)), Some(date(2026, 3, 1)));
        let group = &by("lesion", &[first, late])[0];
        assert_eq!((group.lane_first, group.recorded, group.days_gained), (1, 2, Some(8.0)));
    }

    #[test]
    fn groups_are_held_beside_each_other_by_day_35() {
        // Back on day 30: not by day 28, but by day 35. Ten of ten beside four of twelve.
        let cases = |lesion: &str, back: usize, of: usize| -> Vec<Outcome> {
            let groups: BTreeMap<_, _> = [("lesion", lesion.to_owned())].into();
            (0..of)
                .map(|i| Outcome { groups: groups.clone(), ..outcome((i < back).then_some(30), 50) })
                .collect()
        };
        let seen = by("lesion", &[cases("SU", 10, 10), cases("WL", 4, 12)].concat());
        let others = |group: &Group| group.beside_others.map(|beside| (beside.back, beside.of));
        assert_eq!((others(&seen[0]), others(&seen[1])), (Some((4, 12)), Some((10, 10))));
    }
}
