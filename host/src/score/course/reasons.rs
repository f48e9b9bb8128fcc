//! The answer as findings: where, since when, why, how sure, and what would settle it.

use crate::record::finding::{Advice, Confidence, FlagReason};
use crate::record::{CowDay, Flag, Place};
use crate::score::course::flag::Grounds;
use crate::score::course::history::likeliest_place;
use crate::score::evidence::charts::Ewma;
use crate::score::evidence::foot_work::WorkStanding;
use crate::score::evidence::identity::{NotHers, OddPassages};
use crate::score::model::cow::{DayMeasure, Filter};
use crate::score::model::features::{MEASURES, Measure, PerMeasure};
use crate::score::model::hypotheses::{Hypotheses, PLACES, parts, sore};
use shared::plate::{Leg, Pair};

/// Weight of today in the recent mean: about the last three days.
const RECENT_WEIGHT: f64 = 0.5;
/// A change is told from this many SD.
const TOLD_SD: f64 = 2.0;
/// Reasons at most.
const MOST_REASONS: usize = 4;
/// Limits of the probability between which an answer is leaned on less.
const UNSURE: (f64, f64) = (0.15, 0.75);
/// Passages from which the confidence may be high: some ten days of two milkings. Our choice.
const MANY_PASSAGES: u32 = 20;

/// Her measures over the last days.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct Recent {
    /// Mean; NaN where never measured.
    pub mean: PerMeasure,
    /// Error variance of that mean.
    pub variance: PerMeasure,
    /// Shifts and lifts a minute of the last day counted.
    pub events: Option<[f64; 6]>,
}

impl Default for Recent {
    fn default() -> Self {
        Self { mean: [f64::NAN; MEASURES], variance: [f64::INFINITY; MEASURES], events: None }
    }
}

impl Recent {
    /// A day comes in.
    pub fn see(&mut self, day: &DayMeasure) {
        for k in 0..MEASURES {
            if day.value[k].is_nan() {
                continue;
            }
            if self.mean[k].is_nan() {
                self.mean[k] = day.value[k];
                self.variance[k] = day.variance[k];
            } else {
                self.mean[k] += RECENT_WEIGHT * (day.value[k] - self.mean[k]);
                self.variance[k] = RECENT_WEIGHT.powi(2) * day.variance[k]
                    + (1.0 - RECENT_WEIGHT).powi(2) * self.variance[k];
            }
        }
        if day.minutes > 0.0 {
            let today = day.events.map(|n| n / day.minutes);
            let before = self.events.unwrap_or(today);
            self.events = Some(std::array::from_fn(|i| before[i] + 0.3 * (today[i] - before[i])));
        }
    }
}

/// What the findings are made from.
pub struct FindingInput<'a> {
    /// Her filter.
    pub filter: &'a Filter,
    /// Her last days.
    pub recent: &'a Recent,
    /// EWMA of front and rear split.
    pub charts: &'a [Ewma; 2],
    /// Who she is.
    pub identity: &'a OddPassages,
    /// Trims and blocks.
    pub standing: &'a WorkStanding,
    /// Passages set aside today.
    pub others: &'a [NotHers],
    /// What the flag rests on.
    pub grounds: &'a Grounds,
    /// The day.
    pub day: i64,
}

/// Where, and each leg's probability.
pub fn place(filter: &Filter, row: &mut CowDay) {
    let Some((place, probability, places)) = likeliest_place(|s| filter.probability[s]) else { return };
    row.place = Some(place);
    row.place_probability = Some(probability);
    for leg in Leg::ALL {
        row.leg_probability[leg] = (0..PLACES).filter(|&p| sore(p, leg)).map(|p| places[p]).sum();
    }
}

/// How sure it is that she was lame by the earliest, the likeliest and the latest first day.
const SINCE: [f32; 3] = [0.1, 0.5, 0.9];

/// First day of the trouble by day number, as [`SINCE`].
#[must_use]
pub fn since(filter: &Filter, hypotheses: &Hypotheses, day: i64) -> Option<[i64; 3]> {
    if filter.lame() < 0.05 {
        return None;
    }
    let days = &filter.chain_days;
    let back = days.iter().rev().map(|day| (&day.probability, &day.seen));
    // The lightest level is below what an observer sees, and without a settled baseline it is hard to tell from sound.
    let well = |s: usize| parts(s).is_none_or(|(_, level)| level == 0);
    let away = hypotheses.alone.away_since(back, SINCE[0], well);
    let days_back = |part: f32| away.iter().rposition(|&a| a >= part).unwrap_or(0);
    Some(SINCE.map(|part| day - days_back(part) as i64))
}

