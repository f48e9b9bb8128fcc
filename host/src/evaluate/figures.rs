//! All figures of one evaluation.

use crate::arithmetic::bootstrap::by_cow;
use crate::arithmetic::statistics::Interval;
use crate::evaluate::agreement::{AgreementCounts, Weighting, kappa};
use crate::evaluate::calibration;
use crate::evaluate::calibration::{Band, FittedLine, Said, line, logit, squared_error};
use crate::evaluate::pairing::{Judged, Pairs};
use crate::evaluate::price::{PricePoint, curve as price_curve};
use crate::evaluate::proportion::{Share, npv_at, ppv_at};
use crate::evaluate::roc::{Auc, CurvePoint, Ranked, delong};
use crate::evaluate::timing::{FalseAlarms, Onset, false_alarms, median_days, onsets};
use crate::record::{Flag, Place};
use serde::Serialize;
use std::collections::BTreeMap;

/// Draws of cows for the intervals: our choice, enough for two digits.
pub const DRAWS: usize = 1000;
/// Seed of the draws, so that the same data give the same intervals.
pub const SEED: u64 = 20_260_101;
/// Logits nearer than this share a step when cows are drawn again; the figure itself is exact: our choice.
const LOGIT_STEP: f64 = 0.05;
/// How to evaluate.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Call a cow flagged from this probability up; `None` = by the tool's own flags.
    pub limit: Option<f64>,
    /// The herd's prevalence for the predictive values; `None` = that of the truths.
    pub prevalence: Option<f64>,
    /// Draws of cows.
    pub draws: usize,
    /// Seed of the draws.
    pub seed: u64,
}

impl Default for Options {
    fn default() -> Self {
        Self { limit: None, prevalence: None, draws: DRAWS, seed: SEED }
    }
}

/// One figure with its 95 % intervals.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Figure {
    /// The figure.
    pub value: Option<f64>,
    /// Wilson's or `DeLong`'s interval: every row taken as separate evidence, so too narrow with many days a cow.
    pub by_row: Option<Interval>,
    /// Percentile interval of whole cows drawn again.
    pub by_cow: Option<Interval>,
}

/// What was held against what.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct PairCounts {
    /// Cows with a pair.
    pub cows: usize,
    /// Truths that met a row of the tool.
    pub pairs: usize,
    /// Truths without a row near enough.
    pub without_row: usize,
    /// Lame and judged.
    pub lame: u64,
    /// Not lame and judged.
    pub sound: u64,
    /// Lame, but the tool could not judge.
    pub lame_not_judged: u64,
    /// Not lame, and the tool could not judge.
    pub sound_not_judged: u64,
    /// Pairs with a block on or in the days after a trim.
    pub unsettled: u64,
}

