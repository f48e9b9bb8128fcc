//! What comes after: follow-ups, corrections, withdrawals.

use crate::commands::animal;
use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::trim::case::add::allowed;
use crate::commands::trim::case::fields::written;
use crate::commands::trim::case::{ask, can_ask, today};
use crate::record::case::{BlockSeen, Case, Course, FollowUp, KeptCase, block, history};
use crate::record::finding::Objection;
use crate::record::finding::check;
use crate::record::names::Meant;
use crate::report;
use crate::report::text::wrap;
use crate::report::trim::case_line::summary;
use crate::report::words::Words;
use crate::store::Store;
use clap::{Args, builder::PossibleValuesParser};
use jiff::{Timestamp, civil::Date};
use serde_json::json;
use std::io::Write;

/// A later look.
#[derive(Debug, Args)]
pub struct Follow {
    /// Number of the case, or the cow: her open foot then
    #[arg(value_name = "CASE|COW")]
    case: String,
    /// Day of the look (default: today)
    #[arg(long)]
    date: Option<Day>,
    /// The block: still on, lost by itself, or taken off
    #[arg(long, value_parser = PossibleValuesParser::new(["on", "lost", "off"]))]
    block: Option<String>,
    /// Height left of the block, mm
    #[arg(long, value_name = "MM", value_parser = crate::commands::trim::case::ask::height)]
    block_height_mm: Option<f64>,
    /// How the foot looks
    #[arg(long, value_parser = PossibleValuesParser::new(["healed", "improving", "same", "worse"]))]
    course: Option<String>,
    /// Anything worth remembering
    #[arg(long)]
    note: Option<String>,
    /// Who looked
    #[arg(long)]
    who: Option<String>,
    /// Take it in although something about it is odd
    #[arg(long)]
    yes: bool,
}

/// A correction.
#[derive(Debug, Args)]
pub struct Correct {
    /// Number of the case
    case: i64,
    /// Fields and what they should be, such as leg=LR zone=4; nothing after = clears it
    #[arg(required = true, value_name = "FIELD=VALUE", value_parser = pair)]
    fields: Vec<(String, String)>,
    /// Who corrects it
    #[arg(long)]
    who: Option<String>,
    /// Take it in although something about it is odd
    #[arg(long)]
    yes: bool,
}

/// A withdrawal, or its end.
#[derive(Debug, Args)]
pub struct Withdraw {
    /// Number of the case
    case: i64,
    /// Why
    #[arg(long)]
    why: String,
    /// Who says so
    #[arg(long)]
    who: Option<String>,
}

fn pair(text: &str) -> Result<(String, String), String> {
    let (name, value) = text.split_once('=').ok_or("write FIELD=VALUE")?;
    Ok((name.trim().to_owned(), value.trim().to_owned()))
}

pub fn missing(case: impl std::fmt::Display) -> anyhow::Result<ExitCode> {
    writeln!(report::notes(), "There is no case {case}; `fourplate case list` shows them.")?;
    Ok(ExitCode::NotFound)
}

/// The case of that number, or the open foot of that cow. A word that may be either is asked about.
fn open_foot(store: &Store, text: &str, words: &Words) -> anyhow::Result<Result<KeptCase, ExitCode>> {
    let by_number = match text.trim_start_matches('#').parse() {
        Ok(number) => store.case(number)?,
        Err(_) => None,
    };
    if text.starts_with('#') {
        return by_number.map_or_else(|| missing(text).map(Err), |kept| Ok(Ok(kept)));
    }
    let mut hers = match animal::meant(store, text)? {
        Meant::One(animal) => store.cases(Some(&animal))?,
        Meant::Unknown => Vec::new(),
        Meant::Several(_) if by_number.is_some() => Vec::new(),
        Meant::Several(_) => {
            animal::the_one(store, text)?;
            return Ok(Err(ExitCode::BadInput));
        }
    };
    hers.retain(|kept| kept.withdrawn.is_none());
    let last = hers.iter().map(|kept| kept.case.date).max();
    hers.retain(|kept| Some(kept.case.date) == last);
    match (by_number, hers.len()) {
        (Some(kept), 0) => Ok(Ok(kept)),
        (None, 0) => missing(text).map(Err),
        (None, 1) => Ok(Ok(hers.remove(0))),
        (by_number, _) => {
            let names = store.names()?;
            let all: Vec<String> = by_number
                .iter()
                .chain(&hers)
                .map(|kept| format!("#{} ({})", kept.id, summary(kept, &names, words)))
                .collect();
            writeln!(
                report::notes(),
                "{}",
                wrap(&format!("{text} may be {}; write the case's number with #", all.join(", or ")), 2)
            )?;
            Ok(Err(ExitCode::BadInput))
        }
    }
}

