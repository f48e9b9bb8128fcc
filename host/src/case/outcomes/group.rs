//! Before and after over many cows: what is seen here, never what caused it.

use crate::arithmetic::statistics;
use crate::case::outcomes::mixed;
use crate::case::outcomes::mixed::MixedRow;
use crate::case::outcomes::paired::{Paired, paired, wilcoxon};
use crate::record::finding::{GroupFinding, Load, one_code};
use serde::Serialize;
use std::collections::BTreeMap;

/// Fewest cows to say anything of a group (our choice).
const LEAST_COWS: usize = 5;

/// The change of one case.
#[derive(Clone, Debug)]
pub struct CaseChange {
    /// The cow.
    pub animal: String,
    /// What it is counted under.
    pub group: String,
    /// Change of the treated leg's load, % of usual, the block's effect taken out.
    pub change: f64,
}

/// What a group of cases shows.
#[derive(Clone, Debug, Serialize)]
pub struct GroupChange {
    /// The group.
    pub group: String,
    /// Cases.
    pub cases: usize,
    /// Cows.
    pub cows: usize,
    /// Mean change, cows with several cases counted as one cow: a random intercept for each cow.
    pub change_pct: f64,
    /// Its 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Minimal detectable change of one cow, 95 %: 1.96 SD of the changes.
    pub detectable_pct: f64,
    /// Two-sided p of Wilcoxon's signed ranks over the cows' mean changes.
    pub wilcoxon_p: f64,
    /// What that says.
    #[serde(serialize_with = "one_code")]
    pub finding: GroupFinding,
}

/// Groups of changes, each clustered by cow; groups with too few cows are told so.
#[must_use]
pub fn groups(changes: &[CaseChange]) -> Vec<GroupChange> {
    let mut by_group: BTreeMap<&str, Vec<&CaseChange>> = BTreeMap::new();
    for change in changes {
        by_group.entry(&change.group).or_default().push(change);
    }
    by_group.into_iter().map(|(name, changes)| group(name, &changes)).collect()
}

fn group(name: &str, changes: &[&CaseChange]) -> GroupChange {
    let mut cows: Vec<&str> = changes.iter().map(|c| c.animal.as_str()).collect();
    cows.sort_unstable();
    cows.dedup();
    let values: Vec<f64> = changes.iter().map(|c| c.change).collect();
    let by_cow: Vec<f64> = cows
        .iter()
        .map(|cow| {
            let own: Vec<f64> = changes.iter().filter(|c| c.animal == *cow).map(|c| c.change).collect();
            statistics::mean(&own)
        })
        .collect();
    let result = |mean: f64, half: f64, detectable: f64, finding| GroupChange {
        group: name.to_owned(),
        cases: changes.len(),
        cows: cows.len(),
        change_pct: mean,
        low: mean - half,
        high: mean + half,
        detectable_pct: detectable,
        wilcoxon_p: wilcoxon(&by_cow),
        finding,
    };
    let simple = paired(&values);
    let Some(Paired { mean, detectable, .. }) = simple.filter(|_| cows.len() >= LEAST_COWS) else {
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        return result(mean, f64::NAN, f64::NAN, GroupFinding::FewCows { cows: LEAST_COWS });
    };
    let rows: Vec<MixedRow> = changes
        .iter()
        .map(|c| MixedRow {
            cow: cows.partition_point(|cow| *cow < c.animal.as_str()),
            columns: vec![1.0],
            value: c.change,
        })
        .collect();
    let t = student(cows.len() - 1);
    let (mean, half) = mixed::fit(&rows).map_or_else(
        || (mean, simple.map_or(f64::NAN, |p| p.interval.high - p.mean)),
        |m| (m.effects[0], t * m.errors[0]),
    );
    let change = Load { pct: mean, low_pct: mean - half, high_pct: mean + half };
    let finding = if change.low_pct > 0.0 {
        GroupFinding::More { change }
    } else if change.high_pct < 0.0 {
        GroupFinding::Less { change }
    } else {
        GroupFinding::NoChange
    };
    result(mean, half, detectable, finding)
}

fn student(freedom: usize) -> f64 {
    use statrs::distribution::{ContinuousCDF, StudentsT};
    StudentsT::new(0.0, 1.0, freedom.max(1) as f64)
        .map_or(crate::arithmetic::statistics::Z95, |t| t.inverse_cdf(0.975))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn changes(of: &[(&str, f64)]) -> Vec<CaseChange> {
        of.iter().map(|(a, c)| CaseChange { animal: (*a).into(), group: "trim".into(), change: *c }).collect()
    }

    #[test]
    fn a_clear_change_is_told_without_a_cause() {
        let seen =
            groups(&changes(&[("1", 9.0), ("2", 11.0), ("3", 12.0), ("4", 8.0), ("5", 10.0), ("5", 10.5)]));
        assert_eq!((seen[0].cases, seen[0].cows), (6, 5));
        assert!(seen[0].low > 7.0 && seen[0].high < 13.0);
        assert!(matches!(seen[0].finding, GroupFinding::More { .. }));
    }

    #[test]
    fn repeats_of_one_cow_do_not_make_many_cows() {
        let seen =
            groups(&changes(&[("1", 9.0), ("1", 9.1), ("1", 9.2), ("2", 2.0), ("2", 2.1), ("2", 2.2)]));
        assert!(seen[0].low.is_nan());
        assert_eq!(seen[0].finding, GroupFinding::FewCows { cows: LEAST_COWS });
    }
}
