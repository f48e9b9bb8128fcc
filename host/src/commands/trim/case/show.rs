//! Cases as printed.

use crate::commands::animal::the_one;
use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::trim::case::follow::missing;
use crate::report::trim::case_shown;
use crate::store::Store;
use clap::Args;
use serde_json::Value;

/// Which cases.
#[derive(Debug, Args)]
pub struct List {
    /// Of this cow only
    #[arg(long)]
    animal: Option<String>,
    /// From this day on
    #[arg(long)]
    from: Option<Day>,
    /// Up to and with this day
    #[arg(long)]
    to: Option<Day>,
}

/// Shows one case.
pub fn one(id: i64, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let Some(kept) = store.case(id)? else { return missing(id) };
    let (corrections, names, words) = (store.corrections(id)?, store.names()?, common.words(store)?);
    common.format.print(
        &case_shown::with_corrections(&kept, &corrections),
        |table| case_shown::rows(table, std::slice::from_ref(&kept)),
        || Ok(case_shown::one(&kept, &corrections, &names, &words)),
    )?;
    Ok(ExitCode::Done)
}

/// Lists cases.
pub fn list(arguments: &List, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let animal = match arguments.animal.as_deref().map(|text| the_one(store, text)).transpose()? {
        Some(None) => return Ok(ExitCode::BadInput),
        Some(animal) => animal,
        None => None,
    };
    let (names, words) = (store.names()?, common.words(store)?);
    let mut cases = store.cases(animal.as_ref())?;
    let (from, to) = (Day::maybe(arguments.from.as_ref(), store)?, Day::maybe(arguments.to.as_ref(), store)?);
    cases.retain(|c| from.is_none_or(|from| c.case.date >= from) && to.is_none_or(|to| c.case.date <= to));
    cases.reverse();
    common.format.print(
        &cases.iter().map(case_shown::fields).collect::<Vec<Value>>(),
        |table| case_shown::rows(table, &cases),
        || Ok(case_shown::list(&cases, &names, &words)),
    )?;
    Ok(ExitCode::Done)
}