/// Enters a follow-up.
pub fn run(arguments: &Follow, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let (today, words) = (today(store)?, common.words(store)?);
    let kept = match open_foot(store, &arguments.case, &words)? {
        Ok(kept) => kept,
        Err(code) => return Ok(code),
    };
    let mut look = FollowUp {
        date: Day::maybe(arguments.date.as_ref(), store)?.unwrap_or(today),
        block: arguments.block.as_deref().and_then(BlockSeen::from_name),
        height_mm: arguments.block_height_mm,
        course: arguments.course.as_deref().and_then(Course::from_name),
        note: arguments.note.clone(),
        who: arguments.who.clone(),
    };
    let told = [look.block.is_some(), look.height_mm.is_some(), look.course.is_some(), look.note.is_some()];
    if !told.contains(&true) && can_ask() {
        writeln!(report::out(), "{}", wrap(&summary(&kept, &store.names()?, &words), 2))?;
        ask::follow_up(
            &mut look,
            kept.case.treatment.block.is_some() && block::known_off(&kept).is_none(),
            &words,
        )?;
    }
    if !allowed(&check::follow_up(&kept, &look, today), arguments.yes, &words)? {
        return Ok(ExitCode::BadInput);
    }
    store.add_follow_up(kept.id, &look, Timestamp::now())?;
    let who = store.names()?.short(&kept.case.animal);
    let values = json!({ "case": kept.id.to_string(), "animal": who, "date": look.date.to_string() });
    writeln!(report::out(), "{}", words.say("look-entered", values))?;
    if look.course == Some(Course::Worse) {
        writeln!(report::out(), "{}", wrap(&words.text("caution-worse"), 2))?;
    }
    if look.block == Some(BlockSeen::Lost) {
        writeln!(report::out(), "{}", wrap(&words.text("look-block-lost"), 2))?;
    }
    Ok(ExitCode::Done)
}

/// What stands against a case as corrected, among the cow's other cases.
pub fn against(store: &Store, id: i64, corrected: &Case, today: Date) -> anyhow::Result<Vec<Objection>> {
    let mut others = store.cases(Some(&corrected.animal))?;
    others.retain(|other| other.id != id);
    Ok(check::case(corrected, Some(today), &others))
}

/// Corrects fields.
pub fn correct(arguments: &Correct, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let Some(kept) = store.case(arguments.case)? else { return missing(arguments.case) };
    let (today, order, words) = (today(store)?, store.day_order()?, common.words(store)?);
    let pair = |(name, value): &(String, String)| (name.clone(), written(name, value, today, order));
    let fields: Vec<_> = arguments.fields.iter().map(pair).collect();
    let (corrected, changes) = match history::apply(&kept.case, &fields) {
        Ok(done) => done,
        Err(error) => {
            let values = json!({ "what": error.to_string() });
            writeln!(report::notes(), "{}", words.say("entry-not-corrected", values))?;
            return Ok(ExitCode::BadInput);
        }
    };
    if !allowed(&against(store, arguments.case, &corrected, today)?, arguments.yes, &words)? {
        return Ok(ExitCode::BadInput);
    }
    store.correct_case(
        arguments.case,
        &corrected,
        &changes,
        &who(arguments.who.as_ref()),
        Timestamp::now(),
    )?;
    for change in &changes {
        writeln!(report::out(), "{}: {:?} -> {:?}", change.field, change.was, change.is)?;
    }
    if changes.is_empty() {
        writeln!(report::out(), "{}", words.text("case-correct-already"))?;
    }
    Ok(ExitCode::Done)
}

/// Withdraws a case.
pub fn withdraw(arguments: &Withdraw, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    if store.case(arguments.case)?.is_none() {
        return missing(arguments.case);
    }
    store.withdraw_case(arguments.case, &arguments.why, &who(arguments.who.as_ref()), Timestamp::now())?;
    say(common, store, "case-no-longer", arguments.case)?;
    Ok(ExitCode::Done)
}

/// Lets a withdrawn case count again.
pub fn reinstate(arguments: &Withdraw, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let Some(kept) = store.case(arguments.case)? else { return missing(arguments.case) };
    if kept.withdrawn.is_none() {
        say(common, store, "case-counts", kept.id)?;
        return Ok(ExitCode::Done);
    }
    store.reinstate_case(&kept, &arguments.why, &who(arguments.who.as_ref()), Timestamp::now())?;
    say(common, store, "case-counts-again", kept.id)?;
    Ok(ExitCode::Done)
}

fn say(common: &Common, store: &Store, id: &str, case: i64) -> anyhow::Result<()> {
    Ok(writeln!(report::out(), "{}", common.words(store)?.say(id, json!({ "case": case.to_string() })))?)
}

fn who(given: Option<&String>) -> String {
    given.cloned().or_else(|| std::env::var("USER").ok()).unwrap_or_else(|| "not named".to_owned())
}
