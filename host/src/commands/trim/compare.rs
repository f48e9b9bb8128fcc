//! One cow before and after a day, or all cases of the farm.

use crate::case::before_after::follow;
use crate::case::book::WINDOW_DAYS;
use crate::case::outcomes::group::{self, GroupChange};
use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::commands::trim::case::today;
use crate::record::case::KeptCase;
use crate::record::finding::coded;
use crate::record::{AnimalId, CowDay};
use crate::report;
use crate::report::output::Columns;
use crate::report::output::csv::number;
use crate::report::trim;
use crate::report::trim::compare::{Compared, Window, of_cow};

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
    let given_until = Day::been(arguments.until.as_ref(), &store)?;
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
    let (names, words) = (store.names()?, common.words(&store)?);
    common.format.print(
        &comparison,
        |table| table.rows(&comparison.measures),
        || {
            let line = |kept: &KeptCase| (kept.id, trim::case_line::summary(kept, &names, &words));
            let cases: Vec<_> = cases.iter().map(line).collect();
            Ok(trim::compare::render(&comparison, &cases, &names, &words))
        },
    )?;
    let later = PassageFilter { animal: Some(animal), from: Some(until.saturating_add(1.day())), to: None };
    if given_until.is_none() && common.format.for_people() && !store.passages(&later)?.is_empty() {
        writeln!(notes, "Passages after {until} are not in this window; --after DAYS makes it longer.")?;
    }
    Ok(ExitCode::Done)
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
    let words = common.words(store)?;
    common.format.print(
        &groups,
        |table| table.columns(COLUMNS, &groups),
        || Ok(trim::outcomes::changes(&groups, &words)),
    )?;
    Ok(ExitCode::Done)
}

const COLUMNS: &Columns<GroupChange> = &[
    ("group", |group| group.group.clone()),
    ("cases", |group| group.cases.to_string()),
    ("cows", |group| group.cows.to_string()),
    ("change_pct", |group| number(Some(group.change_pct), 4)),
    ("low", |group| number(Some(group.low), 4)),
    ("high", |group| number(Some(group.high), 4)),
    ("detectable_pct", |group| number(Some(group.detectable_pct), 4)),
    ("wilcoxon_p", |group| number(Some(group.wilcoxon_p), 4)),
    ("finding", |group| coded(&group.finding).code),
];
