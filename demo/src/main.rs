//! Writes the invented herd.

use anyhow::{Context, ensure};
use clap::{Parser, Subcommand, ValueEnum};
use demo::capture::{CaptureSink, Two};
use demo::files::{CsvSink, write_readings};
use demo::herd::{Herd, Settings};
use demo::lane::Planned;
use demo::passages::write_passages;
use demo::plates::GainDrift;
use demo::played::{Milking, play};
use demo::stories::{
    RECORDED_COWS, RECORDED_CSV_FROM, RECORDED_DAYS, Story, case_herd, recorded_herd, recorded_trouble,
};
use jiff::Timestamp;
use shared::plate::Plate;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

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
    /// One cow's story from first limp to block off, with five sound herd mates.
    Case {
        /// Folder to write to; made where it is not there.
        #[arg(long)]
        out: PathBuf,
        /// What becomes of her.
        #[arg(long, value_enum, default_value_t = Story::Healing)]
        story: Story,
        /// Days.
        #[arg(long, default_value_t = 100)]
        days: u32,
        /// Seed.
        #[arg(long, default_value_t = 5)]
        seed: u64,
        /// What to write.
        #[arg(long, value_enum, default_value_t = Level::Passages)]
        level: Level,
        /// Readings a second, 20 to 1000.
        #[arg(long, default_value_t = 50.0)]
        rate: f64,
    },
    /// A milking as it happens, to watch list, live page and lane without hardware: a lane device on a TCP port.
    Lane {
        /// Folder for what the lane saw before today; made where it is not there.
        #[arg(long)]
        out: PathBuf,
        /// Where the device waits for a host.
        #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:7117")]
        listen: String,
        /// Cows.
        #[arg(long, default_value_t = 20)]
        cows: u32,
        /// Days before today.
        #[arg(long, default_value_t = 60)]
        days: u32,
        /// A plate that reads half from the middle of the milking on: LF, RF, LR or RR.
        #[arg(long, value_name = "PLATE", value_parser = plate)]
        breaks: Option<Plate>,
        /// Seed.
        #[arg(long, default_value_t = 1)]
        seed: u64,
    },
    /// The recorded herd kept beside the program, written anew.
    Recorded {
        /// Folder to write to; made where it is not there.
        #[arg(long)]
        out: PathBuf,
    },
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
    /// Also write the readings and tags as a device's capture.
    #[arg(long)]
    capture: bool,
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

