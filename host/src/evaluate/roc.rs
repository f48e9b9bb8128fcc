//! How well a probability tells lame from sound: ROC and precision-recall curves, AUC with DeLong's interval.

use crate::arithmetic::statistics::Interval;
use crate::arithmetic::statistics::Z95;
use serde::Serialize;

/// Area under the ROC curve with the interval of `DeLong` et al. 1988, rows taken as independent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Auc {
    /// The area.
    pub auc: f64,
    /// Its standard error.
    pub se: f64,
    /// 95 % interval, cut to 0..1.
    pub interval: Interval,
}

/// What a limit at `probability` or above would do.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurvePoint {
    /// The limit.
    pub probability: f64,
    /// Lame rows at or above it.
    pub sensitivity: f64,
    /// Sound rows below it.
    pub specificity: f64,
    /// Lame among the rows at or above it.
    pub precision: f64,
}

/// Midranks of `values`, 1-based.
fn midranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
    let mut ranks = vec![0.0; values.len()];
    let mut start = 0;
    for tie in order.chunk_by(|&a, &b| values[a] == values[b]) {
        let rank = start as f64 + (tie.len() as f64 + 1.0) / 2.0;
        tie.iter().for_each(|&index| ranks[index] = rank);
        start += tie.len();
    }
    ranks
}

/// Sample variance about a mean.
pub(super) fn variance(values: impl Iterator<Item = f64> + Clone, count: f64, mean: f64) -> f64 {
    values.map(|value| (value - mean).powi(2)).sum::<f64>() / (count - 1.0)
}

/// AUC and `DeLong` interval from the values of the lame and of the sound, by midranks (Sun & Xu 2014).
///
/// `None` with fewer than two of either.
#[must_use]
pub fn delong(lame: &[f64], sound: &[f64]) -> Option<Auc> {
    if lame.len() < 2 || sound.len() < 2 {
        return None;
    }
    let (m, n) = (lame.len() as f64, sound.len() as f64);
    let all = midranks(&[lame, sound].concat());
    let (of_lame, of_sound) = all.split_at(lame.len());
    let lame_places: Vec<f64> =
        of_lame.iter().zip(midranks(lame)).map(|(all, own)| (all - own) / n).collect();
    let sound_places: Vec<f64> =
        of_sound.iter().zip(midranks(sound)).map(|(all, own)| 1.0 - (all - own) / m).collect();
    let auc = lame_places.iter().sum::<f64>() / m;
    let se = (variance(lame_places.iter().copied(), m, auc) / m
        + variance(sound_places.iter().copied(), n, auc) / n)
        .sqrt();
    let reach = Z95 * se;
    Some(Auc { auc, se, interval: Interval::clipped(auc - reach, auc + reach) })
}

/// Standard error of an AUC known only with its numbers of lame and sound (Hanley & McNeil 1982).
#[must_use]
pub fn hanley_mcneil_se(auc: f64, lame: f64, sound: f64) -> f64 {
    let (q1, q2) = (auc / (2.0 - auc), 2.0 * auc * auc / (1.0 + auc));
    let squared = auc * auc;
    ((auc * (1.0 - auc) + (lame - 1.0) * (q1 - squared) + (sound - 1.0) * (q2 - squared)) / (lame * sound))
        .sqrt()
}

/// Rows sorted by falling value, for curves and for areas under changing weights.
#[derive(Clone, Debug)]
pub struct Ranked {
    /// Value, lame, cow.
    rows: Vec<(f64, bool, usize)>,
}

impl Ranked {
    /// Sorts the rows (value, lame, cow).
    #[must_use]
    pub fn new(mut rows: Vec<(f64, bool, usize)>) -> Self {
        rows.sort_by(|a, b| b.0.total_cmp(&a.0));
        Self { rows }
    }

    /// AUC with each cow's rows counted `weights[cow]` times. `None` where the lame or the sound weigh nothing.
    #[must_use]
    pub fn auc(&self, weights: &[u32]) -> Option<f64> {
        let (mut lame, mut sound, mut area) = (0.0, 0.0, 0.0);
        for tie in self.rows.chunk_by(|a, b| a.0 == b.0) {
            let (mut up, mut right) = (0.0, 0.0);
            for &(_, is_lame, cow) in tie {
                *if is_lame { &mut up } else { &mut right } += f64::from(weights[cow]);
            }
            area += right * (lame + up / 2.0);
            lame += up;
            sound += right;
        }
        (lame > 0.0 && sound > 0.0).then(|| area / (lame * sound))
    }

