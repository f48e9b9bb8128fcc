//! What a lane can see.

use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::record::finding::cell;
use crate::report::lane::check::{Check, checks};
use crate::report::lane::check_text;
use crate::report::{json, notes, out};
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
    let until = Day::maybe(arguments.until.as_ref(), &store)?;
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
    match common.format {
        Format::Json => json::write(out(), &found)?,
        Format::Csv => csv(&found)?,
        Format::Text => {
            let texts: Vec<String> = found.iter().map(|check| check_text::render(check, &words)).collect();
            write!(out(), "{}", texts.join("\n"))?;
        }
    }
    Ok(ExitCode::Done)
}

/// A row a lane, span of days and measure.
fn csv(checks: &[Check]) -> anyhow::Result<()> {
    let mut writer = csv::Writer::from_writer(out());
    writer.write_record([
        "lane",
        "from",
        "to",
        "passages",
        "cows",
        "usable_pct",
        "identified_pct",
        "standing_pct",
        "standing_s",
        "measure",
        "within_day_sd",
        "between_days_sd",
        "change_1_day",
        "change_3_days",
        "change_7_days",
        "change_14_days",
        "gains",
    ])?;
    let number = |value: Option<f64>| value.map(|value| format!("{value:.3}")).unwrap_or_default();
    for check in checks {
        for row in &check.repeated {
            let mut record = vec![
                check.lane.clone(),
                check.from.to_string(),
                check.to.to_string(),
                check.passages.to_string(),
                check.cows.to_string(),
                format!("{:.1}", check.usable_pct),
                format!("{:.1}", check.identified_pct),
                format!("{:.1}", check.standing_pct),
                number(check.standing_s),
                row.measure.name().to_owned(),
                number(row.within_day),
                number(row.between_days),
            ];
            record.extend(row.changes().map(number));
            record.push(cell(&check.gains));
            writer.write_record(&record)?;
        }
    }
    writer.flush()?;
    Ok(())
}