/// What of the readings is also, or instead, written as a capture.
enum Frames {
    /// Nothing.
    None,
    /// Everything, besides the CSV.
    All,
    /// Everything before a day; the CSV begins there.
    Before(i32),
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
        Command::Herd(arguments) => {
            let herd = Herd::new(arguments.settings()?);
            let frames = if arguments.capture { Frames::All } else { Frames::None };
            write(herd, &arguments.out, arguments.level, frames, |_, _, _| None)
        }
        Command::Case { out, story, days, seed, level, rate } => {
            ensure!((20.0..=1000.0).contains(&rate), RATE);
            let settings = Settings { rate_hz: rate, trouble: 0.3, ..Settings::new(6, days, seed) };
            write(case_herd(settings, story), &out, level, Frames::None, |_, _, _| None)
        }
        Command::Lane { out, listen, cows, days, breaks, seed } => {
            let now = SystemTime::now().duration_since(UNIX_EPOCH)?;
            let today =
                jiff::tz::TimeZone::UTC.to_datetime(Timestamp::from_second(now.as_secs() as i64)?).date();
            let first_day = today.checked_sub(jiff::Span::new().days(i64::from(days)))?;
            let settings = Settings { first_day, continuous: true, ..Settings::new(cows, days, seed) };
            std::fs::create_dir_all(&out)?;
            write_passages(Herd::new(settings.clone()), &out)?;
            let mut herd = Herd::new(settings);
            (0..days).for_each(|_| herd.next_day());
            let milking = Milking::of(&herd, breaks)?;
            let listener = std::net::TcpListener::bind(&listen).with_context(|| listen.clone())?;
            let (folder, address) = (out.display(), listener.local_addr()?);
            writeln!(
                std::io::stdout(),
                "An invented herd of {cows}. In another window, with a store of its own:\n  \
                 fourplate --store {folder}/store.sqlite import passages --lane exit {folder}/passages.csv\n  \
                 fourplate --store {folder}/store.sqlite serve                  (the pages 'As they leave', 'Plates now')\n  \
                 fourplate --store {folder}/store.sqlite listen --tcp {address} --show\n\
                 For the gate, before `listen`:\n  \
                 fourplate --store {folder}/store.sqlite lane pair --tcp {address}\n  \
                 fourplate --store {folder}/store.sqlite gate set --tcp {address} --moves high\n  \
                 fourplate --store {folder}/store.sqlite farm gate_hours=00:00-23:59\n  \
                 fourplate --store {folder}/store.sqlite gate hold COW\n\
                 The milking begins when the first of them calls; a cow comes every 18 s or so.\n\
                 Ten times as fast: all of this in one `faketime -f '+0 x10' bash`."
            )?;
            let started = std::cell::OnceCell::new();
            let since = || u64::try_from(started.get_or_init(std::time::Instant::now).elapsed().as_millis());
            let moved = || {
                let _ = writeln!(std::io::stdout(), "The gate moves.");
            };
            play(&listener, &herd.settings, &milking, || since().unwrap_or(u64::MAX), moved)
        }
        Command::Recorded { out } => {
            let settings = Settings::new(RECORDED_COWS, RECORDED_DAYS, RECORDED_SEED);
            let settings = Settings { rate_hz: 20.0, trouble: 0.3, margin_s: 1.2, hosing_s: 6.0, ..settings };
            write(
                recorded_herd(settings),
                &out,
                Level::Readings,
                Frames::Before(RECORDED_CSV_FROM),
                recorded_trouble,
            )
        }
    }
}

fn plate(text: &str) -> Result<Plate, String> {
    let named = |plate: &Plate| plate.name().eq_ignore_ascii_case(text);
    Plate::ALL.into_iter().find(named).ok_or_else(|| format!("`{text}` is none of LF, RF, LR, RR"))
}

const RATE: &str = "the rate must be 20 to 1000 readings a second";
/// Seed of the recorded herd.
const RECORDED_SEED: u64 = 7;

impl HerdArguments {
    fn settings(&self) -> anyhow::Result<Settings> {
        ensure!((20.0..=1000.0).contains(&self.rate), RATE);
        ensure!((2..=3).contains(&self.milkings), "a day has 2 or 3 milkings");
        Ok(Settings {
            rate_hz: self.rate,
            milkings: self.milkings,
            continuous: self.continuous,
            margin_s: self.margin,
            trouble: self.trouble,
            drift: self.drift,
            ..Settings::new(self.cows, self.days, self.seed)
        })
    }
}

fn write(
    herd: Herd,
    out: &Path,
    level: Level,
    frames: Frames,
    plan: impl Fn(&Herd, usize, usize) -> Planned + Copy,
) -> anyhow::Result<()> {
    std::fs::create_dir_all(out)?;
    if matches!(level, Level::Passages) {
        return write_passages(herd, out);
    }
    let mut csv = CsvSink::create(out)?;
    let from = match frames {
        Frames::None => {
            write_readings(herd, out, &mut csv, plan)?;
            return csv.finish();
        }
        Frames::All => None,
        Frames::Before(day) => Some(herd.settings.millis(f64::from(day))),
    };
    let mut capture = CaptureSink::create(out, &herd.settings)?;
    write_readings(herd, out, &mut Two { first: &mut capture, second: &mut csv, from }, plan)?;
    capture.finish()?;
    csv.finish()
}
