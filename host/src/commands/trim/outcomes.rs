//! How cases went, beside published trials.

use crate::arithmetic::statistics::Estimated;
use crate::case::outcomes::outcome::{BESIDE_DAY, Back, Beside, Group, Outcome, by};
use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::commands::trim::compare::follow_all;
use crate::report::output::Column;
use crate::report::output::csv::number;
use crate::report::trim::outcomes;
use crate::score::kept;
use crate::store::KeptRows;
use clap::Args;

/// Groupings in the order printed.
const GROUPINGS: [&str; 6] = ["lesion", "leg", "claw", "treatment", "trimmer", "season"];

/// What to group by.
#[derive(Debug, Args)]
pub struct Outcomes {
    /// What to group by (default: lesion)
    #[arg(long, default_value = "lesion", value_parser = clap::builder::PossibleValuesParser::new(GROUPINGS))]
    by: String,
    /// Print the Kaplan-Meier curves too
    #[arg(long)]
    curves: bool,
}

/// Prints the outcomes, and keeps what the cases taught.
///
/// # Errors
/// When the store cannot be used or the output cannot be written.
pub fn run(arguments: &Outcomes, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let days = kept::rows(&store, None, |_| KeptRows::All)?.map_or_else(Vec::new, |(_, rows)| rows.days);
    let followed = follow_all(&store, days)?;
    let blocks: Vec<_> = followed.iter().filter_map(|(_, f)| f.block).collect();
    let half_times: Vec<_> =
        followed.iter().filter_map(|(_, f)| Some((f.lesion.clone(), f.half_time?))).collect();
    store.learn(&blocks, &half_times)?;
    let outcomes: Vec<Outcome> = followed
        .into_iter()
        .filter(|(_, f)| f.lesion.is_some() || f.outcome.block.is_some())
        .map(|f| f.1.outcome)
        .collect();
    let grouping = GROUPINGS.into_iter().find(|g| *g == arguments.by).unwrap_or(GROUPINGS[0]);
    let groups = by(grouping, &outcomes);
    let words = common.words(&store)?;
    common.format.print(
        &groups,
        |table| table.columns(&columns(), &rows(&groups)),
        || Ok(outcomes::render(&groups, arguments.curves, &words)),
    )?;
    Ok(ExitCode::Done)
}

/// A group by one of the days, and the other groups where they are held beside it on that day.
type Row<'a> = (&'a Group, &'a Back, Option<&'a Beside>);

fn rows(groups: &[Group]) -> Vec<Row<'_>> {
    groups
        .iter()
        .flat_map(|group| {
            let beside = |back: &Back| group.beside_others.as_ref().filter(|_| back.by_day == BESIDE_DAY);
            group.back.iter().map(move |back| (group, back, beside(back)))
        })
        .collect()
}

fn columns<'a>() -> [Column<Row<'a>>; 21] {
    [
        ("by", |(group, ..)| group.by.to_owned()),
        ("group", |(group, ..)| group.group.clone()),
        ("cases", |(group, ..)| group.cases.to_string()),
        ("measured", |(group, ..)| group.measured.to_string()),
        ("by_day", |(_, back, _)| back.by_day.to_string()),
        ("back", |(_, back, _)| back.back.to_string()),
        ("of", |(_, back, _)| back.of.to_string()),
        ("back_part", |(_, back, _)| number(back.part.map(|part| part.value), 4)),
        ("back_low", |(_, back, _)| number(back.part.map(|part| part.low), 4)),
        ("back_high", |(_, back, _)| number(back.part.map(|part| part.high), 4)),
        ("others_back", |(.., beside)| beside.map(|others| others.back.to_string()).unwrap_or_default()),
        ("others_of", |(.., beside)| beside.map(|others| others.of.to_string()).unwrap_or_default()),
        ("odds_ratio", |(.., beside)| number(odds(*beside).map(|odds| odds.value), 4)),
        ("odds_low", |(.., beside)| number(odds(*beside).map(|odds| odds.low), 4)),
        ("odds_high", |(.., beside)| number(odds(*beside).map(|odds| odds.high), 4)),
        ("fisher_p", |(.., beside)| number(beside.map(|others| others.fisher_p), 4)),
        ("median_days_to_normal", |(group, ..)| number(group.median_days_to_normal, 4)),
        ("relapses", |(group, ..)| group.relapses.to_string()),
        ("lane_first", |(group, ..)| group.lane_first.to_string()),
        ("recorded", |(group, ..)| group.recorded.to_string()),
        ("days_gained", |(group, ..)| number(group.days_gained, 4)),
    ]
}

fn odds(beside: Option<&Beside>) -> Option<Estimated> {
    beside.and_then(|others| others.odds_ratio)
}
