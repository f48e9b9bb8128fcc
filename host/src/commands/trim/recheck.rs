//! The recheck list, by day.

use crate::arithmetic::dates::days_between;
use crate::case::rechecks::recheck::Recheck;
use crate::commands::cli::{Common, Format};
use crate::commands::exit_code::ExitCode;
use crate::commands::open_store;
use crate::commands::trim::case::today;
use crate::report;
use crate::report::{csv, style, text};
use clap::Args;
use jiff::civil::Date;
use std::io::Write;

/// Which day.
#[derive(Debug, Args)]
pub struct RecheckArguments {
    /// The day the list is made for (default: today); nothing later is used
    #[arg(long)]
    date: Option<Date>,
    /// Days ahead to list
    #[arg(long, default_value_t = 14, value_parser = clap::value_parser!(i32).range(0..=365))]
    days: i32,
}

/// Prints the recheck list.
///
/// # Errors
/// When the store cannot be used or the output cannot be written.
pub fn run(arguments: &RecheckArguments, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open_store(common)?;
    let date = arguments.date.map_or_else(|| today(&store), Ok)?;
    let mut list = store.rechecks(store.cases_known_on(date)?, date)?;
    list.retain(|r| days_between(date, r.date) <= arguments.days);
    list.sort_by(|a, b| (a.date, &a.animal_id, a.leg).cmp(&(b.date, &b.animal_id, b.leg)));
    match common.format {
        Format::Json => report::json::write(std::io::stdout(), &list)?,
        Format::Csv => {
            let mut writer = csv::writer(std::io::stdout());
            list.iter().try_for_each(|r| writer.serialize(r))?;
            writer.flush()?;
        }
        Format::Text => print(&list, date, &store.setting("name")?.unwrap_or_default())?,
    }
    Ok(ExitCode::Done)
}

fn print(list: &[Recheck], date: Date, farm: &str) -> anyhow::Result<()> {
    let mut out = report::out();
    let farm = if farm.is_empty() { String::new() } else { format!("{farm}, ") };
    writeln!(out, "{}", style::paint(style::STRONG, format!("{farm}feet to look at again, as of {date}")))?;
    let mut day = None;
    for r in list {
        if day != Some(r.date) {
            let late = if r.date < date { " (overdue)" } else { "" };
            writeln!(out, "\n{}{late}", style::paint(style::STRONG, r.date))?;
            day = Some(r.date);
        }
        let planned = r.planned.map_or(String::new(), |day| format!("; was planned for {day}"));
        let line =
            format!("[ ] {} {}, case {}: {} ({}{planned})", r.animal_id, r.leg, r.case, r.look_for, r.reason);
        writeln!(out, "{}", text::wrap(&line, 4))?;
    }
    if list.is_empty() {
        writeln!(out, "Nothing is due.")?;
    } else {
        let caution = "Work in the crush only, with a second way out; keep hands clear of knife and grinder. A very lame \
                       cow, a swelling on one side, or no weight on the leg: call the veterinarian.";
        writeln!(out, "\n{}", text::wrap(caution, 0))?;
    }
    Ok(())
}
