//! How cases went, beside published trials.

use crate::arithmetic::statistics::Estimated;
use crate::case::outcomes::outcome::{BESIDE_DAY, Group, Outcome, TRIALS, by};
use crate::commands::cli::{Common, Format};
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::commands::trim::compare::follow_all;
use crate::report;
use crate::report::{csv, style, text};
use crate::score::kept;
use crate::store::KeptRows;
use clap::Args;
use std::io::Write;

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
    match common.format {
        Format::Json => report::json::write(std::io::stdout(), &groups)?,
        Format::Csv => write_csv(&groups)?,
        Format::Text => print(&groups, arguments.curves)?,
    }
    Ok(ExitCode::Done)
}

fn write_csv(groups: &[Group]) -> anyhow::Result<()> {
    let mut writer = csv::writer(std::io::stdout());
    writer.write_record([
        "by",
        "group",
        "cases",
        "measured",
        "by_day",
        "back",
        "of",
        "back_part",
        "back_low",
        "back_high",
        "others_back",
        "others_of",
        "odds_ratio",
        "odds_low",
        "odds_high",
        "fisher_p",
        "median_days_to_normal",
        "relapses",
        "lane_first",
        "recorded",
        "days_gained",
    ])?;
    for g in groups {
        for b in &g.back {
            let number = |value: Option<f64>| csv::number(value, 4);
            // Only the row of the day that is held beside the others.
            let beside = g.beside_others.filter(|_| b.by_day == BESIDE_DAY);
            let odds = beside.and_then(|o| o.odds_ratio);
            writer.write_record([
                g.by.to_owned(),
                g.group.clone(),
                g.cases.to_string(),
                g.measured.to_string(),
                b.by_day.to_string(),
                b.back.to_string(),
                b.of.to_string(),
                number(b.part.map(|p| p.value)),
                number(b.part.map(|p| p.low)),
                number(b.part.map(|p| p.high)),
                beside.map(|o| o.back.to_string()).unwrap_or_default(),
                beside.map(|o| o.of.to_string()).unwrap_or_default(),
                number(odds.map(|o| o.value)),
                number(odds.map(|o| o.low)),
                number(odds.map(|o| o.high)),
                number(beside.map(|o| o.fisher_p)),
                number(g.median_days_to_normal),
                g.relapses.to_string(),
                g.lane_first.to_string(),
                g.recorded.to_string(),
                number(g.days_gained),
            ])?;
        }
    }
    writer.flush()?;
    Ok(())
}

fn percent(part: Option<Estimated>) -> String {
    part.map_or(String::new(), |p| {
        format!(" = {:.0} % ({:.0} to {:.0})", 100.0 * p.value, 100.0 * p.low, 100.0 * p.high)
    })
}

fn print(groups: &[Group], curves: bool) -> anyhow::Result<()> {
    let mut out = report::out();
    for g in groups {
        let name = style::paint(style::STRONG, &g.group);
        writeln!(
            out,
            "{name}: {}, {} seen to carry clearly less before",
            text::count(g.cases, "case", "cases"),
            g.measured
        )?;
        for b in g.back.iter().filter(|b| b.of > 0) {
            writeln!(out, "  back to normal by day {}: {} of {}{}", b.by_day, b.back, b.of, percent(b.part))?;
        }
        if let Some(beside) = g.beside_others {
            let odds = beside.odds_ratio.map_or(String::new(), |o| {
                format!(", odds ratio {:.1} ({:.1} to {:.1})", o.value, o.low, o.high)
            });
            writeln!(
                out,
                "  all others by day {BESIDE_DAY}: {} of {}{odds}, Fisher p {:.3}",
                beside.back, beside.of, beside.fisher_p
            )?;
        }
        if let Some(days) = g.median_days_to_normal {
            writeln!(out, "  half were back by day {days:.0}")?;
        }
        if g.relapses > 0 {
            writeln!(out, "  relapses: {}", g.relapses)?;
        }
        if g.recorded > 0 {
            let gained = g.days_gained.map_or(String::new(), |d| format!(", median {d:.0} days sooner"));
            writeln!(
                out,
                "  flagged by the lane before a person did: {} of {}{gained}",
                g.lane_first, g.recorded
            )?;
        }
        if curves {
            for (title, curve) in
                [("not yet back to normal", &g.to_normal), ("block still on", &g.block_kept)]
            {
                for s in curve {
                    writeln!(
                        out,
                        "  day {:>3}: {title} {:.2} ({:.2} to {:.2}), {} watched",
                        s.days, s.without, s.low, s.high, s.at_risk
                    )?;
                }
            }
        }
    }
    if groups.is_empty() {
        writeln!(out, "No cases yet.")?;
    }
    writeln!(out, "\nPublished trials, for context only (other cows, other definitions of recovery):")?;
    for trial in TRIALS {
        writeln!(out, "{}", text::wrap(&format!("- {trial}"), 2))?;
    }
    let caution =
        "These are counts of what happened, not of what a treatment did: who got which was no draw of lots.";
    writeln!(out, "\n{}", text::wrap(caution, 0))?;
    Ok(())
}