/// Why there are no data.
#[must_use]
pub const fn unseen(passages: u32, days: i64) -> FlagReason {
    if passages == 0 { FlagReason::NoTrustedPassage } else { FlagReason::NotSeen { days } }
}

/// What was set aside.
pub fn not_hers(others: &[NotHers], reasons: &mut Vec<FlagReason>) {
    let passages = others.len();
    reasons.extend(others.first().map(|first| match *first {
        NotHers::Weight(seen_kg, usual_kg) => FlagReason::SetAsideByWeight { passages, seen_kg, usual_kg },
        NotHers::Pattern => FlagReason::SetAsideByLoads { passages },
    }));
}

fn shares(front: f64, front_split: f64, rear_split: f64) -> [f64; 4] {
    let (f, r) = (0.5 * front, 0.5 * (100.0 - front));
    [
        f * (1.0 - front_split / 100.0),
        f * (1.0 + front_split / 100.0),
        r * (1.0 - rear_split / 100.0),
        r * (1.0 + rear_split / 100.0),
    ]
}

struct MovedMeasure {
    measure: Measure,
    now: f64,
    base: f64,
    sd: f64,
}

fn changes(known: &FindingInput<'_>) -> Vec<MovedMeasure> {
    let mut all: Vec<MovedMeasure> = Measure::ALL
        .into_iter()
        .filter(|&m| !known.recent.mean[m as usize].is_nan())
        .map(|measure| {
            let k = measure as usize;
            let level = known.filter.base(k);
            let sd = (known.recent.variance[k] + level.variance).sqrt();
            MovedMeasure {
                measure,
                now: known.recent.mean[k],
                base: level.mean,
                sd: (known.recent.mean[k] - level.mean) / sd,
            }
        })
        .collect();
    all.sort_by(|a, b| b.sd.abs().total_cmp(&a.sd.abs()));
    all
}

fn lighter(change: &MovedMeasure, pair: Pair) -> Leg {
    let (left, right) = pair.legs();
    // A split grows when the right leg gains: the left one then is spared.
    if change.now > change.base { left } else { right }
}

fn reason(change: &MovedMeasure, known: &FindingInput<'_>) -> FlagReason {
    let recent = |m: Measure| known.recent.mean[m as usize];
    let base = |m: Measure| known.filter.base(m as usize).mean;
    let (now_pct, usual_pct, sd) = (change.now, change.base, change.sd);
    let share = |pair: Pair| {
        let leg = lighter(change, pair);
        let now =
            shares(recent(Measure::FrontShare), recent(Measure::FrontSplit), recent(Measure::RearSplit));
        let then = shares(base(Measure::FrontShare), base(Measure::FrontSplit), base(Measure::RearSplit));
        FlagReason::ShareLow { leg, now_pct: now[leg as usize], usual_pct: then[leg as usize], sd: sd.abs() }
    };
    // Leg, the other of the pair, and the leg's value against the other's: a split of s points is an index of 2 s %.
    let split = |pair: Pair| {
        let leg = lighter(change, pair);
        let sign = if matches!(leg, Leg::LF | Leg::LR) { -1.0 } else { 1.0 };
        (leg, leg.opposite(), 2.0 * sign * change.now, 2.0 * sign * change.base, sd.abs())
    };
    let peak = |pair| {
        let (leg, other, now_pct, usual_pct, sd) = split(pair);
        FlagReason::PeakLow { leg, other, now_pct, usual_pct, sd }
    };
    let time = |pair| {
        let (leg, other, now_pct, usual_pct, sd) = split(pair);
        FlagReason::TimeShort { leg, other, now_pct, usual_pct, sd }
    };
    let change_pct = 100.0 * (change.now - change.base).exp_m1();
    match change.measure {
        Measure::FrontSplit => share(Pair::Front),
        Measure::RearSplit => share(Pair::Rear),
        Measure::FrontShare => FlagReason::FrontShare { now_pct, usual_pct, sd },
        Measure::FrontPeak => peak(Pair::Front),
        Measure::RearPeak => peak(Pair::Rear),
        Measure::PeakFront => FlagReason::FrontPeaks { now_pct, usual_pct, sd },
        Measure::FrontTime => time(Pair::Front),
        Measure::RearTime => time(Pair::Rear),
        Measure::FrontSway => FlagReason::Sway { pair: Pair::Front, change_pct, sd },
        Measure::RearSway => FlagReason::Sway { pair: Pair::Rear, change_pct, sd },
        Measure::Slow => FlagReason::Pace { change_pct, sd },
    }
}

