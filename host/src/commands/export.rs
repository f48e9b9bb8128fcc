//! Write tables for other programs.

use crate::{
    cli::{Common, Format},
    exit_code::ExitCode,
    export::{PASSAGE_COLUMNS, passage_row},
    herd::AnimalId,
    report::{self, json},
    store::PassageFilter,
};
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
    Passages(PassagesArgs),
}

#[derive(Debug, Args)]
struct PassagesArgs {
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

/// Writes the table.
///
/// # Errors
/// When the store cannot be read or the table cannot be written.
pub fn run(args: &ExportArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let What::Passages(args) = &args.what;
    let store = super::open_store(common)?;
    let animal = args.animal.clone().map(AnimalId);
    let passages = store.passages(&PassageFilter { animal, from: args.from, to: args.to })?;
    let mut out = report::destination(args.output.as_deref())?;
    if common.format == Format::Json {
        let rows = passages.iter().map(|passage| {
            let row = passage_row(passage, store.evidence(passage.id).unwrap_or_default());
            let fields = PASSAGE_COLUMNS.iter().zip(row);
            fields
                .map(|(name, cell)| ((*name).to_owned(), serde_json::json!(cell)))
                .collect::<serde_json::Map<_, _>>()
        });
        json::write_rows(&mut out, rows)?;
    } else {
        let mut table = report::csv::writer(&mut out);
        table.write_record(PASSAGE_COLUMNS)?;
        for passage in &passages {
            let row = passage_row(passage, store.evidence(passage.id)?);
            table.write_record(row.iter().map(ToString::to_string))?;
        }
        table.flush()?;
    }
    std::io::Write::flush(&mut out)?;
    Ok(ExitCode::Done)
}
