//! Score everything anew and say what came out.

use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::record::Flag;
use crate::report;
use crate::report::day_table as table;
use crate::report::list::morning::LaneNote;
use crate::report::list::text::lane_note;
use crate::report::words::Words;
use crate::score;
use crate::score::ScoreSettings;
use jiff::civil::Date;
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};

/// What to score.
#[derive(Debug, clap::Args)]
pub struct Rescore {
    /// Last day to score (default: the last day with a passage)
    #[arg(long)]
    pub until: Option<Day>,
    /// Write the table of every cow and day to this file (CSV, or JSON with --format json; `-`: standard output)
    #[arg(long, value_name = "FILE")]
    pub days: Option<PathBuf>,
    /// Write the smoothed history to this file: what each day looks like in the light of all days
    #[arg(long, value_name = "FILE")]
    pub history: Option<PathBuf>,
    /// Write the lanes' own errors to this file
    #[arg(long, value_name = "FILE")]
    pub lanes: Option<PathBuf>,
    /// First day to write
    #[arg(long)]
    pub from: Option<Day>,
}

#[derive(Serialize)]
struct Summary {
    rows: usize,
    last_day: Option<String>,
    no_data: usize,
    cannot_tell: usize,
    clear: usize,
    watch: usize,
    check: usize,
    urgent: usize,
    scores_learned_from: usize,
    lifted_feet_learned_from: usize,
    farm_link_intercept: f64,
    farm_link_slope: f64,
    farm_link_weight: f64,
    lane_remarks: Vec<LaneNote>,
}

fn write<R: Serialize>(path: &Path, format: Format, rows: impl Iterator<Item = R>) -> anyhow::Result<()> {
    table::write(report::destination(Some(path))?, format, rows)
}

/// Scores and writes.
///
/// # Errors
/// When the store cannot be read or a file not be written.
pub fn run(arguments: &Rescore, common: &Common) -> anyhow::Result<ExitCode> {
    let store = crate::commands::open::existing(common)?;
    let settings = ScoreSettings {
        until: Day::maybe(arguments.until.as_ref(), &store)?,
        history: arguments.history.is_some(),
        ..ScoreSettings::default()
    };
    let run = score::run(&store, &settings)?;
    let from = Day::maybe(arguments.from.as_ref(), &store)?;
    let wanted = |date: Date| from.is_none_or(|from| date >= from);
    if let Some(path) = &arguments.days {
        write(path, common.format, run.days.iter().filter(|d| wanted(d.date)).map(table::DayRow::from))?;
    }
    if let Some(path) = &arguments.history {
        write(
            path,
            common.format,
            run.history.iter().filter(|d| wanted(d.date)).map(table::HistoryRow::from),
        )?;
    }
    if let Some(path) = &arguments.lanes {
        write(path, common.format, run.lanes.iter().filter(|d| wanted(d.date)).map(table::LaneRow::from))?;
    }
    let last = run.days.last().map(|d| d.date);
    let count = |flag: Flag| run.days.iter().filter(|d| Some(d.date) == last && d.flag == flag).count();
    let summary = Summary {
        rows: run.days.len(),
        last_day: last.map(|d| d.to_string()),
        no_data: count(Flag::NoData),
        cannot_tell: count(Flag::CannotTell),
        clear: count(Flag::Clear),
        watch: count(Flag::Watch),
        check: count(Flag::Check),
        urgent: count(Flag::Urgent),
        scores_learned_from: run.scores_used,
        lifted_feet_learned_from: run.feet_used,
        farm_link_intercept: run.link.0.intercept,
        farm_link_slope: run.link.0.slope,
        farm_link_weight: run.link.1,
        lane_remarks: run
            .lanes
            .iter()
            .filter(|l| Some(l.date) == last)
            .filter_map(|l| Some(LaneNote { lane: Some(l.lane.clone()), remark: l.remark.clone()? }))
            .collect(),
    };
    // A table on standard output must not be followed by words.
    let to_screen = [&arguments.days, &arguments.history, &arguments.lanes]
        .into_iter()
        .flatten()
        .any(|path| path.as_os_str() == "-");
    if !to_screen {
        say(&summary, common.format, &common.words(&store)?)?;
    }
    Ok(if run.days.is_empty() { ExitCode::NotFound } else { ExitCode::Done })
}

fn say(summary: &Summary, format: Format, words: &Words) -> anyhow::Result<()> {
    let mut out = report::out();
    match format {
        Format::Json => report::json::write(out, summary)?,
        Format::Csv | Format::Text => {
            let Some(last) = &summary.last_day else {
                writeln!(
                    out,
                    "No passages to score. Bring in readings or passages with `fourplate import`."
                )?;
                return Ok(());
            };
            writeln!(out, "{} cow-days scored, the last on {last}.", summary.rows)?;
            writeln!(
                out,
                "That day: {} urgent, {} check, {} watch, {} clear, {} cannot tell, {} no data.",
                summary.urgent,
                summary.check,
                summary.watch,
                summary.clear,
                summary.cannot_tell,
                summary.no_data
            )?;
            if summary.scores_learned_from + summary.lifted_feet_learned_from > 0 {
                writeln!(
                    out,
                    "Probabilities rest on {} scores of the farm and {} cows with lifted feet (weight {:.2} against the published figures).",
                    summary.scores_learned_from, summary.lifted_feet_learned_from, summary.farm_link_weight
                )?;
            }
            for note in &summary.lane_remarks {
                writeln!(out, "{}", lane_note(note, words))?;
            }
        }
    }
    Ok(())
}
