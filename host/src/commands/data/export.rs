//! Write tables for other programs.

use crate::commands::cli::{Common, Format};
use crate::commands::exit_code::ExitCode;
use crate::record::AnimalId;
use crate::record::passage_table::{PASSAGE_COLUMNS, passage_row};
use crate::report::day_table::{DayRow, HistoryRow};
use crate::report::json;
use crate::score::{ScoreSettings, kept};
use crate::store::{KeptRows, PassageFilter, Store};
use crate::{report, score};
use clap::{Args, Subcommand};
use jiff::civil::Date;
use std::path::PathBuf;

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
    /// Every cow and day; each row from what was known by the end of that day
    Days(TableArgs),
    /// Every cow and day, smoothed: what each day looks like in the light of all later days
    History(TableArgs),
}

#[derive(Debug, Args)]
struct TableArgs {
    /// From this day on
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,
    /// Up to and with this day
    #[arg(long, value_name = "DATE")]
    to: Option<Date>,
    /// Of this animal only
    #[arg(long, value_name = "ID")]
    animal: Option<String>,
    /// Where to (default: standard output)
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

impl TableArgs {
    fn wants(&self, animal: &AnimalId, date: Date) -> bool {
        self.animal.as_ref().is_none_or(|only| *only == animal.0)
            && self.from.is_none_or(|from| date >= from)
            && self.to.is_none_or(|to| date <= to)
    }
}

/// Writes the table.
///
/// # Errors
/// When the store cannot be read or the table cannot be written.
pub fn run(args: &ExportArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = crate::commands::open_store(common)?;
    match &args.what {
        What::Passages(args) => passages(&store, args, common.format)?,
        What::Days(args) => {
            let days =
                kept::rows(&store, args.to, |_| KeptRows::All)?.map_or_else(Vec::new, |found| found.1.days);
            let rows = days.iter().filter(|day| args.wants(&day.animal, day.date)).map(DayRow::from);
            report::day_table::write(report::destination(args.output.as_deref())?, common.format, rows)?;
        }
        What::History(args) => {
            let settings = ScoreSettings { history: true, ..ScoreSettings::default() };
            let history = score::run(&store, &settings)?.history;
            let rows = history.iter().filter(|day| args.wants(&day.animal, day.date)).map(HistoryRow::from);
            report::day_table::write(report::destination(args.output.as_deref())?, common.format, rows)?;
        }
    }
    Ok(ExitCode::Done)
}

fn passages(store: &Store, args: &TableArgs, format: Format) -> anyhow::Result<()> {
    let animal = args.animal.clone().map(AnimalId);
    let passages = store.passages_with_evidence(&PassageFilter { animal, from: args.from, to: args.to })?;
    let mut out = report::destination(args.output.as_deref())?;
    if format == Format::Json {
        let rows = passages.into_iter().map(|(passage, evidence)| {
            let fields = PASSAGE_COLUMNS.iter().zip(passage_row(&passage, evidence));
            fields
                .map(|(name, cell)| ((*name).to_owned(), serde_json::json!(cell)))
                .collect::<serde_json::Map<_, _>>()
        });
        json::write_rows(&mut out, rows)?;
    } else {
        let mut table = report::csv::writer(&mut out);
        table.write_record(PASSAGE_COLUMNS)?;
        for (passage, evidence) in passages {
            let row = passage_row(&passage, evidence);
            table.write_record(row.iter().map(ToString::to_string))?;
        }
        table.flush()?;
    }
    std::io::Write::flush(&mut out)?;
    Ok(())
}