/// The result. Field names are the names of the JSON output; shares are 0..1.
#[derive(Clone, Debug, Serialize)]
pub struct Evaluation {
    /// What was held against what.
    pub tally: PairCounts,
    /// Flagged from this probability up; `None` = the tool's own flags.
    pub limit: Option<f64>,
    /// Prevalence used for `ppv_at_prevalence` and `npv_at_prevalence`.
    pub prevalence: f64,
    /// Each figure by name.
    #[serde(serialize_with = "as_map")]
    pub figures: Vec<(&'static str, Figure)>,
    /// AUC without the pairs that were blocked or unsettled.
    pub auc_settled: Option<Auc>,
    /// ROC and precision-recall curve.
    pub curve: Vec<CurvePoint>,
    /// Calibration curve.
    pub calibration: Vec<Band>,
    /// Times that a cow became lame on a known day.
    pub onsets: Vec<Onset>,
    /// Flags on cows that were not lame.
    pub false_alarms: FalseAlarms,
    /// Days to a flag against needless looks, by limit, and as flagged.
    pub price_curve: Vec<PricePoint>,
    /// Lame and flagged with a known place: row = true place, column = said, both in the order of [`Place::ALL`].
    pub legs: AgreementCounts<6>,
    /// Row = flag clear, watch, check, urgent; column = true score 0, 1, 2, 3.
    pub flags_by_score: AgreementCounts<4>,
}

fn as_map<S: serde::Serializer>(
    figures: &[(&'static str, Figure)],
    serializer: S,
) -> Result<S::Ok, S::Error> {
    serializer.collect_map(figures.iter().map(|(name, figure)| (name, figure)))
}

impl Evaluation {
    /// The figure of a name; empty where there is none.
    #[must_use]
    pub fn figure(&self, name: &str) -> Figure {
        self.figures.iter().find(|(known, _)| *known == name).map(|(_, figure)| *figure).unwrap_or_default()
    }
}

/// What one cow adds to each figure.
#[derive(Clone, Debug, Default)]
struct CowSums {
    caught: f64,
    missed: f64,
    false_flags: f64,
    rightly_clear: f64,
    brier: f64,
    legs_right: f64,
    legs: f64,
    alarms: FalseAlarms,
    onsets: Vec<Onset>,
    classes: AgreementCounts<4>,
}

const NAMES: [&str; 17] = [
    "auc",
    "average_precision",
    "sensitivity",
    "specificity",
    "ppv",
    "npv",
    "ppv_at_prevalence",
    "npv_at_prevalence",
    "brier",
    "calibration_slope",
    "calibration_intercept",
    "leg_right",
    "median_days_to_flag",
    "median_days_to_flag_slow",
    "median_days_to_flag_sudden",
    "false_alarms_per_100_cow_weeks",
    "kappa_quadratic_flag_and_score",
];

fn sums_of(rows: &[Judged]) -> CowSums {
    let mut sums = CowSums { onsets: onsets(rows), alarms: false_alarms(rows), ..CowSums::default() };
    for row in rows.iter().filter(|row| judged(row)) {
        *match (row.lame, row.flagged) {
            (true, true) => &mut sums.caught,
            (true, false) => &mut sums.missed,
            (false, true) => &mut sums.false_flags,
            (false, false) => &mut sums.rightly_clear,
        } += 1.0;
        if let Some(p) = row.probability {
            sums.brier += squared_error(p, row.lame);
        }
        if let (true, true, Some(_), Some(_)) = (row.lame, row.flagged, row.true_place, row.place) {
            sums.legs += 1.0;
            sums.legs_right += f64::from(u8::from(row.true_place == row.place));
        }
        sums.classes[flag_class(row.flag)][(row.true_score.round() as usize).min(3)] += 1.0;
    }
    sums
}

fn judged(row: &Judged) -> bool {
    row.probability.is_some()
}

fn flag_class(flag: Flag) -> usize {
    match flag {
        Flag::Urgent => 3,
        Flag::Check => 2,
        Flag::Watch => 1,
        Flag::Clear | Flag::CannotTell | Flag::NoData => 0,
    }
}

fn ratio(part: f64, of: f64) -> Option<f64> {
    (of > 0.0).then(|| part / of)
}

/// The sums of all cows, each counted as often as it was taken.
fn together(cows: &[CowSums], taken: &[u32]) -> CowSums {
    let mut all = CowSums::default();
    for (cow, &times) in cows.iter().zip(taken).filter(|(_, times)| **times > 0) {
        let weight = f64::from(times);
        all.caught += weight * cow.caught;
        all.missed += weight * cow.missed;
        all.false_flags += weight * cow.false_flags;
        all.rightly_clear += weight * cow.rightly_clear;
        all.brier += weight * cow.brier;
        all.legs_right += weight * cow.legs_right;
        all.legs += weight * cow.legs;
        all.alarms.sound_days += times * cow.alarms.sound_days;
        all.alarms.alarms += times * cow.alarms.alarms;
        all.alarms.flagged_days += times * cow.alarms.flagged_days;
        all.alarms.early += times * cow.alarms.early;
        (0..times).for_each(|_| all.onsets.extend(&cow.onsets));
        for (sum, value) in all.classes.iter_mut().flatten().zip(cow.classes.iter().flatten()) {
            *sum += weight * value;
        }
    }
    all
}

impl CowSums {
    fn figures(
        &self,
        areas: [Option<f64>; 2],
        line: Option<FittedLine>,
        prevalence: Option<f64>,
    ) -> [Option<f64>; NAMES.len()] {
        let sensitivity = ratio(self.caught, self.caught + self.missed);
        let specificity = ratio(self.rightly_clear, self.rightly_clear + self.false_flags);
        let lame = self.caught + self.missed;
        let all = lame + self.rightly_clear + self.false_flags;
        let prevalence = prevalence.or_else(|| ratio(lame, all));
        let at = |value: fn(f64, f64, f64) -> Option<f64>| value(prevalence?, sensitivity?, specificity?);
        let [auc, average_precision] = areas;
        [
            auc,
            average_precision,
            sensitivity,
            specificity,
            ratio(self.caught, self.caught + self.false_flags),
            ratio(self.rightly_clear, self.rightly_clear + self.missed),
            at(ppv_at),
            at(npv_at),
            ratio(self.brier, all),
            line.map(|line| line.slope),
            line.map(|line| line.intercept),
            ratio(self.legs_right, self.legs),
            median_days(self.onsets.iter()),
            median_days(self.onsets.iter().filter(|onset| onset.slow)),
            median_days(self.onsets.iter().filter(|onset| !onset.slow)),
            self.alarms.per_100_cow_weeks(),
            kappa(&self.classes, Weighting::Quadratic),
        ]
    }
}

/// Rows for the line with equal logits of a cow put together: (cow, logit, lame, rows).
fn stepped(rows: &[Judged]) -> Vec<(usize, f64, bool, f64)> {
    let mut counts: BTreeMap<(usize, i64, bool), f64> = BTreeMap::new();
    for row in rows {
        if let Some(p) = row.probability {
            *counts.entry((row.cow, (logit(p) / LOGIT_STEP).round() as i64, row.lame)).or_default() += 1.0;
        }
    }
    counts.into_iter().map(|((cow, step, lame), n)| (cow, step as f64 * LOGIT_STEP, lame, n)).collect()
}

/// Holds the rows against the truths. Rows that the tool could not judge are counted, and left out of the figures.
///
/// # Errors
/// Where nothing can be compared: no pair, or only lame or only sound cows.
pub fn evaluate(pairs: &Pairs, options: &Options) -> anyhow::Result<Evaluation> {
    let mut rows = pairs.rows.clone();
    if let Some(limit) = options.limit {
        rows.iter_mut().for_each(|row| row.flagged = row.probability.is_some_and(|p| p >= limit));
    }
    let count = |lame, is_judged| {
        rows.iter().filter(|row| row.lame == lame && judged(row) == is_judged).count() as u64
    };
    let tally = PairCounts {
        cows: pairs.cows.len(),
        pairs: rows.len(),
        without_row: pairs.without_row,
        lame: count(true, true),
        sound: count(false, true),
        lame_not_judged: count(true, false),
        sound_not_judged: count(false, false),
        unsettled: rows.iter().filter(|row| row.unsettled).count() as u64,
    };
    anyhow::ensure!(
        tally.lame > 0 && tally.sound > 0,
        "nothing to compare: {} truths met a row that judges a lame cow, {} a sound one ({} met no row); \
         enter mobility scores of lame and of sound cows, or give a file with --truth",
        tally.lame,
        tally.sound,
        tally.without_row
    );

    let cows: Vec<CowSums> = rows.chunk_by(|a, b| a.cow == b.cow).map(sums_of).collect();
    let ranked = Ranked::new(rows.iter().filter_map(|r| r.probability.map(|p| (p, r.lame, r.cow))).collect());
    let exact: Vec<_> = rows.iter().filter_map(|r| r.probability.map(|p| (logit(p), r.lame, 1.0))).collect();
    let start = FittedLine { intercept: 0.0, slope: 1.0 };
    let exact_line = line(&exact, start);
    let once = vec![1; cows.len()];
    let sums = together(&cows, &once);
    let areas = |taken: &[u32]| [ranked.auc(taken), ranked.average_precision(taken)];
    let values = sums.figures(areas(&once), exact_line, options.prevalence);

    let steps = stepped(&rows);
    let mut drawn = Vec::with_capacity(steps.len());
    let by_cow = by_cow(cows.len(), options.draws, options.seed, |taken| {
        let line = exact_line.and_then(|start| {
            drawn.clear();
            drawn.extend(
                steps
                    .iter()
                    .filter(|step| taken[step.0] > 0)
                    .map(|&(cow, x, lame, n)| (x, lame, n * f64::from(taken[cow]))),
            );
            line(&drawn, start)
        });
        together(&cows, taken).figures(areas(taken), line, options.prevalence)
    });

    let by_row = by_row(&sums, &rows);
    let figures = NAMES
        .into_iter()
        .enumerate()
        .map(|(i, name)| (name, Figure { value: values[i], by_row: by_row(name), by_cow: by_cow[i] }))
        .collect();
    let settled: Vec<Judged> = rows.iter().filter(|row| !row.unsettled).cloned().collect();
    let mut legs = [[0.0; 6]; 6];
    let order = |place: Place| Place::ALL.iter().position(|known| *known == place);
    for row in rows.iter().filter(|row| row.lame && row.flagged) {
        if let (Some(truth), Some(said)) = (row.true_place.and_then(order), row.place.and_then(order)) {
            legs[truth][said] += 1.0;
        }
    }
    let said =
        rows.iter().filter_map(|row| row.probability.map(|probability| Said { probability, lame: row.lame }));
    Ok(Evaluation {
        tally,
        price_curve: price_curve(&rows),
        limit: options.limit,
        prevalence: options.prevalence.unwrap_or(tally.lame as f64 / (tally.lame + tally.sound) as f64),
        figures,
        auc_settled: delong_of(&settled),
        curve: ranked.curve(),
        calibration: calibration::curve(said),
        false_alarms: sums.alarms,
        legs,
        flags_by_score: sums.classes,
        onsets: sums.onsets,
    })
}

fn delong_of(rows: &[Judged]) -> Option<Auc> {
    let side = |lame| -> Vec<f64> {
        rows.iter().filter(|row| row.lame == lame).filter_map(|row| row.probability).collect()
    };
    delong(&side(true), &side(false))
}

/// The intervals that take every row as separate evidence.
fn by_row(sums: &CowSums, rows: &[Judged]) -> impl Fn(&str) -> Option<Interval> + use<> {
    let wilson = |part: f64, of: f64| Share::new(part as u64, of as u64).map(|share| share.wilson);
    let known = [
        ("auc", delong_of(rows).map(|auc| auc.interval)),
        ("sensitivity", wilson(sums.caught, sums.caught + sums.missed)),
        ("specificity", wilson(sums.rightly_clear, sums.rightly_clear + sums.false_flags)),
        ("ppv", wilson(sums.caught, sums.caught + sums.false_flags)),
        ("npv", wilson(sums.rightly_clear, sums.rightly_clear + sums.missed)),
        ("leg_right", wilson(sums.legs_right, sums.legs)),
    ];
    move |name| known.iter().find(|(other, _)| *other == name).and_then(|(_, interval)| *interval)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::evaluate::oracle::{assert_near, recorded_evaluate};
    use crate::evaluate::pairing::Pairs;
    use crate::record::{AnimalId, Place};
    use jiff::civil::date;
    use shared::plate::Leg;

    /// The recorded probabilities, five rows a cow, as if seen on five days.
    pub fn recorded_pairs() -> Pairs {
        let rows: Vec<Judged> = recorded_evaluate()
            .rows()
            .into_iter()
            .enumerate()
            .map(|(index, (probability, lame, _))| {
                let day = date(2026, 3, 1 + (index % 5) as i8);
                let mut row = Judged::plain(index / 5, day, if lame { 2.0 } else { 0.0 }, probability >= 0.5);
                row.probability = Some(probability);
                row
            })
            .collect();
        let cows = (0..rows.len() / 5).map(|cow| AnimalId(cow.to_string())).collect();
        Pairs { cows, rows, without_row: 3 }
    }

    fn quick() -> Options {
        Options { draws: 200, ..Options::default() }
    }

    #[test]
    fn figures_are_those_of_scikit_learn_and_statsmodels() {
        let recorded = recorded_evaluate().json;
        let found = evaluate(&recorded_pairs(), &quick()).unwrap();
        for (name, theirs, tolerance) in [
            ("auc", "auc", 1e-12),
            ("brier", "brier", 1e-12),
            ("average_precision", "average_precision", 1e-12),
            ("calibration_slope", "slope", 1e-8),
            ("calibration_intercept", "intercept", 1e-8),
        ] {
            assert_near(found.figure(name).value.unwrap(), &recorded[theirs], tolerance);
        }
        for name in [
            "auc",
            "average_precision",
            "sensitivity",
            "specificity",
            "ppv",
            "npv",
            "brier",
            "calibration_slope",
        ] {
            let figure = found.figure(name);
            let (value, interval) = (figure.value.unwrap(), figure.by_cow.unwrap());
            assert!(interval.lower < value && value < interval.upper, "{name}: {figure:?}");
        }
        // Rows are independent here, so drawing groups of five must agree with the theory of single rows.
        let auc = found.figure("auc");
        let (theory, drawn) = (auc.by_row.unwrap(), auc.by_cow.unwrap());
        assert!(((theory.upper - theory.lower) / (drawn.upper - drawn.lower) - 1.0).abs() < 0.3, "{auc:?}");
    }

    #[test]
    fn days_of_one_cow_are_not_taken_as_separate_evidence() {
        // Every row five times over for the same cow: the rows' interval shrinks, the cows' must not.
        let once = recorded_pairs();
        let mut often = once.clone();
        often.rows = once.rows.iter().flat_map(|row| std::iter::repeat_n(row.clone(), 5)).collect();
        let (once, often) = (evaluate(&once, &quick()).unwrap(), evaluate(&often, &quick()).unwrap());
        let width = |interval: Option<Interval>| interval.map(|i| i.upper - i.lower).unwrap();
        assert!(width(often.figure("auc").by_row) < 0.5 * width(once.figure("auc").by_row));
        assert!((width(often.figure("auc").by_cow) - width(once.figure("auc").by_cow)).abs() < 1e-9);
    }

    #[test]
    fn same_seed_same_figures() {
        let found = || evaluate(&recorded_pairs(), &quick()).unwrap().figures;
        assert_eq!(found(), found());
    }

    #[test]
    fn rows_not_judged_are_counted_and_left_out() {
        let mut pairs = recorded_pairs();
        let lame = pairs.rows.iter().position(|row| row.lame).unwrap();
        pairs.rows[lame].probability = None;
        let (all, found) =
            (evaluate(&recorded_pairs(), &quick()).unwrap(), evaluate(&pairs, &quick()).unwrap());
        assert_eq!(found.tally.lame_not_judged, 1);
        assert_eq!(found.tally.lame + 1, all.tally.lame);
        assert_ne!(found.figure("auc").value, all.figure("auc").value);
    }

    #[test]
    fn a_limit_replaces_the_flags_and_a_prevalence_the_sample() {
        let options = Options { limit: Some(0.999), prevalence: Some(0.1), ..quick() };
        let found = evaluate(&recorded_pairs(), &options).unwrap();
        assert!(found.figure("sensitivity").value.unwrap() < 0.1);
        assert_eq!(found.prevalence, 0.1);
        let usual = evaluate(&recorded_pairs(), &Options { prevalence: Some(0.1), ..quick() }).unwrap();
        let (se, sp) =
            (usual.figure("sensitivity").value.unwrap(), usual.figure("specificity").value.unwrap());
        let wanted = se * 0.1 / (se * 0.1 + (1.0 - sp) * 0.9);
        assert!((usual.figure("ppv_at_prevalence").value.unwrap() - wanted).abs() < 1e-12);
        assert!(usual.figure("ppv").value.unwrap() > wanted);
    }

    #[test]
    fn only_sound_cows_is_an_error_that_says_what_to_do() {
        let mut pairs = recorded_pairs();
        pairs.rows.retain(|row| !row.lame);
        let error = evaluate(&pairs, &quick()).unwrap_err().to_string();
        assert!(error.contains("0 truths met a row that judges a lame cow"), "{error}");
    }

    #[test]
    fn legs_are_counted_among_lame_and_flagged_cows() {
        let mut pairs = recorded_pairs();
        let row = pairs.rows.iter().position(|row| row.lame && row.flagged).unwrap();
        pairs.rows[row].true_place = Some(Place::One(Leg::RR));
        pairs.rows[row].place = Some(Place::One(Leg::LR));
        let found = evaluate(&pairs, &quick()).unwrap();
        assert_eq!(found.legs[3][2], 1.0);
        assert_eq!(found.figure("leg_right").value, Some(0.0));
    }
}
