//! Days to a flag against needless looks: what each limit of the probability would give, and what the flags gave.

use crate::evaluate::Judged;
use crate::evaluate::timing::{FalseAlarms, Onset, false_alarms, median_days, onsets};
use serde::Serialize;
use shared::lane_score::judge::FLAG_OFF;

/// Limits shown.
pub const LIMITS: [f64; 8] = [0.15, 0.21, 0.30, 0.40, 0.50, 0.60, 0.72, 0.84];

/// One point: a limit, or the tool's own flags.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PricePoint {
    /// `check` from this probability up; `None` = the flags as they were.
    pub limit: Option<f64>,
    /// New flags on cows that were not lame, per 100 cows a week.
    pub needless_looks: Option<f64>,
    /// Times that a cow became lame on a known day, and those never flagged before she was sound again.
    pub onsets: usize,
    /// See `onsets`.
    pub never_flagged: usize,
    /// Median days to the flag.
    pub days_sudden: Option<f64>,
    /// See `days_sudden`.
    pub days_slow: Option<f64>,
}

/// The points: limits upwards, then the flags as they were. `rows` come cow by cow, each in time order.
#[must_use]
pub fn curve(rows: &[Judged]) -> Vec<PricePoint> {
    LIMITS.into_iter().map(Some).chain([None]).map(|limit| point(rows, limit)).collect()
}

/// What a limit gives, or the flags as they were.
#[must_use]
pub fn point(rows: &[Judged], limit: Option<f64>) -> PricePoint {
    let mut all: Vec<Onset> = Vec::new();
    let mut sum = FalseAlarms::default();
    for cow in rows.chunk_by(|a, b| a.cow == b.cow) {
        let mut cow = cow.to_vec();
        if let Some(limit) = limit {
            let mut up = false;
            for row in &mut cow {
                up = row.probability.is_some_and(|p| p >= if up { FLAG_OFF * limit } else { limit });
                row.flagged = up;
            }
        }
        all.extend(onsets(&cow));
        let alarms = false_alarms(&cow);
        sum.sound_days += alarms.sound_days;
        sum.alarms += alarms.alarms;
    }
    PricePoint {
        limit,
        needless_looks: sum.per_100_cow_weeks(),
        onsets: all.len(),
        never_flagged: all.iter().filter(|onset| onset.days_to_flag.is_none()).count(),
        days_sudden: median_days(all.iter().filter(|onset| !onset.slow)),
        days_slow: median_days(all.iter().filter(|onset| onset.slow)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::{ToSpan, civil::date};

    /// A row a day: true score and probability.
    fn rows(cow: usize, of: &[(f64, f64)]) -> Vec<Judged> {
        let row = |(day, &(score, p)): (i64, &(f64, f64))| Judged {
            probability: Some(p),
            ..Judged::plain(cow, date(2026, 3, 1).saturating_add(day.days()), score, p >= 0.6)
        };
        (0..).zip(of).map(row).collect()
    }

    #[test]
    fn a_lower_limit_finds_her_sooner_and_costs_more_looks() {
        let mut all = rows(0, &[(0.0, 0.1), (2.0, 0.25), (2.0, 0.45), (2.0, 0.7)]);
        // A sound cow goes over 0.3 once, wobbles above half of it, comes down and goes over it again.
        all.extend(rows(1, &[(0.0, 0.1), (0.0, 0.31), (0.0, 0.16), (0.0, 0.1), (0.0, 0.32)]));
        let points = curve(&all);
        let at = |limit| *points.iter().find(|point| point.limit == limit).unwrap();
        assert_eq!((at(Some(0.21)).days_sudden, at(Some(0.30)).days_sudden), (Some(0.0), Some(1.0)));
        assert_eq!((at(Some(0.60)).days_sudden, at(None).days_sudden), (Some(2.0), Some(2.0)));
        // Two new flags in six sound days.
        assert!((at(Some(0.30)).needless_looks.unwrap() - 700.0 * 2.0 / 6.0).abs() < 1e-9);
        assert_eq!(at(Some(0.60)).needless_looks, Some(0.0));
        assert_eq!((at(Some(0.84)).never_flagged, at(Some(0.84)).onsets), (1, 1));
    }
}
