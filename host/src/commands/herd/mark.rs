//! A word about a cow, from the one who looked or knows.

use crate::commands::animal;
use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::commands::trim::case::today;
use crate::record::mark::{Mark, Marked};
use crate::report;
use clap::builder::PossibleValuesParser;
use jiff::{Timestamp, civil::Date};
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
    if !animal::is_known(&store, &animal, "nothing was marked")? {
        return Ok(ExitCode::NotFound);
    }
    let today = today(&store)?;
    let date = Day::maybe(args.date.as_ref(), &store)?.unwrap_or(today);
    if date > today {
        writeln!(report::notes(), "fourplate: {date} is in the future; nothing was marked")?;
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
    let id = match (args.undo, changed) {
        (false, true) => "marked",
        (false, false) => "marked-already",
        (true, true) => "mark-taken-away",
        (true, false) => "mark-not-there",
    };
    let words = common.words(&store)?;
    let values =
        json!({ "animal": called, "mark": words.text(&format!("mark-{}", args.mark)), "date": date });
    let row = MarkRow { animal_id: &marked.animal.0, mark: &args.mark, date, changed, undone: args.undo };
    common.format.print(
        &json!({ "marked": marked, "changed": changed, "undone": args.undo }),
        |table| table.rows([&row]),
        || Ok(words.say(id, values) + "\n"),
    )?;
    Ok(ExitCode::Done)
}

/// A mark as a row of a table.
#[derive(serde::Serialize)]
struct MarkRow<'a> {
    animal_id: &'a str,
    mark: &'a str,
    date: Date,
    changed: bool,
    undone: bool,
}
