//! One cow before and after a day, or all cases of the farm.

use crate::case::before_after::compare::Comparison;
use crate::case::before_after::follow;
use crate::case::book::WINDOW_DAYS;
use crate::case::outcomes::group;
use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::commands::trim::case::today;
use crate::record::case::KeptCase;
use crate::record::finding::coded;
use crate::record::{AnimalId, CowDay};
use crate::report;
use crate::report::trim;
use crate::report::trim::compare::{Compared, Window, of_cow};
use crate::report::{csv, style, text};
use crate::store::{PassageFilter, Store};
use clap::Args;
use jiff::ToSpan;
use std::collections::BTreeMap;
use std::io::Write;

/// What to compare.
#[derive(Debug, Args)]
pub struct Compare {
    /// The cow
    #[arg(required_unless_present = "all", conflicts_with = "all")]
    animal: Option<String>,
    /// Day of the trim or treatment (default: her latest case)
    #[arg(long, value_name = "DATE")]
    at: Option<Day>,
    /// Use nothing after this day (default: her last passage)
    #[arg(long, value_name = "DATE")]
    until: Option<Day>,
    /// Days of the window before
    #[arg(long, value_name = "DAYS", default_value_t = WINDOW_DAYS.0, value_parser = clap::value_parser!(i32).range(1..=365))]
    before: i32,
    /// Days of the window after
    #[arg(long, value_name = "DAYS", default_value_t = WINDOW_DAYS.1, value_parser = clap::value_parser!(i32).range(1..=365))]
    after: i32,
    /// All cases of the farm, grouped
    #[arg(long)]
    all: bool,
    /// What to group by
    #[arg(long, default_value = "treatment", requires = "all",
        value_parser = clap::builder::PossibleValuesParser::new(["lesion", "leg", "claw", "treatment", "trimmer", "season"]))]
    by: String,
}

/// Prints the comparison.
///
/// # Errors
/// When the store cannot be used or the output cannot be written.
pub fn run(arguments: &Compare, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let Some(animal) = &arguments.animal else { return all(arguments, &store, common) };
    let Some(animal) = crate::commands::animal::the_one(&store, animal)? else {
        return Ok(ExitCode::BadInput);
    };
    let mut notes = report::notes();
    let called = store.names()?.long(&animal);
    let at = Day::maybe(arguments.at.as_ref(), &store)?;
    let given_until = Day::maybe(arguments.until.as_ref(), &store)?;
    let window = Window { at, until: given_until, before: arguments.before, after: arguments.after };
    let Some(Compared { comparison, cases }) = of_cow(&store, &animal, &window)? else {
        let known = store.cases(Some(&animal))?.iter().any(|kept| kept.withdrawn.is_none());
        match at {
            None if !known => writeln!(notes, "Cow {called} has no case; say which day with --at DATE.")?,
            _ => {
                writeln!(notes, "Cow {called} has no passages around that day: nothing can be said of her.")?
            }
        }
        return Ok(ExitCode::NotFound);
    };
    let until = comparison.until;
    match common.format {
        Format::Json => report::json::write(std::io::stdout(), &comparison)?,
        Format::Csv => measures_csv(&comparison)?,
        Format::Text => {
            let (names, words) = (store.names()?, common.words(&store)?);
            let cases: Vec<_> =
                cases.iter().map(|k| (k.id, trim::case_line::summary(k, &names, &words))).collect();
            let text = trim::compare::render(&comparison, &cases, &names, &words);
            report::out().write_all(text.as_bytes())?;
        }
    }
    let later = PassageFilter { animal: Some(animal), from: Some(until.saturating_add(1.day())), to: None };
    if given_until.is_none() && common.format == Format::Text && !store.passages(&later)?.is_empty() {
        writeln!(notes, "Passages after {until} are not in this window; --after DAYS makes it longer.")?;
    }
    Ok(ExitCode::Done)
}

fn measures_csv(comparison: &Comparison) -> anyhow::Result<()> {
    let mut writer = csv::writer(std::io::stdout());
    for measure in &comparison.measures {
        writer.serialize(measure)?;
    }
    writer.flush()?;
    Ok(())
}

/// Follows every case of the farm; the rows of the day table tell whether the lane was first.
///
/// # Errors
/// When the store cannot be read.
pub fn follow_all(store: &Store, days: Vec<CowDay>) -> anyhow::Result<Vec<(String, follow::Followed)>> {
    let until = today(store)?;
    let mut by_cow: BTreeMap<AnimalId, Vec<KeptCase>> = BTreeMap::new();
    for kept in store.cases(None)? {
        by_cow.entry(kept.case.animal.clone()).or_default().push(kept);
    }
    let bar = crate::progress::steps("cases", by_cow.len() as u64);
    let mut followed = Vec::new();
    let mut rows: BTreeMap<AnimalId, Vec<CowDay>> = BTreeMap::new();
    for row in days.into_iter().filter(|row| by_cow.contains_key(&row.animal)) {
        rows.entry(row.animal.clone()).or_default().push(row);
    }
    for animal in by_cow.keys() {
        let rows = rows.get(animal).map_or(&[][..], Vec::as_slice);
        let filter = PassageFilter { animal: Some(animal.clone()), from: None, to: Some(until) };
        let cow = store.cow(animal, store.passages(&filter)?)?;
        let last = cow.passages.last().map_or(until, |p| p.date);
        for kept in &cow.cases {
            followed.extend(follow::follow(&cow, kept, rows, last).map(|f| (animal.0.clone(), f)));
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    Ok(followed)
}

fn all(arguments: &Compare, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let groups = group::groups(&follow::changes(&follow_all(store, Vec::new())?, &arguments.by));
    match common.format {
        Format::Json => report::json::write(std::io::stdout(), &groups)?,
        Format::Csv => {
            let mut writer = csv::writer(std::io::stdout());
            writer.write_record([
                "group",
                "cases",
                "cows",
                "change_pct",
                "low",
                "high",
                "detectable_pct",
                "wilcoxon_p",
                "finding",
            ])?;
            for g in &groups {
                let numbers = [g.change_pct, g.low, g.high, g.detectable_pct, g.wilcoxon_p];
                let mut row = vec![g.group.clone(), g.cases.to_string(), g.cows.to_string()];
                row.extend(numbers.map(|number| csv::number(Some(number).filter(|n| n.is_finite()), 4)));
                row.push(coded(&g.finding).code);
                writer.write_record(row)?;
            }
            writer.flush()?;
        }
        Format::Text => {
            let (mut out, words) = (report::out(), common.words(store)?);
            writeln!(out, "Load of the treated leg, % of her usual, after less before, by {}", arguments.by)?;
            writeln!(out, "(the block's effect taken out; cows with several cases count once)\n")?;
            for g in &groups {
                writeln!(
                    out,
                    "{}: {} of {}",
                    style::paint(style::STRONG, &g.group),
                    text::count(g.cases, "case", "cases"),
                    text::count(g.cows, "cow", "cows")
                )?;
                if g.low.is_finite() {
                    writeln!(
                        out,
                        "  {:+.1} ({:+.1} to {:+.1}); one cow's change tells from {:.0} on",
                        g.change_pct, g.low, g.high, g.detectable_pct
                    )?;
                }
                writeln!(out, "  {}.", text::wrap(&words.finding(&g.finding), 2))?;
            }
            if groups.is_empty() {
                writeln!(out, "No case has passages after it yet.")?;
            }
        }
    }
    Ok(ExitCode::Done)
}
