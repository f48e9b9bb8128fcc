//! A word about a cow, from the one who looked or knows.

use crate::commands::animal;
use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::commands::trim::case::today;
use crate::record::mark::{Mark, Marked};
use crate::report;
use clap::builder::PossibleValuesParser;
use jiff::Timestamp;
use serde_json::json;
use std::io::Write;

/// The words, as they are given.
const WORDS: [&str; 7] = ["looked", "booked", "dry", "sold", "died", "lent", "back"];

/// Which cow, and what is to be said of her.
#[derive(Debug, clap::Args)]
pub struct MarkArgs {
    /// Her number, name, tag or last digits
    #[arg(value_name = "COW")]
    animal: String,
    /// looked: her feet were looked at and nothing found; booked: for the trimmer; back: in milk again
    #[arg(value_parser = PossibleValuesParser::new(WORDS))]
    mark: String,
    /// The day it holds from (default: today)
    #[arg(long, value_name = "DATE")]
    date: Option<Day>,
    /// Who says so
    #[arg(long)]
    who: Option<String>,
    /// Take this mark away again
    #[arg(long)]
    undo: bool,
}

/// Keeps the mark, or takes it away.
///
/// # Errors
/// When the store cannot be read or written.
pub fn run(args: &MarkArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let Some(animal) = animal::the_one(&store, &args.animal)? else { return Ok(ExitCode::BadInput) };
    let mut notes = report::notes();
    if !store.directory()?.animals.contains(&animal) {
        writeln!(notes, "fourplate: nobody here is called {animal}; nothing was marked")?;
        return Ok(ExitCode::NotFound);
    }
    let today = today(&store)?;
    let date = Day::maybe(args.date.as_ref(), &store)?.unwrap_or(today);
    if date > today {
        writeln!(notes, "fourplate: {date} is in the future; nothing was marked")?;
        return Ok(ExitCode::BadInput);
    }
    let Some(mark) = Mark::from_name(&args.mark) else { return Ok(ExitCode::Usage) };
    let who = args.who.clone().unwrap_or_default();
    let marked = Marked { date, animal, mark, who };
    let changed = if args.undo {
        store.remove_mark(&marked.animal, date, mark)?
    } else {
        store.put_mark(&marked, Timestamp::now())?
    };
    let called = store.names()?.long(&marked.animal);
    if common.format == Format::Json {
        report::json::write(
            report::out(),
            &json!({ "marked": marked, "changed": changed, "undone": args.undo }),
        )?;
        return Ok(ExitCode::Done);
    }
    let word = &args.mark;
    let line = match (args.undo, changed) {
        (false, true) => format!("{called}: {word}, {date}."),
        (false, false) => format!("{called} was marked {word} on {date} already."),
        (true, true) => format!("{called} is no longer marked {word} on {date}."),
        (true, false) => format!("{called} was not marked {word} on {date}; nothing was taken away."),
    };
    writeln!(report::out(), "{line}")?;
    Ok(ExitCode::Done)
}
