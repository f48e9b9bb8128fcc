//! A day's work at the crush: cow after cow, a line a foot, and the sheet of the visit at its end.

mod line;

use crate::commands::animal;
use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::trim::case::{against, ask, today};
use crate::commands::trim::visit::line::Line;
use crate::commands::{open, open_store};
use crate::record::AnimalId;
use crate::record::case::{Case, FollowUp, KeptCase, history};
use crate::record::finding::Objection;
use crate::record::finding::check;
use crate::record::names::{AskedBy, Meant, Names};
use crate::report;
use crate::report::cow::card_text;
use crate::report::farm::{Farm, Part};
use crate::report::text::wrap;
use crate::report::trim::case_line::{seen, summary};
use crate::report::trim::visit_sheet::{Sheet, for_the_veterinarian};
use crate::report::words::Words;
use crate::store::Store;
use clap::Args;
use jiff::{Timestamp, civil::Date};
use serde_json::json;
use shared::plate::Leg;
use std::io::{BufRead, IsTerminal, Write};

/// Which day's work.
#[derive(Debug, Args)]
pub struct Visit {
    /// Day of the work (default: today)
    #[arg(long, value_name = "DATE")]
    date: Option<Day>,
    /// Who trims (default: who did the last case here)
    #[arg(long, value_name = "NAME")]
    who: Option<String>,
    /// Only print the sheet of that day
    #[arg(long)]
    sheet: bool,
}

/// What can be taken back.
enum Entry {
    Case(i64),
    Look(i64),
}

struct Crush<'s> {
    store: &'s Store,
    words: Words,
    names: Names,
    date: Date,
    who: Option<String>,
    entered: Vec<Entry>,
    cows: Vec<AnimalId>,
}

/// Runs the visit on lines of standard input.
///
/// # Errors
/// When the store cannot be used, or input and output fail.
pub fn run(arguments: &Visit, common: &Common) -> anyhow::Result<ExitCode> {
    let store = if arguments.sheet { open::existing(common)? } else { open_store(common)? };
    let today = today(&store)?;
    let date = Day::maybe(arguments.date.as_ref(), &store)?.unwrap_or(today);
    let mut notes = report::notes();
    if date > today {
        writeln!(notes, "fourplate: {date} is in the future")?;
        return Ok(ExitCode::BadInput);
    }
    let words = common.words(&store)?;
    let last = || Ok::<_, anyhow::Error>(store.cases(None)?.into_iter().rev().find_map(|kept| kept.case.who));
    let who = match arguments.who.clone() {
        Some(who) => Some(who),
        None => last()?,
    };
    let names = store.names()?;
    let mut crush = Crush { store: &store, words, names, date, who, entered: vec![], cows: vec![] };
    let mut refused = false;
    if !arguments.sheet {
        let farm = store.setting("name")?.filter(|farm| !farm.is_empty());
        let values = json!({ "date": date, "farm": farm, "who": crush.who });
        writeln!(
            notes,
            "{}. {}",
            crush.words.say("visit-title", values),
            crush.words.text("visit-question-mark")
        )?;
        if crush.who.is_none() {
            writeln!(notes, "{}", crush.words.text("visit-nobody-named"))?;
        }
        refused = crush.cows(&mut std::io::stdin().lock())?;
    }
    crush.sheet(common.format)?;
    let unseen = refused && !std::io::stdin().is_terminal();
    Ok(if unseen { ExitCode::BadInput } else { ExitCode::Done })
}

/// A line without its mark of being so, and whether it had one.
fn so(line: &str) -> (&str, bool) {
    let line = line.trim();
    line.strip_suffix('!').map_or((line, false), |line| (line.trim_end(), true))
}

