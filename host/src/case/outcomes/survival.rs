//! Kaplan-Meier curves: time to normal, time a block stays on.

use crate::arithmetic::statistics::Z95;
use serde::Serialize;

/// How long one case was watched, and whether the event was seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Watched {
    /// Days.
    pub days: f64,
    /// The event happened then; otherwise nobody knows beyond.
    pub event: bool,
}

/// A step of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurveStep {
    /// Day of the step.
    pub days: f64,
    /// Cases watched just before.
    pub at_risk: usize,
    /// Events.
    pub events: usize,
    /// Part without the event so far.
    pub without: f64,
    /// Standard error of the logarithm of `without` (Greenwood).
    pub log_se: f64,
    /// Pointwise 95 % interval, on the log scale.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The curve: one step for each day with an event.
#[must_use]
pub fn kaplan_meier(cases: &[Watched]) -> Vec<CurveStep> {
    let mut days: Vec<f64> = cases.iter().filter(|c| c.event).map(|c| c.days).collect();
    days.sort_by(f64::total_cmp);
    days.dedup();
    let (mut without, mut variance) = (1.0, 0.0);
    days.into_iter()
        .map(|day| {
            let at_risk = cases.iter().filter(|c| c.days >= day).count();
            let events = cases.iter().filter(|c| c.event && c.days == day).count();
            let (n, d) = (at_risk as f64, events as f64);
            without *= 1.0 - d / n;
            variance += d / (n * (n - d));
            let log_se = f64::sqrt(variance);
            let (low, high) = if without > 0.0 {
                (without * (-Z95 * log_se).exp(), (without * (Z95 * log_se).exp()).min(1.0))
            } else {
                (0.0, 0.0)
            };
            CurveStep { days: day, at_risk, events, without, log_se, low, high }
        })
        .collect()
}

/// Day by which half have had the event; `None` if fewer have.
#[must_use]
pub fn median(curve: &[CurveStep]) -> Option<f64> {
    curve.iter().find(|step| step.without <= 0.5).map(|step| step.days)
}

/// The last step up to a day; `None` before the first.
#[must_use]
pub fn at(curve: &[CurveStep], days: f64) -> Option<&CurveStep> {
    curve.iter().rev().find(|step| step.days <= days)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_agree_with_survival_on_its_aml_data() {
        let oracle: serde_json::Value =
            serde_json::from_str(include_str!("../../../../tests/oracles/case_survival.json")).unwrap();
        for group in ["maintained", "nonmaintained"] {
            let group = &oracle[group];
            let list = |key: &str| group[key].as_array().unwrap();
            let watched: Vec<Watched> = list("time")
                .iter()
                .zip(list("event"))
                .map(|(time, event)| Watched {
                    days: time.as_f64().unwrap(),
                    event: event.as_u64() == Some(1),
                })
                .collect();
            let curve = kaplan_meier(&watched);
            assert_eq!(curve.len(), list("days").len());
            for (i, step) in curve.iter().enumerate() {
                assert_eq!(Some(step.at_risk as u64), list("at_risk")[i].as_u64());
                for (own, key) in [
                    (step.days, "days"),
                    (step.without, "without"),
                    (step.log_se, "log_se"),
                    (step.low, "low"),
                    (step.high, "high"),
                ] {
                    // R leaves the error and the interval open where nobody is left.
                    if let Some(theirs) = list(key)[i].as_f64() {
                        assert!((own - theirs).abs() < 1e-9, "{key} {i}: {own} is not {theirs}");
                    }
                }
            }
            assert_eq!(median(&curve), group["median"].as_f64());
        }
    }
}