    /// Average precision with each cow's rows counted `weights[cow]` times: precision summed over the steps of
    /// sensitivity. `None` where the lame weigh nothing.
    #[must_use]
    pub fn average_precision(&self, weights: &[u32]) -> Option<f64> {
        let (mut lame, mut flagged, mut sum) = (0.0, 0.0, 0.0);
        for tie in self.rows.chunk_by(|a, b| a.0 == b.0) {
            let weight = |row: &(f64, bool, usize)| f64::from(weights[row.2]);
            let up: f64 = tie.iter().filter(|row| row.1).map(weight).sum();
            lame += up;
            flagged += tie.iter().map(weight).sum::<f64>();
            if up > 0.0 {
                sum += up * lame / flagged;
            }
        }
        (lame > 0.0).then(|| sum / lame)
    }

    /// One point for each value, from the highest down.
    #[must_use]
    pub fn curve(&self) -> Vec<CurvePoint> {
        let lame_total = self.rows.iter().filter(|row| row.1).count() as f64;
        let sound_total = self.rows.len() as f64 - lame_total;
        let (mut lame, mut sound) = (0.0, 0.0);
        self.rows
            .chunk_by(|a, b| a.0 == b.0)
            .map(|tie| {
                let up = tie.iter().filter(|row| row.1).count() as f64;
                lame += up;
                sound += tie.len() as f64 - up;
                CurvePoint {
                    probability: tie[0].0,
                    sensitivity: lame / lame_total,
                    specificity: 1.0 - sound / sound_total,
                    precision: lame / (lame + sound),
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::oracle::{assert_near, numbers, recorded_evaluate, recorded_roc};

    #[test]
    fn auc_and_delong_interval_are_those_of_proc_on_its_own_data() {
        let roc = recorded_roc();
        let outcome: Vec<bool> =
            roc["lame"].as_array().unwrap().iter().map(|v| v.as_bool().unwrap()).collect();
        for marker in ["s100b", "ndka", "wfns"] {
            let values = numbers(&roc[marker]["values"]);
            let side = |want: bool| -> Vec<f64> {
                values.iter().zip(&outcome).filter(|(_, lame)| **lame == want).map(|(v, _)| *v).collect()
            };
            let found = delong(&side(true), &side(false)).unwrap();
            assert_near(found.auc, &roc[marker]["auc"], 1e-12);
            assert_near(found.se * found.se, &roc[marker]["variance"], 1e-12);
            assert_near(found.interval.lower, &roc[marker]["lower"], 1e-9);
            assert_near(found.interval.upper, &roc[marker]["upper"], 1e-9);

            let rows = values.iter().zip(&outcome).map(|(&value, &lame)| (value, lame, 0)).collect();
            let ranked = Ranked::new(rows);
            assert_near(ranked.auc(&[1]).unwrap(), &roc[marker]["auc"], 1e-12);
            // pROC's thresholds lie between the values, from the lowest up; the lowest value itself is its -Inf.
            let curve = ranked.curve();
            let sensitivities = numbers(&roc[marker]["sensitivities"]);
            let specificities = numbers(&roc[marker]["specificities"]);
            assert_eq!(curve.len(), sensitivities.len() + 1);
            for (point, (sensitivity, specificity)) in
                curve.iter().rev().skip(1).zip(sensitivities.iter().zip(&specificities))
            {
                assert!((point.sensitivity - sensitivity).abs() < 1e-12);
                assert!((point.specificity - specificity).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn standard_error_from_numbers_alone_is_hanley_and_mcneils() {
        // check-values part 1, 9 #16 (derived from the formula of Hanley & McNeil 1982).
        assert!((hanley_mcneil_se(0.71, 28.0, 29.0) - 0.0689).abs() < 5e-5);
        assert!((hanley_mcneil_se(0.87, 32.0, 10.0) - 0.0556).abs() < 5e-5);
    }

    #[test]
    fn average_precision_is_scikit_learns() {
        let recorded = recorded_evaluate();
        let ranked = Ranked::new(recorded.rows());
        assert_near(ranked.average_precision(&[1]).unwrap(), &recorded.json["average_precision"], 1e-12);
        assert_near(ranked.auc(&[1]).unwrap(), &recorded.json["auc"], 1e-12);
    }

    #[test]
    fn weighting_a_cow_twice_is_writing_her_rows_twice() {
        let rows = vec![(0.9, true, 0), (0.4, false, 0), (0.7, false, 1), (0.2, true, 1), (0.7, true, 2)];
        let twice: Vec<_> = rows.iter().chain(rows.iter().filter(|row| row.2 == 1)).copied().collect();
        let (weighed, written) = (Ranked::new(rows), Ranked::new(twice));
        assert_eq!(weighed.auc(&[1, 2, 1]), written.auc(&[1, 1, 1]));
        assert_eq!(weighed.average_precision(&[1, 2, 1]), written.average_precision(&[1, 1, 1]));
    }

    #[test]
    fn one_lame_row_is_too_few_for_an_interval() {
        assert_eq!(delong(&[0.5], &[0.1, 0.2]), None);
    }
}