impl Crush<'_> {
    /// Cow after cow until the end. Whether a line was refused.
    fn cows(&mut self, input: &mut impl BufRead) -> anyhow::Result<bool> {
        let mut refused = false;
        let mut next: Option<AnimalId> = None;
        loop {
            let cow = match next.take() {
                Some(cow) => cow,
                None => {
                    let Some(line) = prompt(input, &(self.words.text("visit-which-cow") + ": "))? else {
                        return Ok(refused);
                    };
                    let (text, sure) = so(&line);
                    match text {
                        "" => continue,
                        "end" | "quit" | "exit" => return Ok(refused),
                        "sheet" => self.sheet(Format::Text)?,
                        "?" | "help" => writeln!(report::notes(), "{}", self.words.text("visit-help"))?,
                        "undo" => self.undo()?,
                        "back" => next = self.cows.pop(),
                        text => match self.cow(text, sure)? {
                            Some(cow) => next = Some(cow),
                            None => refused = true,
                        },
                    }
                    continue;
                }
            };
            self.brief(&cow)?;
            let prompt_of_cow = format!("{}: ", self.names.short(&cow));
            loop {
                let Some(line) = prompt(input, &prompt_of_cow)? else { return Ok(refused) };
                let (text, sure) = so(&line);
                let fresh = Case { who: self.who.clone(), ..Case::new(cow.clone(), self.date) };
                match line::read(text, &fresh, self.store.day_order()?) {
                    Ok(Line::Next) => break,
                    Ok(Line::Back) => {
                        next = self.cows.pop();
                        break;
                    }
                    Ok(Line::End) => {
                        self.cows.push(cow);
                        return Ok(refused);
                    }
                    Ok(Line::Undo) => self.undo()?,
                    Ok(Line::Sheet) => self.sheet(Format::Text)?,
                    Ok(Line::Codes) => writeln!(report::notes(), "{}", ask::codes(&self.words))?,
                    Ok(Line::Help) => writeln!(report::notes(), "{}", self.words.text("visit-help"))?,
                    Ok(Line::Correct(pairs)) => refused |= !self.correct(&pairs, sure)?,
                    Ok(Line::Work(case)) => refused |= !self.work(&case, sure)?,
                    Ok(Line::Look(leg, look)) => refused |= !self.look(&cow, leg, &look, sure)?,
                    Err(what) => {
                        refused = true;
                        self.note("entry-refused", json!({ "what": what }))?;
                    }
                }
            }
            if next.is_none() && self.cows.last() != Some(&cow) {
                self.cows.push(cow);
            }
        }
    }

    fn cow(&self, text: &str, sure: bool) -> anyhow::Result<Option<AnimalId>> {
        let directory = self.store.directory()?;
        match self.store.meant(&directory, text, self.date, AskedBy::Person)? {
            Meant::One(animal) => Ok(Some(animal)),
            Meant::Unknown if sure => Ok(Some(AnimalId(text.to_owned()))),
            Meant::Unknown => {
                self.note("visit-unknown-cow", json!({ "cow": text }))?;
                Ok(None)
            }
            Meant::Several(_) => animal::the_one(self.store, text),
        }
    }

    /// What is known of her, before a foot is lifted.
    fn brief(&self, cow: &AnimalId) -> anyhow::Result<()> {
        let mut out = report::out();
        writeln!(out, "\n{}", self.names.long(cow))?;
        let farm = Farm::load_part(self.store, Some(self.date), Part::Cow(cow))?;
        if let Some(card) = farm.and_then(|farm| farm.card(cow, None)) {
            write!(out, "{}", card_text::today(&card, self.date, &self.words).trim_start_matches('\n'))?;
        }
        let cases = self.store.cases(Some(cow))?;
        if let Some(last) = cases.iter().rev().find(|kept| kept.withdrawn.is_none()) {
            writeln!(out, "{}", wrap(&self.case_line(last), 2))?;
            if let Some(look) = last.follow_ups.last() {
                writeln!(out, "  {}: {}", look.date, seen(look, &self.words))?;
            }
        }
        Ok(())
    }

    fn case_line(&self, kept: &KeptCase) -> String {
        let summary = summary(kept, &self.names, &self.words);
        self.words.say("compare-case", json!({ "case": kept.id, "summary": summary }))
    }

    fn note(&self, id: &str, values: serde_json::Value) -> anyhow::Result<()> {
        Ok(writeln!(report::notes(), "{}", wrap(&self.words.say(id, values), 2))?)
    }

    /// Says what stands against an entry; whether it may go in.
    fn allowed(&self, findings: &[Objection], sure: bool) -> anyhow::Result<bool> {
        let mut may = true;
        for finding in findings {
            let id = match (finding.refuses(), sure) {
                (true, _) => "entry-refused",
                (false, true) => "entry-note",
                (false, false) => "visit-odd",
            };
            self.note(id, json!({ "what": self.words.finding(finding) }))?;
            may &= id == "entry-note";
        }
        Ok(may)
    }

    fn work(&mut self, case: &Case, sure: bool) -> anyhow::Result<bool> {
        let others = self.store.cases(Some(&case.animal))?;
        if !self.allowed(&check::case(case, Some(self.date), &others), sure)? {
            return Ok(false);
        }
        let Some(id) = self.store.add_case(case, Timestamp::now())? else {
            self.note("entry-there", json!({}))?;
            return Ok(true);
        };
        self.entered.push(Entry::Case(id));
        let kept = KeptCase { id, case: case.clone(), follow_ups: vec![], withdrawn: None };
        writeln!(report::out(), "{}", wrap(&format!("  {}", self.case_line(&kept)), 4))?;
        if case.for_the_veterinarian() {
            let (animal, leg) = (self.names.short(&case.animal), case.leg.map_or("", Leg::name));
            writeln!(report::out(), "  {}", for_the_veterinarian(id, &animal, leg, &self.words))?;
        }
        Ok(true)
    }

    fn look(&mut self, cow: &AnimalId, leg: Leg, look: &FollowUp, sure: bool) -> anyhow::Result<bool> {
        let cases = self.store.cases(Some(cow))?;
        let at_foot =
            cases.iter().rev().filter(|kept| kept.withdrawn.is_none() && kept.case.leg == Some(leg));
        let blocked = |kept: &&KeptCase| look.block.is_none() || kept.case.treatment.block.is_some();
        let Some(kept) = at_foot.clone().find(blocked).or_else(|| at_foot.clone().next()) else {
            self.note("visit-no-case", json!({ "leg": leg.name() }))?;
            return Ok(false);
        };
        if !self.allowed(&check::follow_up(kept, look, self.date), sure)? {
            return Ok(false);
        }
        self.entered.push(Entry::Look(self.store.add_follow_up(kept.id, look, Timestamp::now())?));
        let values = json!({ "case": kept.id, "summary": seen(look, &self.words) });
        writeln!(report::out(), "  {}", self.words.say("compare-case", values))?;
        Ok(true)
    }

    fn correct(&self, pairs: &[(String, String)], sure: bool) -> anyhow::Result<bool> {
        let last = self.entered.iter().rev().find_map(|entry| match entry {
            Entry::Case(id) => Some(*id),
            Entry::Look(_) => None,
        });
        let Some(kept) = last.map(|id| self.store.case(id)).transpose()?.flatten() else {
            self.note("visit-nothing-yet", json!({}))?;
            return Ok(false);
        };
        let (corrected, changes) = match history::apply(&kept.case, pairs) {
            Ok(done) => done,
            Err(error) => {
                self.note("entry-not-corrected", json!({ "what": error.to_string() }))?;
                return Ok(false);
            }
        };
        if !self.allowed(&against(self.store, kept.id, &corrected, self.date)?, sure)? {
            return Ok(false);
        }
        let who = self.who.as_deref().unwrap_or("not named");
        self.store.correct_case(kept.id, &corrected, &changes, who, Timestamp::now())?;
        let line = summary(&KeptCase { case: corrected, ..kept }, &self.names, &self.words);
        let line = self.words.say("visit-corrected", json!({ "summary": line }));
        writeln!(report::out(), "{}", wrap(&format!("  {line}"), 4))?;
        Ok(true)
    }

    fn undo(&mut self) -> anyhow::Result<()> {
        let mut out = report::out();
        match self.entered.pop() {
            Some(Entry::Case(id)) => {
                let who = self.who.as_deref().unwrap_or("not named");
                self.store.withdraw_case(id, "undone in the visit", who, Timestamp::now())?;
                writeln!(out, "  {}", self.words.say("case-no-longer", json!({ "case": id.to_string() })))?;
            }
            Some(Entry::Look(id)) => {
                self.store.withdraw_follow_up(id, "undone in the visit")?;
                writeln!(out, "  {}", self.words.text("visit-look-undone"))?;
            }
            None => self.note("visit-nothing-more", json!({}))?,
        }
        Ok(())
    }

    fn sheet(&self, format: Format) -> anyhow::Result<()> {
        let sheet = Sheet::of(self.store, self.date)?;
        let text = || Ok(format!("\n{}", sheet.text(&self.words)));
        format.print(&sheet, |table| table.rows(&sheet.rows), text)
    }
}

/// Asks for a line; `None` at the end of the input.
fn prompt(input: &mut impl BufRead, text: &str) -> anyhow::Result<Option<String>> {
    let mut notes = report::notes();
    write!(notes, "{text}")?;
    notes.flush()?;
    let mut line = String::new();
    Ok((input.read_line(&mut line)? > 0).then_some(line))
}
