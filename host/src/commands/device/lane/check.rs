//! What a lane can see.

use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::evaluate::repeat::Repeated;
use crate::record::finding::cell;
use crate::report::lane::check::{Check, checks};
use crate::report::lane::check_text;
use crate::report::notes;
use crate::report::output::Column;
use crate::report::output::csv::number;
use crate::store::PassageFilter;
use jiff::ToSpan;
use std::io::Write;

/// Which lane and which days.
#[derive(Debug, clap::Args)]
pub struct CheckArguments {
    /// This lane alone
    #[arg(long, value_name = "NAME")]
    lane: Option<String>,
    /// The last day (default: the last with a passage)
    #[arg(long, value_name = "DATE")]
    until: Option<Day>,
    /// So many days
    #[arg(long, value_name = "N", default_value_t = 7, value_parser = clap::value_parser!(u16).range(1..=3660))]
    days: u16,
    /// A check a calendar month, of all months up to the last day
    #[arg(long, conflicts_with = "days")]
    by_month: bool,
}

/// Runs it.
///
/// # Errors
/// When the store cannot be read or the output cannot be written.
pub fn run(arguments: &CheckArguments, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let words = common.words(&store)?;
    let until = Day::been(arguments.until.as_ref(), &store)?;
    let found = match store.last_day(until)? {
        None => Vec::new(),
        Some(last) => {
            let to = until.unwrap_or(last);
            let from = (!arguments.by_month)
                .then(|| to.checked_sub((i64::from(arguments.days) - 1).days()))
                .transpose()?;
            let passages = store.passages(&PassageFilter { from, to: Some(to), animal: None })?;
            let lanes: Vec<String> = match &arguments.lane {
                Some(lane) => vec![lane.clone()],
                None => store.lanes_seen()?.into_iter().map(|(lane, _)| lane).collect(),
            };
            checks(&lanes, &passages, arguments.by_month)
        }
    };
    if found.is_empty() {
        writeln!(notes(), "{}", words.text("check-none"))?;
        return Ok(ExitCode::NotFound);
    }
    let rows: Vec<Row<'_>> = found
        .iter()
        .flat_map(|check| check.repeated.iter().map(move |repeated| Row { check, repeated }))
        .collect();
    common.format.print(
        &found,
        |table| table.columns(&columns(), &rows),
        || Ok(found.iter().map(|check| check_text::render(check, &words)).collect::<Vec<_>>().join("\n")),
    )?;
    Ok(ExitCode::Done)
}

/// A lane, span of days and measure.
struct Row<'a> {
    check: &'a Check,
    repeated: &'a Repeated,
}

fn columns<'a>() -> [Column<Row<'a>>; 17] {
    [
        ("lane", |row| row.check.lane.clone()),
        ("from", |row| row.check.from.to_string()),
        ("to", |row| row.check.to.to_string()),
        ("passages", |row| row.check.passages.to_string()),
        ("cows", |row| row.check.cows.to_string()),
        ("usable_pct", |row| number(Some(row.check.usable_pct), 1)),
        ("identified_pct", |row| number(Some(row.check.identified_pct), 1)),
        ("standing_pct", |row| number(Some(row.check.standing_pct), 1)),
        ("standing_s", |row| number(row.check.standing_s, 3)),
        ("measure", |row| row.repeated.measure.name().to_owned()),
        ("within_day_sd", |row| number(row.repeated.within_day, 3)),
        ("between_days_sd", |row| number(row.repeated.between_days, 3)),
        ("change_1_day", |row| number(row.repeated.changes()[0], 3)),
        ("change_3_days", |row| number(row.repeated.changes()[1], 3)),
        ("change_7_days", |row| number(row.repeated.changes()[2], 3)),
        ("change_14_days", |row| number(row.repeated.changes()[3], 3)),
        ("gains", |row| cell(&row.check.gains)),
    ]
}
