//! Lanes that measure badly.

use super::{Asked, WINDOW_DAYS, sums::Sums};
use host::report::output::Format;
use host::report::text;
use serde::Serialize;

/// Usable and named passages below which a lane measures badly, %. Our choice.
const USABLE_PCT: f64 = 80.0;
const NAMED_PCT: f64 = 90.0;
/// Readings lost beyond which it does, %. Our choice.
const LOST_PCT: f64 = 1.0;
/// Spread of one cow's weight beyond which it does: 1.5 times the published 2.8 % (Alawneh 2011). Our choice.
const WEIGHT_SD_PCT: f64 = 4.2;
/// A plate's error beyond which it does, %. Our choice: twice what is said on the farm.
const PLATE_PCT: f64 = 3.0;

/// One lane.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lane {
    /// The farm's code.
    pub farm: String,
    /// The lane.
    pub lane: String,
    /// Its passages in the last four weeks.
    pub passages: f64,
    /// Those that can be used, %.
    pub usable_pct: f64,
    /// Those with a name, %.
    pub named_pct: f64,
    /// Readings lost, %.
    pub lost_pct: f64,
    /// SD of one cow's weights, % of it, mean of the cows.
    pub weight_sd_pct: Option<f64>,
    /// The plate that is off, as last told.
    pub plate: Option<String>,
    /// By how much, %.
    pub plate_error_pct: Option<f64>,
    /// What is bad, parted by ;
    pub bad: String,
}

fn bad(lane: &Lane) -> String {
    let found = [
        (lane.usable_pct < USABLE_PCT, "few usable"),
        (lane.named_pct < NAMED_PCT, "few named"),
        (lane.lost_pct > LOST_PCT, "readings lost"),
        (lane.weight_sd_pct.is_some_and(|sd| sd > WEIGHT_SD_PCT), "weights spread"),
        (lane.plate_error_pct.is_some_and(|off| off.abs() > PLATE_PCT), "plate off"),
    ];
    found.iter().filter(|(is, _)| *is).map(|(_, what)| *what).collect::<Vec<_>>().join("; ")
}

fn plan() -> String {
    format!(
        "WITH last AS (SELECT farm, max(CAST(date AS INT)) AS last FROM days GROUP BY farm),
              recent AS (SELECT p.* FROM passages p JOIN last l ON l.farm = p.farm
                         WHERE CAST(CAST(p.time AS DATE) AS INT) > l.last - {WINDOW_DAYS}),
              hers AS (SELECT farm, lane, animal_id, stddev(body_weight_kg) / avg(body_weight_kg) AS spread
                       FROM recent WHERE animal_id IS NOT NULL AND quality <> 'unusable' AND body_weight_kg > 0
                       GROUP BY farm, lane, animal_id HAVING count(body_weight_kg) >= 5),
              weights AS (SELECT farm, lane, 100 * avg(spread) AS weight_sd_pct FROM hers GROUP BY farm, lane),
              plates AS (SELECT farm, lane, last_value(plate ORDER BY date) AS plate,
                                last_value(plate_error_pct ORDER BY date) AS plate_error_pct
                         FROM lanes GROUP BY farm, lane),
              counts AS (SELECT farm, lane, count(*) AS passages,
                                100 * avg(CASE WHEN quality = 'unusable' THEN 0.0 ELSE 1.0 END) AS usable_pct,
                                100 * avg(CASE WHEN animal_id IS NULL THEN 0.0 ELSE 1.0 END) AS named_pct,
                                100.0 * sum(lost_readings) / greatest(sum(readings) + sum(lost_readings), 1) AS lost_pct
                         FROM recent GROUP BY farm, lane)
         SELECT c.*, w.weight_sd_pct, p.plate, p.plate_error_pct
         FROM counts c LEFT JOIN weights w ON w.farm = c.farm AND w.lane = c.lane
              LEFT JOIN plates p ON p.farm = c.farm AND p.lane = c.lane ORDER BY c.farm, c.lane"
    )
}

