//! Write tables for other programs.

use crate::commands::cli::{Common, Format};
use crate::commands::data::dataset::{self, DatasetArgs};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::import::records::follow_ups::{COLUMNS, row_of};
use crate::record::AnimalId;
use crate::record::case::KeptCase;
use crate::record::passage_table::{Cell, PASSAGE_COLUMNS, passage_row};
use crate::report::cow::trace::Trace;
use crate::report::exchange::ade::{EventKind, FootPlace};
use crate::report::exchange::dataset::parquet::{Column, file};
use crate::report::exchange::dataset::passages::{columns, keyed_row};
use crate::report::exchange::dataset::tables;
use crate::report::exchange::{self, calendar, records};
use crate::report::farm::{Farm, Part};
use crate::report::output::day_rows::{DayRow, HistoryRow};
use crate::report::output::json;
use crate::report::trim::case_shown;
use crate::score::{ScoreSettings, kept};
use crate::store::{KeptRows, PassageFilter, Store};
use crate::{report, score};
use clap::{Args, Subcommand};
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use serde_json::Map;
use std::fmt::Display;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Tables for other programs.
#[derive(Debug, Args)]
pub struct ExportArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Every passage, one a row, as CSV (or --format json); can be imported again
    Passages(TableArgs),
    /// Every case as it stands, withdrawn ones with the reason; can be imported again as trims
    Cases(TableArgs),
    /// Every later look at a treated foot; can be imported again
    FollowUps(TableArgs),
    /// The herd register: names, tags, calvings; can be imported again
    Herd(TableArgs),
    /// Every mark; can be imported again
    Marks(TableArgs),
    /// Every mobility score; can be imported again
    Scores(TableArgs),
    /// Every cow and day; each row from what was known by the end of that day
    Days(TableArgs),
    /// For other programs, as ICAR ADE JSON: an array of resources
    Ade {
        /// What
        #[arg(value_enum)]
        kind: EventKind,
        #[command(flatten)]
        table: TableArgs,
    },
    /// Days to keep, for a calendar: rechecks, dressings, ends of withdrawals (iCalendar)
    Calendar {
        /// Where to (default: standard output)
        #[arg(short, long, value_name = "FILE")]
        output: Option<PathBuf>,
    },
    /// Bring the farm's part of a data set up to date that an organisation keeps of many farms (Parquet files)
    Dataset(DatasetArgs),
    /// How each pair of legs shifted its load while she stood, by passage, from the kept traces
    Shifting(TableArgs),
    /// Every cow and day, smoothed: what each day looks like in the light of all later days
    History(TableArgs),
}

#[derive(Debug, Args)]
struct TableArgs {
    /// From this day on
    #[arg(long, value_name = "DATE")]
    from: Option<Day>,
    /// Up to and with this day
    #[arg(long, value_name = "DATE")]
    to: Option<Day>,
    /// Of this animal only
    #[arg(long, value_name = "ID")]
    animal: Option<String>,
    /// Where to (default: standard output); passages and days go to a name that ends in .parquet as Parquet
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// The days and the cow of a table.
struct Wanted {
    from: Option<Date>,
    to: Option<Date>,
    animal: Option<AnimalId>,
}

impl TableArgs {
    fn wanted(&self, store: &Store) -> anyhow::Result<Wanted> {
        let (from, to) = (Day::maybe(self.from.as_ref(), store)?, Day::been(self.to.as_ref(), store)?);
        Ok(Wanted { from, to, animal: self.animal.clone().map(AnimalId) })
    }

    fn parquet(&self) -> Option<&Path> {
        self.output.as_deref().filter(|path| path.extension().is_some_and(|ending| ending == "parquet"))
    }
}

impl Wanted {
    fn is_of(&self, animal: &AnimalId) -> bool {
        self.animal.as_ref().is_none_or(|only| only == animal)
    }

