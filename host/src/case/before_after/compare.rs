//! One cow before and after a day: every measure, every leg, and the verdict.

use crate::arithmetic::dates::days_between;
use crate::arithmetic::statistics::{Estimated, median};
use crate::case::before_after::kalman::{CasePhase, LoadKind, Observation};
use crate::case::before_after::lost;
use crate::case::before_after::model::{Fit, Prior};
use crate::case::before_after::series::{BASELINE_MOST, LegSeries, Plan, series};
use crate::case::before_after::verdict::{CaseAnswer, Facts, LegCourse, judge, lowest_before};
use crate::record::Passage;
use crate::record::finding::{CourseReason, Verdict};
use jiff::civil::Date;
use rayon::prelude::*;
use serde::Serialize;
use shared::plate::{Leg, Pair, PerLeg};

/// Values of the noise in the scale of the fit: keeps its priors in proportion for any unit (our choice).
const NOISE_SCALE: f64 = 5.0;
/// Fewest values of a measure in each window (our choice).
const LEAST_VALUES: usize = 3;
/// Days at the end that tell whether she is restless now (our choice).
const LATE_DAYS: i32 = 7;

/// A measure of a passage that is compared.
#[derive(Clone, Copy, Debug)]
pub struct ComparedMeasure {
    /// Its name, with the unit.
    pub name: &'static str,
    /// Decimals worth printing.
    pub decimals: usize,
    read: fn(&Passage) -> Option<f32>,
}

macro_rules! share {
    ($leg:ident) => {
        |p| p.summary.standing.map(|s| s.share_pct[Leg::$leg])
    };
}
macro_rules! peak {
    ($leg:ident) => {
        |p| (p.summary.walking[Leg::$leg].count > 0).then_some(p.summary.walking[Leg::$leg].peak_pct)
    };
}

/// What is compared, in the order of the table.
pub const MEASURES: [ComparedMeasure; 18] = [
    ComparedMeasure { name: "lf_share_pct", decimals: 1, read: share!(LF) },
    ComparedMeasure { name: "rf_share_pct", decimals: 1, read: share!(RF) },
    ComparedMeasure { name: "lr_share_pct", decimals: 1, read: share!(LR) },
    ComparedMeasure { name: "rr_share_pct", decimals: 1, read: share!(RR) },
    ComparedMeasure {
        name: "front_lwr",
        decimals: 2,
        read: |p| p.summary.standing.and_then(|s| s.lwr(Pair::Front)),
    },
    ComparedMeasure {
        name: "rear_lwr",
        decimals: 2,
        read: |p| p.summary.standing.and_then(|s| s.lwr(Pair::Rear)),
    },
    ComparedMeasure {
        name: "front_si_pct",
        decimals: 1,
        read: |p| p.summary.standing.and_then(|s| s.si_pct(Pair::Front)),
    },
    ComparedMeasure {
        name: "rear_si_pct",
        decimals: 1,
        read: |p| p.summary.standing.and_then(|s| s.si_pct(Pair::Rear)),
    },
    ComparedMeasure {
        name: "front_share_pct",
        decimals: 1,
        read: |p| p.summary.standing.map(|s| s.front_pct()),
    },
    ComparedMeasure {
        name: "shifts_per_min",
        decimals: 1,
        read: |p| p.summary.standing.and_then(|s| s.shifts_per_min()),
    },
    ComparedMeasure {
        name: "lifts_per_min",
        decimals: 1,
        read: |p| p.summary.standing.and_then(|s| s.lifts_per_min()),
    },
    ComparedMeasure { name: "lf_peak_pct", decimals: 1, read: peak!(LF) },
    ComparedMeasure { name: "rf_peak_pct", decimals: 1, read: peak!(RF) },
    ComparedMeasure { name: "lr_peak_pct", decimals: 1, read: peak!(LR) },
    ComparedMeasure { name: "rr_peak_pct", decimals: 1, read: peak!(RR) },
    ComparedMeasure { name: "front_impulse_si_pct", decimals: 1, read: |p| impulse_si(p, Pair::Front) },
    ComparedMeasure { name: "rear_impulse_si_pct", decimals: 1, read: |p| impulse_si(p, Pair::Rear) },
    ComparedMeasure { name: "body_weight_kg", decimals: 0, read: |p| p.summary.body_weight.map(|w| w.value) },
];

