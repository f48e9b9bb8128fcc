//! Raw readings of a device, looked at and recorded.

use crate::commands::cli::Common;
use crate::commands::device::lane::{AtDevice, at_device};
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::link::ClockMap;
use crate::link::place::timestamp;
use crate::link::plate_loads::PlateLoads;
use crate::report::notes;
use crate::report::output::csv;
use anyhow::{Context, bail};
use serde::Serialize;
use shared::{
    analysis::Calibration,
    plate::{PerPlate, Plate},
    units::Counts,
    wire::{DeviceMessage, HostMessage, RawReadings, Sample, TraceDecoder},
};
use std::{fmt::Write as _, fs::File, io::Write, ops::ControlFlow, path::PathBuf, time::Duration};

/// An answer comes within this time; our choice.
const WAIT: Duration = Duration::from_secs(12);
/// A question is asked again after this time; our choice.
const AGAIN: Duration = Duration::from_secs(3);
/// Readings still on their way when the time is over; our choice.
const TAIL: Duration = Duration::from_secs(2);

/// For how long, and where to.
#[derive(Debug, clap::Args)]
pub struct Raw {
    #[command(flatten)]
    port: PortArguments,
    /// For so many seconds, an hour at most
    #[arg(long, default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..=3600))]
    seconds: u16,
    /// Also write the readings to FILE, as `import readings` takes them
    #[arg(long, value_name = "FILE")]
    record: Option<PathBuf>,
}

/// One second of readings.
#[derive(Debug, Serialize)]
struct Second {
    time: String,
    readings: u32,
    /// Mean load, kg.
    mean_kg: [f64; 4],
    /// SD of the load, kg.
    sd_kg: [f64; 4],
    /// Plates whose converter was at its end stop.
    saturated: [bool; 4],
}

/// What came.
struct Gathered {
    samples: Vec<Sample>,
    messages: u32,
    last: u32,
}

impl Gathered {
    fn take(&mut self, raw: &RawReadings) {
        self.samples.extend(TraceDecoder::new(&raw.data).map_while(Result::ok));
        self.messages += 1;
        self.last = raw.index;
    }

    /// Messages that the link could not take or lost.
    const fn missing(&self) -> u32 {
        (self.last + 1).saturating_sub(self.messages)
    }
}

/// Runs it.
///
/// # Errors
/// When the device cannot be reached, or the file cannot be written.
pub fn run(arguments: &Raw, common: &Common) -> anyhow::Result<ExitCode> {
    let record = arguments
        .record
        .as_ref()
        .map(|path| File::create(path).with_context(|| format!("cannot write {}", path.display())))
        .transpose()?;
    let seconds = at_device(&arguments.port, common, |device| {
        let settings = device.ask(&HostMessage::GetSettings, WAIT, Some(AGAIN), |message| match message {
            DeviceMessage::Settings(settings) => Some(settings.clone()),
            _ => None,
        })?;
        let calibration = Calibration { zero: settings.zero, cross: settings.kg_per_count };
        let full_scale = device.device().map_or(u32::MAX, |hello| hello.full_scale);
        let gathered = gather(device, arguments.seconds)?;
        if gathered.missing() > 0 {
            writeln!(notes(), "{} pieces did not fit the line and are missing", gathered.missing())?;
        }
        let clock = ClockMap::of(device.clock_points().iter().copied());
        let loads =
            |sample: &Sample| calibration.apply(PerPlate(sample.values.0.map(Counts))).0.map(|load| load.0);
        if let Some(mut file) = record {
            writeln!(file, "time,lf,rf,lr,rr")?;
            for sample in &gathered.samples {
                let [lf, rf, lr, rr] = loads(sample);
                writeln!(file, "{},{lf:.2},{rf:.2},{lr:.2},{rr:.2}", utc(&clock, sample)?)?;
            }
        }
        let second = |samples: &[Sample]| {
            let PlateLoads { mean_kg, sd_kg, end_stop } = PlateLoads::of(samples, &calibration, full_scale);
            Ok(Second {
                time: utc(&clock, &samples[0])?,
                readings: samples.len() as u32,
                mean_kg,
                sd_kg,
                saturated: end_stop,
            })
        };
        let runs = gathered.samples.chunk_by(|one, next| one.time.0 / 1000 == next.time.0 / 1000);
        runs.map(second).collect::<anyhow::Result<Vec<Second>>>()
    })?;
    common.format.print(
        &seconds,
        |table| table.records(COLUMNS, seconds.iter().map(row)),
        || Ok(seconds.iter().map(text).collect()),
    )?;
    Ok(ExitCode::Done)
}

fn gather(device: &mut AtDevice<'_>, seconds: u16) -> anyhow::Result<Gathered> {
    let mut gathered = Gathered { samples: Vec::new(), messages: 0, last: 0 };
    let first =
        device.ask(&HostMessage::StreamRaw { seconds }, WAIT, Some(AGAIN), |message| match message {
            DeviceMessage::RawReadings(raw) => Some(raw.clone()),
            _ => None,
        })?;
    gathered.take(&first);
    device.hear(Duration::from_secs(u64::from(seconds)) + TAIL, |message| {
        if let DeviceMessage::RawReadings(raw) = message {
            gathered.take(raw);
        }
        ControlFlow::Continue(())
    })?;
    Ok(gathered)
}

fn utc(clock: &ClockMap, sample: &Sample) -> anyhow::Result<String> {
    let Some(placed) = clock.place(sample.time) else {
        bail!("the device did not tell its time");
    };
    Ok(timestamp(&placed).strftime("%Y-%m-%dT%H:%M:%S.%3fZ").to_string())
}

const COLUMNS: &[&str] =
    &["time", "readings", "lf_kg", "rf_kg", "lr_kg", "rr_kg", "lf_sd_kg", "rf_sd_kg", "lr_sd_kg", "rr_sd_kg"];

fn row(second: &Second) -> Vec<String> {
    let loads = second.mean_kg.iter().chain(&second.sd_kg).map(|load| csv::number(Some(*load), 3));
    [second.time.clone(), second.readings.to_string()].into_iter().chain(loads).collect()
}

fn text(second: &Second) -> String {
    let mut line = second.time[11..19].to_owned();
    let plates = Plate::ALL.iter().zip(second.mean_kg).zip(second.sd_kg);
    for (((plate, mean), sd), saturated) in plates.zip(second.saturated) {
        let end = if saturated { "!" } else { " " };
        let _ = write!(line, "  {} {mean:7.2} \u{b1}{sd:.2}{end}", plate.name());
    }
    line + "\n"
}
