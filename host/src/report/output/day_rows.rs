//! The day table and the smoothed history as rows: one shape for CSV and JSON.

use crate::record::CowDay;
use crate::record::LaneDay;
use crate::record::finding::cell;
use crate::score::HistoryDay;
use serde::Serialize;
use shared::plate::Leg;

/// One row of the day table. Only what was known by the end of the day is used. Probabilities are 0 to 1.
#[derive(Debug, Serialize)]
pub struct DayRow<'a> {
    animal_id: &'a str,
    date: String,
    flag: crate::record::Flag,
    probability: Option<f64>,
    leg: Option<&'static str>,
    leg_probability: Option<f64>,
    lf_probability: Option<f64>,
    rf_probability: Option<f64>,
    lr_probability: Option<f64>,
    rr_probability: Option<f64>,
    since: Option<String>,
    since_earliest: Option<String>,
    since_latest: Option<String>,
    reasons: String,
    confidence: &'static str,
    advice: String,
    passages: u32,
    block_on: bool,
    days_since_trim: Option<u32>,
}

fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

impl<'a> From<&'a CowDay> for DayRow<'a> {
    fn from(day: &'a CowDay) -> Self {
        let leg = |leg: Leg| day.place.map(|_| rounded(day.leg_probability[leg]));
        Self {
            animal_id: &day.animal.0,
            date: day.date.to_string(),
            flag: day.flag,
            probability: day.probability.map(rounded),
            leg: day.place.map(crate::record::Place::name),
            leg_probability: day.place_probability.map(rounded),
            lf_probability: leg(Leg::LF),
            rf_probability: leg(Leg::RF),
            lr_probability: leg(Leg::LR),
            rr_probability: leg(Leg::RR),
            since: day.since.map(|s| s.1.to_string()),
            since_earliest: day.since.map(|s| s.0.to_string()),
            since_latest: day.since.map(|s| s.2.to_string()),
            reasons: cell(&day.reasons),
            confidence: day.confidence.name(),
            advice: cell(day.advice.as_slice()),
            passages: day.passages,
            block_on: day.block_on,
            days_since_trim: day.days_since_trim,
        }
    }
}

/// One row of the smoothed history: later days are used too.
#[derive(Debug, Serialize)]
pub struct HistoryRow<'a> {
    animal_id: &'a str,
    date: String,
    smoothed_probability: f64,
    smoothed_lame_probability: f64,
    smoothed_leg: Option<&'static str>,
    smoothed_leg_probability: Option<f64>,
    measured: bool,
}

impl<'a> From<&'a HistoryDay> for HistoryRow<'a> {
    fn from(day: &'a HistoryDay) -> Self {
        Self {
            animal_id: &day.animal.0,
            date: day.date.to_string(),
            smoothed_probability: rounded(day.smoothed_probability),
            smoothed_lame_probability: rounded(day.smoothed_lame),
            smoothed_leg: day.place.map(crate::record::Place::name),
            smoothed_leg_probability: day.place_probability.map(rounded),
            measured: day.measured,
        }
    }
}

/// One row of the lanes' own errors.
#[derive(Debug, Serialize)]
pub struct LaneRow<'a> {
    lane: &'a str,
    date: String,
    cows: u32,
    cause: crate::record::LaneCause,
    plate: Option<&'static str>,
    plate_error_pct: Option<f64>,
    front_split_points: f64,
    rear_split_points: f64,
    front_share_pct: f64,
    body_weight_pct: Option<f64>,
    stance_time_pct: f64,
    sway_pct: f64,
    remark: String,
}

impl<'a> From<&'a LaneDay> for LaneRow<'a> {
    fn from(day: &'a LaneDay) -> Self {
        Self {
            lane: &day.lane,
            date: day.date.to_string(),
            cows: day.cows,
            cause: day.cause,
            plate: day.plate.map(crate::record::plate_name),
            plate_error_pct: day.plate_error_pct.map(rounded),
            front_split_points: rounded(day.front_split_points),
            rear_split_points: rounded(day.rear_split_points),
            front_share_pct: rounded(day.front_share_pct),
            body_weight_pct: day.body_weight_pct.map(rounded),
            stance_time_pct: rounded(day.stance_time_pct),
            sway_pct: rounded(day.sway_pct),
            remark: cell(day.remark.as_slice()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Half of the last place goes up: 1234.4 ten-thousandths are 1234, 1234.6 are 1235.
    #[test]
    fn numbers_of_a_row_have_four_decimals() {
        assert_eq!(rounded(0.123_44), 0.1234);
        assert_eq!(rounded(0.123_46), 0.1235);
        assert_eq!(rounded(-0.123_46), -0.1235);
        assert_eq!(rounded(0.000_04), 0.0);
    }
}