fn impulse_si(passage: &Passage, pair: Pair) -> Option<f32> {
    let (left, right) = pair.legs();
    let walking = &passage.summary.walking;
    (walking[left].count > 0 && walking[right].count > 0)
        .then(|| {
            shared::analysis::summary::symmetry_index_pct(
                walking[left].impulse_pct_s,
                walking[right].impulse_pct_s,
            )
        })
        .flatten()
}

/// A measure before and after, as measured: a block's own effect is in it.
#[derive(Clone, Debug, Serialize)]
pub struct MeasureChange {
    /// The measure's name, with its unit.
    pub measure: &'static str,
    /// Mean of the window before.
    pub before: f64,
    /// Mean of the settled window after.
    pub after: f64,
    /// The model's estimate of the change: it allows for passages of one time being alike, so that it need not be
    /// `after` less `before` to the digit.
    pub change_estimate: f64,
    /// Its 95 % interval, allowing for the correlation between passages.
    pub change_low: f64,
    /// Upper end.
    pub change_high: f64,
    /// Minimal detectable change of the two means, 95 %.
    pub least_telling_change: f64,
    /// Passages before.
    pub passages_before: usize,
    /// Settled passages after.
    pub passages_after: usize,
    /// Decimals worth printing.
    #[serde(skip)]
    pub decimals: usize,
}

/// The course of a leg, for people and programs: % above or below its usual load, the block's effect taken out.
#[derive(Clone, Debug, Serialize)]
pub struct LegResult {
    /// Name of the leg.
    pub leg: &'static str,
    /// Just before the treatment.
    pub before_pct: Estimated,
    /// Now: the distance left to her baseline.
    pub now_pct: Estimated,
    /// Mean of the settled window after less mean of the window before.
    pub change_pct: Estimated,
    /// Half-width of her normal range: 95 % of her days while sound.
    pub normal_range_pct: f64,
    /// Probability that the leg is back within it.
    pub back_probability: f64,
    /// Half-time of recovery, days, where there was something to recover from; an open upper end is null.
    pub half_time_days: Option<Estimated>,
    /// Effect of the block on this leg while it was on.
    pub block_effect_pct: Option<Estimated>,
    /// Passages of the baseline, before, and settled after.
    pub passages: [usize; 3],
}

/// A block, as the first line says it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BlockState {
    /// The leg it is or was on.
    pub leg: &'static str,
    /// The day it was put on.
    pub since: Date,
    /// First day without it; where nobody entered it, the day it is due off.
    pub off: Option<Date>,
    /// Whether it may be on on the last day used.
    pub on: bool,
    /// It was due off by then, and nobody has said whether it is.
    pub end_not_reported: bool,
}

/// Before and after.
#[derive(Clone, Debug, Serialize)]
pub struct Comparison {
    /// The cow.
    pub animal_id: String,
    /// The day of the treatment.
    pub at: Date,
    /// The last day used.
    pub until: Date,
    /// Days from one to the other.
    pub days_since_trim: i32,
    /// The latest block of the cow, if there was one.
    pub block: Option<BlockState>,
    /// Treated leg: as recorded, else the one that was clearly low before.
    pub leg: Option<&'static str>,
    /// How it goes.
    pub verdict: CaseAnswer,
    /// What most such cases have left of the deviation by now: fast tenth and slow tenth, as a part of 1.
    pub usual_left: (f64, f64),
    /// Own cases of the farm behind that; 0 = our choice.
    pub usual_of_own_cases: usize,
    /// Whether these had the same lesion.
    pub usual_of_same_lesion: bool,
    /// Legs.
    pub legs: Vec<LegResult>,
    /// First passage after the day of the treatment: rear and front symmetry index, %.
    pub first_after: Option<FirstAfter>,
    /// Measures.
    pub measures: Vec<MeasureChange>,
    /// Passages of the unsettled days: kept, shown, not judged.
    pub unsettled_passages: usize,
}

/// The first passage after the treatment.
#[derive(Clone, Debug, Serialize)]
pub struct FirstAfter {
    /// Its day.
    pub date: Date,
    /// Leg shares, % of body weight, where she stood.
    pub share_pct: Option<[f32; 4]>,
}

/// What is asked.
#[derive(Clone, Debug)]
pub struct Question<'a> {
    /// The cow's passages in order of time.
    pub passages: &'a [Passage],
    /// Windows and blocks.
    pub plan: Plan,
    /// The treated leg, where one is recorded.
    pub leg: Option<Leg>,
    /// What the farm's own cases and the published ones teach.
    pub prior: Prior,
}