/// Works it out.
///
/// # Errors
/// When the rows cannot be read.
pub async fn ask(asked: &Asked) -> anyhow::Result<Vec<Lane>> {
    let sums = Sums::of(&asked.session, &plan()).await?;
    let (farms, lanes, plates) = (sums.text("farm")?, sums.text("lane")?, sums.text("plate")?);
    let [passages, usable, named, lost, spread, off] =
        ["passages", "usable_pct", "named_pct", "lost_pct", "weight_sd_pct", "plate_error_pct"]
            .map(|name| sums.numbers(name));
    let (passages, usable, named, lost, spread, off) = (passages?, usable?, named?, lost?, spread?, off?);
    let known = |number: f64| Some(number).filter(|number| !number.is_nan());
    let lane = |row: usize| {
        let mut lane = Lane {
            farm: farms[row].clone(),
            lane: lanes[row].clone(),
            passages: passages[row],
            usable_pct: usable[row],
            named_pct: named[row],
            lost_pct: lost[row],
            weight_sd_pct: known(spread[row]),
            plate: Some(plates[row].clone()).filter(|plate| !plate.is_empty()),
            plate_error_pct: known(off[row]),
            bad: String::new(),
        };
        lane.bad = bad(&lane);
        lane
    };
    let rows: Vec<Lane> = (0..sums.len()).map(lane).collect();
    Ok(rows)
}

/// Prints it.
///
/// # Errors
/// When it cannot be written.
pub fn print(rows: &[Lane], format: Format) -> anyhow::Result<()> {
    format.print(
        &rows,
        |table| table.rows(rows),
        || {
            let mut table = text::table(&[
                "farm",
                "lane",
                "usable %",
                "named %",
                "lost %",
                "weight SD %",
                "plate",
                "bad",
            ]);
            text::align_right(&mut table, &[2, 3, 4, 5]);
            let worse: Vec<&Lane> = rows.iter().filter(|lane| !lane.bad.is_empty()).collect();
            for lane in &worse {
                let plate = lane.plate.as_ref().zip(lane.plate_error_pct);
                table.add_row([
                    lane.farm.clone(),
                    lane.lane.clone(),
                    format!("{:.0}", lane.usable_pct),
                    format!("{:.0}", lane.named_pct),
                    format!("{:.1}", lane.lost_pct),
                    lane.weight_sd_pct.map_or_else(String::new, |sd| format!("{sd:.1}")),
                    plate.map_or_else(String::new, |(plate, off)| format!("{plate} {off:+.1} %")),
                    lane.bad.clone(),
                ]);
            }
            let table = if worse.is_empty() { String::new() } else { text::render(&table) };
            Ok(format!(
                "{table}{} of {} lanes measure badly, last {WINDOW_DAYS} days of each farm\n",
                worse.len(),
                rows.len()
            ))
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn good() -> Lane {
        Lane {
            farm: "f".into(),
            lane: "l".into(),
            passages: 100.0,
            usable_pct: USABLE_PCT,
            named_pct: NAMED_PCT,
            lost_pct: LOST_PCT,
            weight_sd_pct: Some(WEIGHT_SD_PCT),
            plate: Some("RR".into()),
            plate_error_pct: Some(-PLATE_PCT),
            bad: String::new(),
        }
    }

    #[test]
    fn each_limit_has_two_sides() {
        assert_eq!(bad(&good()), "");
        assert_eq!(bad(&Lane { usable_pct: 79.9, ..good() }), "few usable");
        assert_eq!(bad(&Lane { named_pct: 89.9, ..good() }), "few named");
        assert_eq!(bad(&Lane { lost_pct: 1.1, ..good() }), "readings lost");
        assert_eq!(bad(&Lane { weight_sd_pct: Some(4.3), ..good() }), "weights spread");
        assert_eq!(bad(&Lane { plate_error_pct: Some(-3.1), ..good() }), "plate off");
        assert_eq!(bad(&Lane { usable_pct: 1.0, named_pct: 1.0, ..good() }), "few usable; few named");
        assert_eq!(bad(&Lane { weight_sd_pct: None, plate_error_pct: None, ..good() }), "");
    }
}
