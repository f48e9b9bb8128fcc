//! How the lanes are.

use crate::commands::cli::Format;
use crate::commands::exit_code::ExitCode;
use crate::record::finding::coded;
use crate::report::lane::{FileLane, LaneReport, Remark, Urgency, file_lanes, lanes};
use crate::report::words::Words;
use crate::report::{style, text};
use crate::store::Store;
use jiff::{Timestamp, tz::TimeZone};
use serde::Serialize;
use serde_json::json;
use shared::plate::PerPlate;
use std::fmt::Write;

/// One lane as printed.
#[derive(Debug, Serialize)]
struct LaneRow {
    lane: String,
    device: String,
    firmware: String,
    boot: u32,
    rate_hz: u16,
    heard: Option<String>,
    waiting: u32,
    untimed: usize,
    clock_drift_ppm: Option<f64>,
    supply_v: Option<f64>,
    temperature_c: Option<f64>,
    journal_fill_pct: Option<u8>,
    lost_readings: Option<u32>,
    stack_high_water_bytes: Option<u16>,
    zero_kg: Option<[f32; 4]>,
    noise_kg: Option<[f32; 4]>,
    remarks: Vec<Remark>,
}

impl LaneRow {
    fn of(lane: &LaneReport, now: Timestamp, zone: &TimeZone) -> Self {
        let latest = lane.health.last().map(|(_, health)| health);
        let four = |loads: PerPlate<shared::units::Kilograms>| loads.0.map(|load| load.0);
        Self {
            lane: lane.device.lane(),
            device: format!("{:016x}", lane.device.id.0),
            firmware: lane.device.firmware.clone(),
            boot: lane.device.boot,
            rate_hz: lane.device.rate_hz,
            heard: (lane.device.heard_ms > 0)
                .then(|| Timestamp::from_millisecond(lane.device.heard_ms).ok())
                .flatten()
                .map(|time| time.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()),
            waiting: latest.map_or(lane.device.waiting, |health| health.journal_waiting),
            untimed: lane.untimed,
            clock_drift_ppm: lane.drift_ppm.map(|(drift, _)| drift),
            supply_v: latest.and_then(|health| health.supply_mv).map(|supply| f64::from(supply) / 1000.0),
            temperature_c: latest
                .and_then(|health| health.temperature_dc)
                .map(|tenths| f64::from(tenths) / 10.0),
            journal_fill_pct: latest.map(|health| health.journal_fill_pct),
            lost_readings: latest.map(|health| health.lost_readings),
            stack_high_water_bytes: latest.map(|health| health.stack_high_water),
            zero_kg: latest.map(|health| four(health.zero)),
            noise_kg: latest.map(|health| four(health.noise)),
            remarks: lane.remarks(now, zone),
        }
    }
}

/// Prints every lane with what is worth saying of it.
///
/// # Errors
/// When the store cannot be read or the output cannot be written.
pub fn run(store: &Store, format: Format, words: &Words, now: Timestamp) -> anyhow::Result<ExitCode> {
    let zone = store.time_zone()?;
    let heard = lanes(store, now)?;
    let files = file_lanes(store, &heard, &zone)?;
    let rows: Vec<LaneRow> = heard.iter().map(|lane| LaneRow::of(lane, now, &zone)).collect();
    let all = rows.iter().map(serde_json::to_value).chain(files.iter().map(serde_json::to_value));
    format.print(
        &all.collect::<Result<Vec<_>, _>>()?,
        |table| table.rows(said(&rows, &files)),
        || {
            if rows.is_empty() && files.is_empty() {
                return Ok(words.text("lane-none") + "\n");
            }
            Ok(devices_text(&rows, words) + &files_text(&files, words))
        },
    )?;
    Ok(if rows.is_empty() && files.is_empty() { ExitCode::NotFound } else { ExitCode::Done })
}

/// One thing said of a lane; a lane with nothing to say has a row without a fault.
#[derive(Serialize)]
struct SaidRow<'a> {
    lane: &'a str,
    device: &'a str,
    heard: String,
    level: &'static str,
    fault: String,
}

fn said<'a>(rows: &'a [LaneRow], files: &'a [FileLane]) -> Vec<SaidRow<'a>> {
    let mut said = Vec::new();
    let mut add = |lane: &'a str, device: &'a str, heard: &str, mut faults: Vec<(&'static str, String)>| {
        if faults.is_empty() {
            faults.push(("", String::new()));
        }
        let heard = || heard.to_owned();
        said.extend(faults.into_iter().map(|(level, fault)| SaidRow {
            lane,
            device,
            heard: heard(),
            level,
            fault,
        }));
    };
    for row in rows {
        let faults = row.remarks.iter().map(|remark| (word(remark.level), coded(&remark.fault).to_string()));
        add(&row.lane, &row.device, row.heard.as_deref().unwrap_or_default(), faults.collect());
    }
    for lane in files {
        let faults = lane.remarks.iter().map(|remark| (word(Urgency::Note), coded(remark).to_string()));
        add(&lane.lane, "", &lane.last_day.to_string(), faults.collect());
    }
    said
}

fn files_text(files: &[FileLane], words: &Words) -> String {
    let mut out = String::new();
    for lane in files {
        let _ = writeln!(out, "{}", text::wrap(&words.say("lane-by-file", lane), 2));
        if lane.remarks.is_empty() {
            let _ = writeln!(out, "  {}", words.text("lane-all-well"));
        }
        for remark in &lane.remarks {
            let _ = writeln!(out, "{}", text::wrap(&format!("  {}", words.finding(remark)), 4));
        }
    }
    out
}

const fn word(level: Urgency) -> &'static str {
    match level {
        Urgency::Note => "note",
        Urgency::Soon => "soon",
        Urgency::Now => "now",
    }
}

fn devices_text(rows: &[LaneRow], words: &Words) -> String {
    let mut out = String::new();
    for row in rows {
        let title = json!({
            "lane": row.lane, "heard": row.heard, "firmware": row.firmware, "rate_hz": row.rate_hz,
        });
        let _ = writeln!(out, "{}", words.say("lane-title", title));
        if let (Some(zero), Some(noise)) = (row.zero_kg, row.noise_kg) {
            let columns = ["plate", "empty", "noise"].map(|id| words.text(&format!("lane-column-{id}")));
            let mut table = text::table(&columns.each_ref().map(String::as_str));
            text::align_right(&mut table, &[1, 2]);
            for (plate, (zero, noise)) in ["LF", "RF", "LR", "RR"].iter().zip(zero.iter().zip(noise)) {
                let (zero, noise) = (words.number((*zero).into(), 1), words.number(noise.into(), 2));
                table.add_row([words.letters_of(plate), zero, noise]);
            }
            out += &text::render(&table);
        }
        if row.remarks.is_empty() {
            let _ = writeln!(out, "  {}", words.text("lane-all-well"));
        }
        for remark in &row.remarks {
            let level = words.text(&format!("level-{}", word(remark.level)));
            let level = if remark.level == Urgency::Now { style::paint(style::BAD, level) } else { level };
            let line = format!("  {level}: {}", words.lane_fault(&remark.fault));
            let _ = writeln!(out, "{}", text::wrap(&line, 4));
        }
    }
    out
}