/// The courses of all legs, and the series behind them.
#[must_use]
pub fn courses(question: &Question<'_>) -> (PerLeg<Option<LegCourse>>, PerLeg<LegSeries>) {
    let all = series(question.passages, &question.plan);
    let course = |leg: Leg| {
        let s = &all[leg];
        let count = |phase| {
            let mut days: Vec<u64> =
                s.observations.iter().filter(|o| o.phase == phase).map(|o| o.day.to_bits()).collect();
            days.dedup();
            days.len()
        };
        Fit::new(&s.observations, &question.prior).map(|fit| LegCourse {
            leg,
            fit,
            normal_range: s.normal_range,
            block_now: s.observations.last().map_or(0.0, |o| o.block),
            passages: [count(CasePhase::Baseline), count(CasePhase::Before), count(CasePhase::After)],
        })
    };
    let mut found: Vec<Option<LegCourse>> = Leg::ALL.into_par_iter().map(course).collect();
    (PerLeg(Leg::ALL.map(|leg| found[leg as usize].take())), all)
}

/// Judges a case from its courses.
#[must_use]
pub fn verdict(
    question: &Question<'_>,
    legs: &PerLeg<Option<LegCourse>>,
    all: &PerLeg<LegSeries>,
) -> (Option<Leg>, CaseAnswer) {
    let plan = &question.plan;
    let leg = question.leg.or_else(|| lowest_before(legs));
    let judged = leg.unwrap_or(Leg::LF);
    let block = blocks_on(plan, judged).last();
    let on = block.filter(|b| b.covers(plan.until));
    let lost_since = on.and_then(|_| {
        let step = lost::sudden_step(&all[judged].observations, &all[judged.opposite()].observations)?;
        Some(plan.at.saturating_add(jiff::Span::new().days(step.day.floor() as i32)))
    });
    let mut answer = judge(&Facts {
        treated: judged,
        legs,
        at: plan.at,
        days_since: days_between(plan.at, plan.until),
        block_until: on.map(|b| b.due.or(b.off).unwrap_or(plan.until)),
        block_unreported: on.and_then(|b| b.unreported(plan.until)),
        lost_since,
        half_time: question.prior.half_time,
        restless: restless(question.passages, plan),
        until: plan.until,
    });
    if leg.is_none() && answer.verdict == Verdict::AsExpected {
        answer.reason = CourseReason::NoLegLow;
    }
    (leg, answer)
}

/// Compares a cow before and after.
#[must_use]
pub fn compare(animal: &str, question: &Question<'_>) -> Comparison {
    let plan = &question.plan;
    let (legs, all) = courses(question);
    let (leg, verdict) = verdict(question, &legs, &all);
    let trusted = || question.passages.iter().filter(|p| p.summary.quality.trusted());
    let days = days_between(plan.at, plan.until);
    Comparison {
        animal_id: animal.to_owned(),
        at: plan.at,
        until: plan.until,
        days_since_trim: days,
        block: plan.blocks.iter().filter(|b| b.from <= plan.until).max_by_key(|b| b.from).map(|b| {
            BlockState {
                leg: b.leg.name(),
                since: b.from,
                off: b.due.or(b.off),
                on: b.covers(plan.until),
                end_not_reported: b.unreported(plan.until).is_some(),
            }
        }),
        leg: leg.map(Leg::name),
        verdict,
        usual_left: crate::case::before_after::learn::band(question.prior.half_time, f64::from(days)),
        usual_of_own_cases: question.prior.own_cases,
        usual_of_same_lesion: question.prior.own_lesion,
        legs: legs.0.iter().flatten().map(|course| leg_result(course, &all[course.leg])).collect(),
        first_after: trusted()
            .find(|p| p.date > plan.at && p.date <= plan.until)
            .map(|p| FirstAfter { date: p.date, share_pct: p.summary.standing.map(|s| s.share_pct.0) }),
        measures: MEASURES.par_iter().filter_map(|measure| measure_change(measure, question)).collect(),
        unsettled_passages: trusted()
            .filter(|p| {
                (0..=crate::case::before_after::series::UNSETTLED_DAYS)
                    .contains(&days_between(plan.at, p.date))
            })
            .count(),
    }
}

