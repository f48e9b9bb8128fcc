//! How the lanes are.

use crate::commands::cli::Format;
use crate::commands::exit_code::ExitCode;
use crate::record::finding::coded;
use crate::report::lane::{FileLane, LaneReport, Remark, Urgency, file_lanes, lanes};
use crate::report::words::Words;
use crate::report::{json as json_out, out, style, text};
use crate::store::Store;
use jiff::{Timestamp, tz::TimeZone};
use serde::Serialize;
use serde_json::json;
use shared::plate::PerPlate;
use std::io::Write;

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
    match format {
        Format::Json => {
            let all = rows.iter().map(serde_json::to_value).chain(files.iter().map(serde_json::to_value));
            json_out::write(out(), &all.collect::<Result<Vec<_>, _>>()?)?;
        }
        Format::Csv => csv(&rows, &files)?,
        Format::Text => {
            if rows.is_empty() && files.is_empty() {
                writeln!(out(), "{}", words.text("lane-none"))?;
            }
            print(&rows, words)?;
            print_files(&files, words)?;
        }
    }
    Ok(if rows.is_empty() && files.is_empty() { ExitCode::NotFound } else { ExitCode::Done })
}

fn csv(rows: &[LaneRow], files: &[FileLane]) -> anyhow::Result<()> {
    let mut writer = csv::Writer::from_writer(out());
    writer.write_record(["lane", "device", "heard", "level", "fault"])?;
    for row in rows {
        let (lane, device) = (row.lane.as_str(), row.device.as_str());
        let heard = row.heard.as_deref().unwrap_or_default();
        for remark in &row.remarks {
            let fault = coded(&remark.fault).to_string();
            writer.write_record([lane, device, heard, word(remark.level), fault.as_str()])?;
        }
        if row.remarks.is_empty() {
            writer.write_record([lane, device, heard, "", ""])?;
        }
    }
    for lane in files {
        let day = lane.last_day.to_string();
        let said: Vec<String> = lane.remarks.iter().map(|remark| coded(remark).to_string()).collect();
        for fault in said.iter().map(String::as_str).chain(said.is_empty().then_some("")) {
            let level = if fault.is_empty() { "" } else { "note" };
            writer.write_record([lane.lane.as_str(), "", &day, level, fault])?;
        }
    }
    writer.flush()?;
    Ok(())
}

fn print_files(files: &[FileLane], words: &Words) -> anyhow::Result<()> {
    let mut out = out();
    for lane in files {
        writeln!(out, "{}", text::wrap(&words.say("lane-by-file", lane), 2))?;
        if lane.remarks.is_empty() {
            writeln!(out, "  {}", words.text("lane-all-well"))?;
        }
        for remark in &lane.remarks {
            writeln!(out, "{}", text::wrap(&format!("  {}", words.finding(remark)), 4))?;
        }
    }
    Ok(())
}

const fn word(level: Urgency) -> &'static str {
    match level {
        Urgency::Note => "note",
        Urgency::Soon => "soon",
        Urgency::Now => "now",
    }
}

fn print(rows: &[LaneRow], words: &Words) -> anyhow::Result<()> {
    let mut out = out();
    for row in rows {
        let title = json!({
            "lane": row.lane, "heard": row.heard, "firmware": row.firmware, "rate_hz": row.rate_hz,
        });
        writeln!(out, "{}", words.say("lane-title", title))?;
        if let (Some(zero), Some(noise)) = (row.zero_kg, row.noise_kg) {
            let columns = ["plate", "empty", "noise"].map(|id| words.text(&format!("lane-column-{id}")));
            let mut table = text::table(&columns.each_ref().map(String::as_str));
            text::align_right(&mut table, &[1, 2]);
            for (plate, (zero, noise)) in ["LF", "RF", "LR", "RR"].iter().zip(zero.iter().zip(noise)) {
                let (zero, noise) = (words.number((*zero).into(), 1), words.number(noise.into(), 2));
                table.add_row([words.letters_of(plate), zero, noise]);
            }
            write!(out, "{}", text::render(&table))?;
        }
        if row.remarks.is_empty() {
            writeln!(out, "  {}", words.text("lane-all-well"))?;
        }
        for remark in &row.remarks {
            let level = words.text(&format!("level-{}", word(remark.level)));
            let level = if remark.level == Urgency::Now { style::paint(style::BAD, level) } else { level };
            let line = format!("  {level}: {}", words.lane_fault(&remark.fault));
            writeln!(out, "{}", text::wrap(&line, 4))?;
        }
    }
    Ok(())
}
