//! Score everything anew and say what came out.

use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::record::Flag;
use crate::report;
use crate::report::list::morning::LaneNote;
use crate::report::list::text::lane_note;
use crate::report::output::csv::number;
use crate::report::output::{Columns, day_rows as table};
use crate::report::text::wrap;
use crate::report::words::Words;
use crate::score;
use crate::score::ScoreSettings;
use jiff::civil::Date;
use serde::Serialize;
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
    format.write_rows(report::destination(Some(path))?, rows)
}

/// Scores and writes.
///
/// # Errors
/// When the store cannot be read or a file not be written.
pub fn run(arguments: &Rescore, common: &Common) -> anyhow::Result<ExitCode> {
    let store = crate::commands::open::existing(common)?;
    let settings = ScoreSettings {
        until: Day::been(arguments.until.as_ref(), &store)?,
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
        let words = common.words(&store)?;
        let table = [summary];
        common.format.print(&table[0], |out| out.columns(COLUMNS, &table), || Ok(text(&table[0], &words)))?;
    }
    Ok(if run.days.is_empty() { ExitCode::NotFound } else { ExitCode::Done })
}

const COLUMNS: &Columns<Summary> = &[
    ("rows", |of| of.rows.to_string()),
    ("last_day", |of| of.last_day.clone().unwrap_or_default()),
    ("no_data", |of| of.no_data.to_string()),
    ("cannot_tell", |of| of.cannot_tell.to_string()),
    ("clear", |of| of.clear.to_string()),
    ("watch", |of| of.watch.to_string()),
    ("check", |of| of.check.to_string()),
    ("urgent", |of| of.urgent.to_string()),
    ("scores_learned_from", |of| of.scores_learned_from.to_string()),
    ("lifted_feet_learned_from", |of| of.lifted_feet_learned_from.to_string()),
    ("farm_link_weight", |of| number(Some(of.farm_link_weight), 4)),
];

fn text(summary: &Summary, words: &Words) -> String {
    if summary.last_day.is_none() {
        return words.text("rescore-none") + "\n";
    }
    let mut ids = vec!["rescore-done", "rescore-day"];
    if summary.scores_learned_from + summary.lifted_feet_learned_from > 0 {
        ids.push("rescore-learned");
    }
    let said = ids.into_iter().map(|id| words.say(id, summary));
    let lanes = summary.lane_remarks.iter().map(|note| lane_note(note, words));
    said.chain(lanes).map(|line| wrap(&line, 2) + "\n").collect()
}