fn events(known: &FindingInput<'_>) -> Option<FlagReason> {
    let now = known.recent.events?;
    let her = |i: usize| known.filter.rates[i].per_minute();
    let (shifts, usual) = (now[0] + now[1], her(0) + her(1));
    let (lifts, usual_lifts) = (now[2..].iter().sum::<f64>(), (2..6).map(her).sum::<f64>());
    if shifts > 1.4 * usual && shifts > usual + 1.0 {
        Some(FlagReason::Shifts { now_per_minute: shifts, usual_per_minute: usual })
    } else if lifts > 1.4 * usual_lifts && lifts > usual_lifts + 1.0 {
        Some(FlagReason::Lifts { now_per_minute: lifts, usual_per_minute: usual_lifts })
    } else {
        None
    }
}

fn foot_work(known: &FindingInput<'_>, row: &CowDay) -> Vec<FlagReason> {
    let standing = known.standing;
    let mut found = Vec::new();
    if known.grounds.treated && row.flag == Flag::Urgent {
        let leg = row.place.and_then(|place| if let Place::One(leg) = place { Some(leg) } else { None });
        found.push(FlagReason::MoreThanTreatment { leg });
    }
    match (standing.block, standing.block_overdue, standing.unsettled) {
        (Some(leg), Some(days), _) => found.push(FlagReason::BlockEndNotReported { leg, days }),
        (Some(leg), None, _) => {
            found.push(FlagReason::BlockOn { leg, days: known.day - standing.block_since });
        }
        (None, _, Some(days)) => found.push(FlagReason::FootWork { days }),
        (None, _, None) => {}
    }
    found
}

/// Reasons, confidence and what would settle it.
pub fn write(known: &FindingInput<'_>, row: &mut CowDay) {
    let mut reasons = Vec::new();
    not_hers(known.others, &mut reasons);
    reasons.extend(foot_work(known, row));
    let wanted = row.flag >= Flag::Watch || row.flag == Flag::CannotTell;
    let pair = row.place.map(|place| match place {
        Place::One(leg) => leg.pair(),
        Place::BothFront => Pair::Front,
        Place::BothRear => Pair::Rear,
    });
    for change in changes(known).iter().filter(|c| c.sd.abs() >= TOLD_SD) {
        let elsewhere = match change.measure {
            Measure::FrontSplit | Measure::FrontPeak | Measure::FrontTime => pair == Some(Pair::Rear),
            Measure::RearSplit | Measure::RearPeak | Measure::RearTime => pair == Some(Pair::Front),
            _ => false,
        };
        if wanted && !elsewhere && reasons.len() < MOST_REASONS {
            reasons.push(reason(change, known));
        }
    }
    if wanted && reasons.len() < MOST_REASONS {
        reasons.extend(events(known));
    }
    for (chart, pair) in known.charts.iter().zip([Pair::Front, Pair::Rear]) {
        if wanted && chart.out() && reasons.len() < MOST_REASONS {
            reasons.push(FlagReason::Drift { pair, value_sd: chart.value, limit_sd: chart.limit() });
        }
    }
    if known.grounds.unseen_days > 0 {
        reasons.push(FlagReason::NotSeen { days: known.grounds.unseen_days });
    }
    if reasons.is_empty() {
        reasons.push(if wanted { FlagReason::SeveralSmall } else { FlagReason::AsWhenSound });
    }
    row.reasons = reasons;
    row.confidence = confidence(known, row);
    row.advice = advice(known, row);
}

fn confidence(known: &FindingInput<'_>, row: &CowDay) -> Confidence {
    let p = known.grounds.probability;
    let between = p > UNSURE.0 && p < UNSURE.1;
    if row.flag == Flag::CannotTell || known.grounds.baseline_unsure || known.grounds.treated {
        Confidence::Low
    } else if between || known.grounds.passages < MANY_PASSAGES || known.grounds.unseen_days > 0 {
        Confidence::Fair
    } else {
        Confidence::High
    }
}

fn advice(known: &FindingInput<'_>, row: &CowDay) -> Option<Advice> {
    let grounds = known.grounds;
    Some(if grounds.not_hers || known.identity.odd_days > 0 {
        Advice::ReadTag
    } else if grounds.treated && row.flag == Flag::Urgent {
        Advice::CallVet
    } else if known.standing.block_overdue.is_some() {
        Advice::SayBlock
    } else if known.standing.block.is_some() {
        Advice::RecheckFoot
    } else if grounds.treated {
        Advice::WaitAfterFootWork
    } else if row.flag == Flag::CannotTell {
        let passages = crate::score::settings::FEW_PASSAGES.saturating_sub(grounds.passages).max(2);
        Advice::MorePassages { passages }
    } else if row.flag >= Flag::Check {
        match row.place_probability {
            Some(p) if p < 0.8 => Advice::LiftPair,
            _ => Advice::LiftFoot,
        }
    } else if row.flag == Flag::Watch {
        Advice::NextDays
    } else {
        return None;
    })
}

#[cfg(test)]
mod tests;
