//! The morning list.

use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::record::finding::cell;
use crate::report;
use crate::report::farm::{Farm, Part};
use crate::report::list::{Listed, Morning, page, text};
use crate::report::spark;
use crate::report::text::count;
use jiff::civil::Date;
use std::io::Write;

/// What to list.
#[derive(Debug, clap::Args)]
pub struct ListArgs {
    /// The farm day (default: the last day with a passage); only what was known by its end is used
    #[arg(long, value_name = "DATE")]
    date: Option<Day>,
    /// Cows to look at, in place of the farm's capacity
    #[arg(long, value_name = "N")]
    most: Option<usize>,
    /// On one sheet of paper: a line a cow to check, the others by name
    #[arg(long)]
    page: bool,
}

/// Prints the list.
///
/// # Errors
/// When the store cannot be read or the output cannot be written.
pub fn run(args: &ListArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let mut notes = report::notes();
    let date = Day::maybe(args.date.as_ref(), &store)?;
    let Some(farm) = Farm::load_part(&store, date, Part::List)? else {
        let until = date.map(|date| format!(" up to {date}")).unwrap_or_default();
        writeln!(notes, "fourplate: the store has no passage{until}; nothing can be said about any cow")?;
        return Ok(ExitCode::NotFound);
    };
    let list = farm.morning(args.most);
    let mut out = report::out();
    match common.format {
        Format::Text if args.page => {
            out.write_all(page::render(&list, &farm.name, &common.words(&store)?).as_bytes())?;
        }
        Format::Text => {
            let utf8 = spark::locale_is_utf8(|name| std::env::var(name).ok());
            out.write_all(text::render(&list, &farm.name, &common.words(&store)?, utf8).as_bytes())?;
        }
        Format::Json => report::json::write(&mut out, &list)?,
        Format::Csv => csv(&mut out, &list)?,
    }
    let today = crate::commands::trim::case::today(&store)?;
    let old = crate::arithmetic::dates::days_between(list.date, today);
    if date.is_none() && old > 1 && common.format == Format::Text {
        writeln!(
            notes,
            "fourplate: the last passage is {} old; is the lane sending?",
            count(old as usize, "day", "days")
        )?;
    }
    Ok(ExitCode::Done)
}

fn csv(out: impl Write, list: &Morning) -> anyhow::Result<()> {
    let mut writer = report::csv::writer(out);
    writer.write_record([
        "animal_id",
        "date",
        "section",
        "rank",
        "flag",
        "probability",
        "leg",
        "leg_probability",
        "since",
        "since_earliest",
        "since_latest",
        "reasons",
        "confidence",
        "advice",
        "passages",
        "block_on",
        "days_since_trim",
        "expected_benefit",
    ])?;
    for cow in &list.cows {
        writer.write_record(record(cow))?;
    }
    Ok(writer.flush()?)
}

fn record(cow: &Listed) -> [String; 18] {
    let date = |date: Option<Date>| date.map(|date| date.to_string()).unwrap_or_default();
    [
        cow.animal_id.to_string(),
        cow.date.to_string(),
        cow.section.name().to_owned(),
        cow.rank.map(|rank| rank.to_string()).unwrap_or_default(),
        cow.flag.name().to_owned(),
        report::csv::number(cow.probability, 4),
        cow.leg.unwrap_or_default().to_owned(),
        report::csv::number(cow.leg_probability, 4),
        date(cow.since),
        date(cow.since_earliest),
        date(cow.since_latest),
        cell(&cow.reasons),
        cow.confidence.name().to_owned(),
        cell(cow.advice.as_slice()),
        cow.passages.to_string(),
        cow.block_on.to_string(),
        cow.days_since_trim.map(|days| days.to_string()).unwrap_or_default(),
        report::csv::number(Some(cow.expected_benefit), 4),
    ]
}
