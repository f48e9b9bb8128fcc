//! The morning list.

use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::record::finding::cell;
use crate::report;
use crate::report::farm::{Farm, Part};
use crate::report::list::{Listed, page, text};
use crate::report::output::Columns;
use crate::report::output::csv::number;
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
    let date = Day::been(args.date.as_ref(), &store)?;
    let Some(farm) = Farm::load_part(&store, date, Part::List)? else {
        let until = date.map(|date| format!(" up to {date}")).unwrap_or_default();
        writeln!(notes, "fourplate: the store has no passage{until}; nothing can be said about any cow")?;
        return Ok(ExitCode::NotFound);
    };
    let list = farm.morning(args.most);
    let words = common.words(&store)?;
    common.format.print(
        &list,
        |table| table.columns(COLUMNS, &list.cows),
        || {
            let utf8 = spark::locale_is_utf8(|name| std::env::var(name).ok());
            Ok(if args.page {
                page::render(&list, &farm.name, &words)
            } else {
                text::render(&list, &farm.name, &words, utf8)
            })
        },
    )?;
    let today = crate::commands::trim::case::today(&store)?;
    let old = crate::arithmetic::dates::days_between(list.date, today);
    if date.is_none() && old > 1 && common.format.for_people() {
        writeln!(
            notes,
            "fourplate: the last passage is {} old; is the lane sending?",
            count(old as usize, "day", "days")
        )?;
    }
    Ok(ExitCode::Done)
}

fn day(date: Option<Date>) -> String {
    date.map(|date| date.to_string()).unwrap_or_default()
}

const COLUMNS: &Columns<Listed> = &[
    ("animal_id", |cow| cow.animal_id.to_string()),
    ("date", |cow| cow.date.to_string()),
    ("section", |cow| cow.section.name().to_owned()),
    ("rank", |cow| cow.rank.map(|rank| rank.to_string()).unwrap_or_default()),
    ("flag", |cow| cow.flag.name().to_owned()),
    ("probability", |cow| number(cow.probability, 4)),
    ("leg", |cow| cow.leg.unwrap_or_default().to_owned()),
    ("leg_probability", |cow| number(cow.leg_probability, 4)),
    ("since", |cow| day(cow.since)),
    ("since_earliest", |cow| day(cow.since_earliest)),
    ("since_latest", |cow| day(cow.since_latest)),
    ("reasons", |cow| cell(&cow.reasons)),
    ("confidence", |cow| cow.confidence.name().to_owned()),
    ("advice", |cow| cell(cow.advice.as_slice())),
    ("passages", |cow| cow.passages.to_string()),
    ("block_on", |cow| cow.block_on.to_string()),
    ("days_since_trim", |cow| cow.days_since_trim.map(|days| days.to_string()).unwrap_or_default()),
    ("expected_benefit", |cow| number(Some(cow.expected_benefit), 4)),
];