    fn holds(&self, animal: &AnimalId, date: Date) -> bool {
        self.is_of(animal) && self.from.is_none_or(|from| date >= from) && self.to.is_none_or(|to| date <= to)
    }
}

/// Writes the table.
///
/// # Errors
/// When the store cannot be read or the table cannot be written.
pub fn run(args: &ExportArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = crate::commands::open::existing(common)?;
    match &args.what {
        What::Passages(args) => passages(&store, args, common.format)?,
        What::Ade { kind, table } => ade(&store, *kind, table, common)?,
        What::Calendar { output } => {
            let Some(farm) = Farm::load_part(&store, None, Part::List)? else {
                return Ok(ExitCode::NotFound);
            };
            let text = calendar::calendar(&farm, &common.words(&store)?, Timestamp::now());
            let mut out = report::destination(output.as_deref())?;
            out.write_all(text.as_bytes())?;
            out.flush()?;
        }
        What::Dataset(args) => return dataset::run(&store, args, common.format),
        What::Shifting(args) => shifting(&store, args, common.format)?,
        What::Cases(args) => cases(&store, args, common.format)?,
        What::FollowUps(args) => follow_ups(&store, args, common.format)?,
        What::Herd(args) => {
            let wanted = args.wanted(&store)?;
            let mut directory = store.directory()?;
            directory.animals.retain(|animal| wanted.is_of(animal));
            let (mut calvings, mut tags) = (store.herd()?, store.ear_tags()?);
            calvings.retain(|entry| wanted.is_of(&entry.animal));
            tags.retain(|(_, _, animal)| wanted.is_of(animal));
            let rows = records::herd(&directory, &calvings, &tags);
            table(args, common.format, &records::HERD, rows.into_iter())?;
        }
        What::Marks(args) => {
            let wanted = args.wanted(&store)?;
            let mut marks = store.marks(Date::MAX)?;
            marks.retain(|marked| wanted.holds(&marked.animal, marked.date));
            table(args, common.format, &records::MARKS, records::marks(&marks).into_iter())?;
        }
        What::Scores(args) => {
            let wanted = args.wanted(&store)?;
            let mut scores = store.mobility_scores()?;
            scores.retain(|score| wanted.holds(&score.animal, score.date));
            table(args, common.format, &records::SCORES, records::scores(&scores).into_iter())?;
        }
        What::Days(args) => {
            let wanted = args.wanted(&store)?;
            let days =
                kept::rows(&store, wanted.to, |_| KeptRows::All)?.map_or_else(Vec::new, |found| found.1.days);
            if let Some(path) = args.parquet() {
                let days: Vec<_> =
                    days.into_iter().filter(|day| wanted.holds(&day.animal, day.date)).collect();
                parquet(path, "days", &tables::DAYS, &tables::days(&days))?;
                return Ok(ExitCode::Done);
            }
            let rows = days.iter().filter(|day| wanted.holds(&day.animal, day.date)).map(DayRow::from);
            common.format.write_rows(report::destination(args.output.as_deref())?, rows)?;
        }
        What::History(args) => {
            let wanted = args.wanted(&store)?;
            let settings = ScoreSettings { history: true, ..ScoreSettings::default() };
            let history = score::run(&store, &settings)?.history;
            let rows = history.iter().filter(|day| wanted.holds(&day.animal, day.date)).map(HistoryRow::from);
            common.format.write_rows(report::destination(args.output.as_deref())?, rows)?;
        }
    }
    Ok(ExitCode::Done)
}

fn ade(store: &Store, kind: EventKind, args: &TableArgs, common: &Common) -> anyhow::Result<()> {
    let (wanted, words, zone) = (args.wanted(store)?, common.words(store)?, store.time_zone()?);
    let farm = store.setting("name")?.unwrap_or_default();
    let place = FootPlace { farm: &farm, zone: &zone };
    let cases = || -> anyhow::Result<Vec<KeptCase>> {
        let cases = store.cases(wanted.animal.as_ref())?;
        Ok(cases.into_iter().filter(|kept| wanted.holds(&kept.case.animal, kept.case.date)).collect())
    };
    let resources = match kind {
        EventKind::Animals => exchange::ade::animals(&store.directory()?, &place),
        EventKind::Weights => {
            let filter = PassageFilter { animal: wanted.animal.clone(), from: wanted.from, to: wanted.to };
            exchange::ade::weights(&store.passages(&filter)?, &place)
        }
        EventKind::AttentionEvents => {
            let rows = kept::rows(store, wanted.to, |_| KeptRows::All)?;
            let mut days = rows.map_or_else(Vec::new, |found| found.1.days);
            days.retain(|day| wanted.holds(&day.animal, day.date));
            exchange::ade::attention(&days, &words, &place)
        }
        EventKind::Devices => exchange::ade::devices(&store.devices()?, &store.other_devices()?),
        EventKind::Diagnoses => exchange::ade::diagnoses(&cases()?, &words, &place),
        EventKind::Treatments => exchange::ade::treatments(&cases()?, &words, &place),
        EventKind::Feet => {
            let cases = cases()?;
            let mut all = exchange::ade::diagnoses(&cases, &words, &place);
            all.extend(exchange::ade::treatments(&cases, &words, &place));
            all
        }
    };
    json::write(report::destination(args.output.as_deref())?, &resources)
}

/// The weight shifting of one pair in one passage.
#[derive(Serialize)]
struct Shifting<'a> {
    time: String,
    lane: &'a str,
    animal_id: Option<&'a AnimalId>,
    pair: &'static str,
    /// Of the right leg's share of its pair's load, 0.2 to 3 Hz, %^2.
    band_power_pct2: f64,
    dominant_hz: Option<f64>,
}

