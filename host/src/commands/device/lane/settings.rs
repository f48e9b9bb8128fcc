//! The settings of a device: read, changed, kept as JSON and written back.

use crate::commands::cli::Common;
use crate::commands::device::lane::at_device;
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::report::notes;
use anyhow::{Context, bail};
use serde::{Deserialize, Serialize};
use shared::{
    limits::MAX_NAME_BYTES,
    plate::{PerPlate, Plate},
    units::Counts,
    wire::{DeviceMessage, HostMessage, Settings},
};
use std::{fmt::Write as _, io::Write, path::PathBuf, time::Duration};

/// An answer comes within this time; our choice.
const WAIT: Duration = Duration::from_secs(12);
/// A question is asked again after this time; our choice.
const AGAIN: Duration = Duration::from_secs(3);

/// What to change.
#[derive(Debug, clap::Args)]
pub struct SettingsArguments {
    #[command(flatten)]
    port: PortArguments,
    /// Name the lane (24 bytes at most)
    #[arg(long)]
    name: Option<String>,
    /// Readings a second, where the converter can be set to it
    #[arg(long, value_name = "HZ")]
    rate: Option<u16>,
    /// Write back the settings that `--format json` printed, calibration and all (for a replaced device)
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
}

/// Settings as printed.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
struct SettingRow {
    name: String,
    rate_hz: u16,
    zero_counts: [i32; 4],
    kg_per_count: [[f32; 4]; 4],
}

impl From<&Settings> for SettingRow {
    fn from(settings: &Settings) -> Self {
        Self {
            name: settings.name.as_str().to_owned(),
            rate_hz: settings.rate_hz,
            zero_counts: settings.zero.0.map(|zero| zero.0),
            kg_per_count: settings.kg_per_count,
        }
    }
}

impl TryFrom<SettingRow> for Settings {
    type Error = anyhow::Error;

    fn try_from(row: SettingRow) -> anyhow::Result<Self> {
        let Ok(name) = row.name.as_str().try_into() else {
            bail!("the name {:?} is longer than {MAX_NAME_BYTES} bytes", row.name);
        };
        Ok(Self {
            rate_hz: row.rate_hz,
            zero: PerPlate(row.zero_counts.map(Counts)),
            kg_per_count: row.kg_per_count,
            name,
        })
    }
}

/// Runs it.
///
/// # Errors
/// When the device cannot be reached or refuses, or the file cannot be read.
pub fn run(arguments: &SettingsArguments, common: &Common) -> anyhow::Result<ExitCode> {
    let from = arguments
        .from
        .as_ref()
        .map(|path| {
            let text = std::fs::read_to_string(path).with_context(|| path.display().to_string())?;
            serde_json::from_str::<SettingRow>(&text).with_context(|| path.display().to_string())
        })
        .transpose()?;
    let row = at_device(&arguments.port, common, |device| {
        let told = |message: &DeviceMessage| match message {
            DeviceMessage::Settings(settings) => Some(settings.clone()),
            _ => None,
        };
        let held = device.ask(&HostMessage::GetSettings, WAIT, Some(AGAIN), told)?;
        let mut row = from.unwrap_or_else(|| SettingRow::from(&held));
        if let Some(name) = &arguments.name {
            row.name.clone_from(name);
        }
        row.rate_hz = arguments.rate.unwrap_or(row.rate_hz);
        if row == SettingRow::from(&held) {
            return Ok(row);
        }
        let wanted = Settings::try_from(row)?;
        let set = HostMessage::SetSettings(wanted.clone());
        let held =
            device.ask(&set, WAIT, Some(AGAIN), |message| told(message).filter(|held| *held == wanted))?;
        // Where the log cannot be written nobody misses it.
        let _ = writeln!(notes(), "Stored; the device starts afresh with them.");
        Ok(SettingRow::from(&held))
    })?;
    common.format.print(&row, |table| table.rows(by_plate(&row)), || Ok(text(&row)))?;
    Ok(ExitCode::Done)
}

/// The settings of one plate, as a table has them.
#[derive(Serialize)]
struct PlateRow<'a> {
    name: &'a str,
    rate_hz: u16,
    plate: &'static str,
    zero_counts: i32,
    lf_kg_per_count: f32,
    rf_kg_per_count: f32,
    lr_kg_per_count: f32,
    rr_kg_per_count: f32,
}

fn by_plate(row: &SettingRow) -> impl Iterator<Item = PlateRow<'_>> {
    let plates = Plate::ALL.iter().zip(row.zero_counts).zip(row.kg_per_count);
    plates.map(|((plate, zero_counts), [lf, rf, lr, rr])| PlateRow {
        name: &row.name,
        rate_hz: row.rate_hz,
        plate: plate.name(),
        zero_counts,
        lf_kg_per_count: lf,
        rf_kg_per_count: rf,
        lr_kg_per_count: lr,
        rr_kg_per_count: rr,
    })
}

fn text(row: &SettingRow) -> String {
    let name = if row.name.is_empty() { "(none)" } else { &row.name };
    let mut text = format!("Lane name: {name}; {} readings a second\n", row.rate_hz);
    for (n, (plate, spans)) in Plate::ALL.iter().zip(row.kg_per_count).enumerate() {
        let others = spans.iter().enumerate().filter(|(other, _)| *other != n);
        let cross_talk = others.map(|(_, other)| (other / spans[n]).abs()).fold(0.0, f32::max);
        let _ = writeln!(
            text,
            "{}: zero {} counts, {:.4} g a count, cross-talk up to {:.2} %",
            plate.name(),
            row.zero_counts[n],
            1000.0 * spans[n],
            100.0 * cross_talk
        );
    }
    text
}
