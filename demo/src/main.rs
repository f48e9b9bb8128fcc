//! Writes the invented herd.

use anyhow::ensure;
use clap::{Parser, Subcommand, ValueEnum};
use demo::files::{CsvSink, write_readings};
use demo::herd::{Herd, Settings};
use demo::passages::write_passages;
use demo::plates::GainDrift;
use shared::plate::Plate;
use std::path::PathBuf;

/// Invents a herd of cows and what an exit lane sees of it. Everything follows from the seed.
#[derive(Parser)]
#[command(name = "demo", version)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// A herd: readings or passages, tags, register, scores, trims, and the truth.
    Herd(HerdArguments),
}

#[derive(clap::Args)]
struct HerdArguments {
    /// Folder to write to; made where it is not there.
    #[arg(long)]
    out: PathBuf,
    /// Cows.
    #[arg(long, default_value_t = 20)]
    cows: u32,
    /// Days.
    #[arg(long, default_value_t = 14)]
    days: u32,
    /// Seed.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Readings a second, 20 to 1000.
    #[arg(long, default_value_t = 100.0)]
    rate: f64,
    /// Milkings a day, 2 or 3.
    #[arg(long, default_value_t = 2)]
    milkings: u32,
    /// What to write.
    #[arg(long, value_enum, default_value_t = Level::Readings)]
    level: Level,
    /// Write the empty deck throughout, not only around each passage.
    #[arg(long)]
    continuous: bool,
    /// Seconds of empty deck around each passage.
    #[arg(long, default_value_t = 2.0)]
    margin: f64,
    /// How often things go wrong in the lane, against usual.
    #[arg(long, default_value_t = 1.0)]
    trouble: f64,
    /// A plate that drifts: PLATE:PERCENT:FROM_DAY:DAYS, for instance RR:-4:20:10.
    #[arg(long, value_parser = parse_drift)]
    drift: Option<GainDrift>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Level {
    /// Plate readings.
    Readings,
    /// One row a passage.
    Passages,
}

fn parse_drift(text: &str) -> Result<GainDrift, String> {
    let parts: Vec<&str> = text.split(':').collect();
    let [plate, percent, from_day, days] = parts[..] else {
        return Err("want PLATE:PERCENT:FROM_DAY:DAYS".into());
    };
    let plate = match plate.to_ascii_uppercase().as_str() {
        "LF" => Plate::LF,
        "RF" => Plate::RF,
        "LR" => Plate::LR,
        "RR" => Plate::RR,
        _ => return Err("the plate is LF, RF, LR or RR".into()),
    };
    let number = |text: &str| text.parse::<f64>().map_err(|e| format!("{text}: {e}"));
    Ok(GainDrift {
        plate,
        percent: number(percent)?,
        from_day: number(from_day)?,
        days: number(days)?.max(1e-6),
    })
}

fn main() -> anyhow::Result<()> {
    match Arguments::parse().command {
        Command::Herd(arguments) => write_herd(&arguments),
    }
}

fn write_herd(arguments: &HerdArguments) -> anyhow::Result<()> {
    ensure!((20.0..=1000.0).contains(&arguments.rate), "the rate must be 20 to 1000 readings a second");
    ensure!((2..=3).contains(&arguments.milkings), "a day has 2 or 3 milkings");
    std::fs::create_dir_all(&arguments.out)?;
    let settings = Settings {
        rate_hz: arguments.rate,
        milkings: arguments.milkings,
        continuous: arguments.continuous,
        margin_s: arguments.margin,
        trouble: arguments.trouble,
        drift: arguments.drift,
        ..Settings::new(arguments.cows, arguments.days, arguments.seed)
    };
    let herd = Herd::new(settings);
    match arguments.level {
        Level::Readings => {
            let mut sink = CsvSink::create(&arguments.out)?;
            write_readings(herd, &arguments.out, &mut sink, |_, _| None)?;
            sink.finish()
        }
        Level::Passages => write_passages(herd, &arguments.out),
    }
}