fn shifting(store: &Store, args: &TableArgs, format: Format) -> anyhow::Result<()> {
    let Wanted { from, to, animal } = args.wanted(store)?;
    let passages = store.passages(&PassageFilter { animal, from, to })?;
    let mut rows = Vec::new();
    for passage in &passages {
        let Some(trace) = store.trace(passage.id)?.and_then(|bytes| Trace::read(&bytes)) else { continue };
        for (pair, of) in ["front", "rear"].into_iter().zip(trace.shifting()) {
            rows.extend(of.map(|of| Shifting {
                time: passage.time.to_string(),
                lane: &passage.lane,
                animal_id: passage.animal.as_ref(),
                pair,
                band_power_pct2: of.band_power,
                dominant_hz: of.dominant_hz,
            }));
        }
    }
    format.write_rows(report::destination(args.output.as_deref())?, rows)
}

fn parquet(path: &Path, name: &str, columns: &[Column], rows: &[Vec<Cell>]) -> anyhow::Result<()> {
    let mut out = report::destination(Some(path))?;
    out.write_all(&file(name, columns, rows, &[])?)?;
    Ok(out.flush()?)
}

fn passages(store: &Store, args: &TableArgs, format: Format) -> anyhow::Result<()> {
    let Wanted { from, to, animal } = args.wanted(store)?;
    let passages = store.passages_with_evidence(&PassageFilter { animal, from, to })?;
    if let Some(path) = args.parquet() {
        let rows: Vec<_> = passages.into_iter().map(keyed_row).collect();
        return parquet(path, "passages", &columns(), &rows);
    }
    let rows = passages.iter().map(|(passage, evidence)| passage_row(passage, evidence.clone()));
    table(args, format, &PASSAGE_COLUMNS, rows)
}

/// Writes rows under the names of their columns.
fn table<T: Serialize + Display, R: IntoIterator<Item = T>>(
    args: &TableArgs,
    format: Format,
    columns: &[&'static str],
    rows: impl Iterator<Item = R> + Clone,
) -> anyhow::Result<()> {
    let out = report::destination(args.output.as_deref())?;
    let named = |row: R| {
        let cells = columns.iter().zip(row);
        cells.map(|(name, cell)| ((*name).to_owned(), serde_json::json!(cell))).collect::<Map<_, _>>()
    };
    let record = |row: R| row.into_iter().map(|cell| cell.to_string()).collect::<Vec<_>>();
    format.write(out, rows.clone().map(named), |table| table.records(columns, rows.map(record)))
}

fn cases(store: &Store, args: &TableArgs, format: Format) -> anyhow::Result<()> {
    let wanted = args.wanted(store)?;
    let mut cases = store.cases(None)?;
    cases.retain(|kept| wanted.holds(&kept.case.animal, kept.case.date));
    let out = report::destination(args.output.as_deref())?;
    format.write(out, cases.iter().map(case_shown::fields), |table| case_shown::rows(table, &cases))
}

fn follow_ups(store: &Store, args: &TableArgs, format: Format) -> anyhow::Result<()> {
    let wanted = args.wanted(store)?;
    let cases = store.cases(None)?;
    let looks = cases.iter().flat_map(|kept| kept.follow_ups.iter().map(move |look| (kept, look)));
    let rows = looks
        .filter(|(kept, look)| wanted.holds(&kept.case.animal, look.date))
        .map(|(kept, look)| row_of(kept, look));
    table(args, format, &COLUMNS.map(|column| column.name), rows)
}
