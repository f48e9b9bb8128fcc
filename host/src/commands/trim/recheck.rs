//! The recheck list, by day.

use crate::arithmetic::dates::days_between;
use crate::case::rechecks::recheck::Recheck;
use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::commands::trim::case::today;
use crate::record::AnimalId;
use crate::record::case::withdrawal;
use crate::record::finding::{cell, coded};
use crate::report::list::marks::Marks;
use crate::report::output::Columns;
use crate::report::trim::rechecks;
use crate::store::StoreError;
use clap::Args;

/// Which day.
#[derive(Debug, Args)]
pub struct RecheckArguments {
    /// The day the list is made for (default: today); nothing later is used
    #[arg(long)]
    date: Option<Day>,
    /// Days ahead to list
    #[arg(long, default_value_t = 14, value_parser = clap::value_parser!(i32).range(0..=365))]
    days: i32,
    /// Also those that nobody has done for more than four weeks
    #[arg(long)]
    all: bool,
}

/// Prints the recheck list.
///
/// # Errors
/// When the store cannot be used or the output cannot be written.
pub fn run(arguments: &RecheckArguments, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let date = Day::maybe(arguments.date.as_ref(), &store)?.map_or_else(|| today(&store), Ok)?;
    let cases = store.cases_known_on(date)?;
    let open = withdrawal::open(&cases, date);
    let mut list = store.rechecks(cases, date)?;
    list.retain(|r| days_between(date, r.date) <= arguments.days);
    let marks =
        Marks::on(date, &store.marks(date)?, &store.last_seen(date)?, &[], |_, _| Ok::<_, StoreError>(None))?;
    list.retain(|recheck| !marks.gone(&AnimalId(recheck.animal_id.clone())));
    let before = list.len();
    list.retain(|recheck| arguments.all || !recheck.faded(date));
    let faded = before - list.len();
    list.sort_by(|a, b| (a.date, &a.animal_id, a.leg).cmp(&(b.date, &b.animal_id, b.leg)));
    let (farm, names) = (store.setting("name")?.unwrap_or_default(), store.names()?);
    let words = common.words(&store)?;
    common.format.print(
        &list,
        |table| table.columns(COLUMNS, &list),
        || Ok(rechecks::render(&list, faded, &open, &names, date, &farm, &words)),
    )?;
    Ok(ExitCode::Done)
}

const COLUMNS: &Columns<Recheck> = &[
    ("date", |recheck| recheck.date.to_string()),
    ("animal_id", |recheck| recheck.animal_id.clone()),
    ("leg", |recheck| recheck.leg.to_owned()),
    ("case", |recheck| recheck.case.to_string()),
    ("look_for", |recheck| cell(&recheck.look_for)),
    ("reason", |recheck| coded(&recheck.reason).to_string()),
    ("planned", |recheck| recheck.planned.map(|day| day.to_string()).unwrap_or_default()),
];