fn leg_result(course: &LegCourse, series: &LegSeries) -> LegResult {
    let fit = &course.fit;
    let before = fit.at_treatment();
    let acting = series.observations.iter().rev().find(|o| o.block != 0.0).map(|o| o.block);
    LegResult {
        leg: course.leg.name(),
        before_pct: before.interval(),
        now_pct: fit.now().interval(),
        change_pct: fit.change().interval(),
        normal_range_pct: course.normal_range,
        back_probability: course.back(),
        half_time_days: (before.below(-course.normal_range) > 0.5).then(|| fit.half_time()),
        block_effect_pct: acting
            .map(|sign| fit.sum(&[(crate::case::before_after::kalman::state::BLOCK, sign)]).interval()),
        passages: course.passages,
    }
}

fn blocks_on(
    plan: &Plan,
    leg: Leg,
) -> impl DoubleEndedIterator<Item = &crate::case::before_after::series::BlockDays> {
    plan.blocks.iter().filter(move |b| b.leg == leg && b.from <= plan.until)
}

/// Change of one measure, as measured; `None` with too few values.
#[must_use]
pub fn measure_change(measure: &ComparedMeasure, question: &Question<'_>) -> Option<MeasureChange> {
    let values: Vec<(CasePhase, f64, f64)> = question
        .passages
        .iter()
        .filter(|p| p.summary.quality.trusted())
        .filter_map(|p| {
            let phase = question.plan.phase(p.date)?;
            let value = f64::from((measure.read)(p).filter(|v| v.is_finite())?);
            Some((phase, p.time.as_millisecond() as f64 / 86_400_000.0, value))
        })
        .collect();
    let of = |phase| values.iter().filter(move |v| v.0 == phase).map(|v| v.2);
    let (n_before, n_after) = (of(CasePhase::Before).count(), of(CasePhase::After).count());
    if n_before < LEAST_VALUES || n_after < LEAST_VALUES {
        return None;
    }
    let mean = |phase, n: usize| of(phase).sum::<f64>() / n as f64;
    let (before, after) = (mean(CasePhase::Before, n_before), mean(CasePhase::After, n_after));
    let noise = within_sd(&values, before, after);
    let scale = if noise > 0.0 { NOISE_SCALE / noise } else { 1.0 };
    // Her sound days tell how her usual value swings; the latest are enough.
    let sound = of(CasePhase::Baseline).count();
    let usual = if sound < LEAST_VALUES { before } else { mean(CasePhase::Baseline, sound) };
    let too_old = sound.saturating_sub(BASELINE_MOST);
    let observations: Vec<Observation> = values[too_old..]
        .iter()
        .map(|&(phase, day, value)| Observation {
            day,
            value: (value - usual) * scale,
            variance: 0.0,
            count: 1.0,
            kind: LoadKind::Standing,
            phase,
            block: 0.0,
        })
        .collect();
    let fit = Fit::level(&observations)?;
    let change = fit.change().interval();
    Some(MeasureChange {
        measure: measure.name,
        before,
        after,
        change_estimate: change.value / scale,
        change_low: change.low / scale,
        change_high: change.high / scale,
        least_telling_change: fit.least_telling(&observations) / scale,
        passages_before: n_before,
        passages_after: n_after,
        decimals: measure.decimals,
    })
}

fn within_sd(values: &[(CasePhase, f64, f64)], before: f64, after: f64) -> f64 {
    let judged = || values.iter().filter(|v| v.0 != CasePhase::Baseline);
    let squares: f64 =
        judged().map(|v| (v.2 - if v.0 == CasePhase::Before { before } else { after }).powi(2)).sum();
    (squares / (judged().count() as f64 - 2.0).max(1.0)).sqrt()
}

/// Whether she shifted her weight more in the last days than in nearly all of her sound passages.
fn restless(passages: &[Passage], plan: &Plan) -> bool {
    let rates = |wanted: fn(CasePhase, i32) -> bool| -> Vec<f64> {
        passages
            .iter()
            .filter(|p| p.summary.quality.trusted())
            .filter(|p| {
                plan.phase(p.date).is_some_and(|phase| wanted(phase, days_between(p.date, plan.until)))
            })
            .filter_map(|p| p.summary.standing.and_then(|s| s.shifts_per_min()).map(f64::from))
            .collect()
    };
    let mut sound = rates(|phase, _| phase == CasePhase::Baseline);
    let mut late = rates(|phase, ago| phase == CasePhase::After && ago < LATE_DAYS);
    if sound.len() < 10 || late.len() < LEAST_VALUES {
        return false;
    }
    sound.sort_by(f64::total_cmp);
    median(&mut late) > sound[sound.len() * 95 / 100]
}
