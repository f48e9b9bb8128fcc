//! Entering a case: one line, or a few questions for what is missing.

use crate::commands::animal;
use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::trim::case::ask::{self, Given};
use crate::commands::trim::case::fields::Fields;
use crate::commands::trim::case::{can_ask, today};
use crate::record::AnimalId;
use crate::record::case::field::FieldError;
use crate::record::case::lesion::Lesion;
use crate::record::case::{Case, KeptCase};
use crate::record::day_words::DayOrder;
use crate::record::finding::Objection;
use crate::record::finding::check;
use crate::report;
use crate::report::text::wrap;
use crate::report::trim::case_line::summary;
use crate::report::trim::case_shown;
use crate::report::words::Words;
use crate::store::Store;
use clap::Args;
use dialoguer::Confirm;
use jiff::{Timestamp, civil::Date};
use serde_json::json;
use std::io::Write;

/// The word for a trim of all feet with nothing to tell of one.
const ALL_FEET: &str = "all";

/// Shown below the help.
pub const EXAMPLES: &str = "Examples:
  fourplate case add 412 RR outer WL --zone 3 --drained --block-claw inner --block-height-mm 20
  fourplate case add 388 LR both DD --dd-stage M2 --zone 10 --dressing --date yesterday
  fourplate case add 390 LF none         (looked at and trimmed, no lesion)
  fourplate case add 391 all             (all feet trimmed)
  fourplate case add 511            (asks for the rest on a terminal)";

/// What was found and done.
#[derive(Debug, Args)]
pub struct Add {
    /// The cow: her number, name, tag or last digits
    animal: String,
    /// LF, RF, LR or RR; all: the feet were trimmed, nothing to tell of one
    leg: Option<String>,
    /// outer, inner or both; left out before `none`
    claw: Option<String>,
    /// Lesion code (WL, SU, DD, ... in CASE.md), your own words, or none
    lesion: Option<String>,
    #[command(flatten)]
    fields: Fields,
    /// The foot was not trimmed
    #[arg(long)]
    no_trim: bool,
    /// Loose horn was removed
    #[arg(long)]
    horn_removed: bool,
    /// It was drained
    #[arg(long)]
    drained: bool,
    /// A dressing was put on
    #[arg(long)]
    dressing: bool,
    /// Take it in although something about it is odd
    #[arg(long)]
    yes: bool,
}

impl Add {
    fn case(&self, animal: AnimalId, today: Date, order: Option<DayOrder>) -> Result<Case, FieldError> {
        let mut case = Case::new(animal, today);
        self.fields.put(&mut case, today, order)?;
        let (claw, lesion) = self.claw_and_lesion();
        for (name, value) in [("leg", self.leg.as_deref()), ("claw", claw), ("lesion", lesion)] {
            if let Some(value) = value.filter(|value| (name, *value) != ("leg", ALL_FEET)) {
                case.set_field(name, value)?;
            }
        }
        case.treatment.trim = !self.no_trim;
        case.treatment.horn_removed = self.horn_removed;
        case.treatment.drained = self.drained;
        case.treatment.dressing = self.dressing;
        Ok(case)
    }

    /// `LR none` leaves the claw out.
    fn claw_and_lesion(&self) -> (Option<&str>, Option<&str>) {
        match (self.claw.as_deref(), self.lesion.as_deref()) {
            (Some(claw), None) if claw.eq_ignore_ascii_case("none") => (None, Some(claw)),
            both => both,
        }
    }

    fn given(&self) -> Given {
        let (claw, lesion) = self.claw_and_lesion();
        Given {
            leg: self.leg.is_some(),
            lesion: lesion.is_some(),
            claw: claw.is_some(),
            zone: self.fields.has("zone"),
            block: self.fields.has("block_claw"),
            done: self.horn_removed
                || self.drained
                || self.dressing
                || self.no_trim
                || self.fields.has("other"),
            pain_relief: self.fields.has("pain_relief"),
        }
    }

    /// What a whole case still wants: then it is asked for, and without a terminal it is an error.
    fn missing(&self) -> Option<&'static str> {
        let (claw, lesion) = self.claw_and_lesion();
        let found = !matches!(lesion, Some(lesion) if Lesion::from_text(lesion).is_none());
        match self.leg.as_deref() {
            None => Some("missing-leg"),
            Some(ALL_FEET) => None,
            Some(_) if found && claw.is_none() => Some("missing-claw"),
            Some(_) if lesion.is_none() => Some("missing-lesion"),
            Some(_) => None,
        }
    }
}

/// Enters a case.
pub fn run(arguments: &Add, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let (today, words) = (today(store)?, common.words(store)?);
    let Some(animal) = animal::the_one(store, &arguments.animal)? else { return Ok(ExitCode::BadInput) };
    let unknown = !store.animals()?.contains(&animal);
    let who_is_it = Some(Objection::UnknownCow { cow: animal.0.clone() })
        .filter(|_| unknown && store.passage_count().is_ok_and(|count| count > 0));
    if !allowed(who_is_it.as_slice(), arguments.yes, &words)? {
        return Ok(ExitCode::BadInput);
    }
    let mut case = match arguments.case(animal, today, store.day_order()?) {
        Ok(case) => case,
        Err(error) => {
            writeln!(report::notes(), "{error}")?;
            return Ok(ExitCode::BadInput);
        }
    };
    match arguments.missing() {
        Some(_) if can_ask() => ask::case(&mut case, arguments.given(), &words)?,
        Some(missing) => {
            let what = words.text(missing);
            writeln!(report::notes(), "{}", words.say("entry-missing", json!({ "what": what })))?;
            return Ok(ExitCode::BadInput);
        }
        None => {}
    }
    let others = store.cases(Some(&case.animal))?;
    if !allowed(&check::case(&case, Some(today), &others), arguments.yes, &words)? {
        return Ok(ExitCode::BadInput);
    }
    let Some(id) = store.add_case(&case, Timestamp::now())? else {
        writeln!(report::notes(), "{}", words.text("entry-there"))?;
        return Ok(ExitCode::Done);
    };
    let kept = KeptCase { id, case, follow_ups: Vec::new(), withdrawn: None };
    let names = store.names()?;
    common.format.print(
        &case_shown::fields(&kept),
        |table| case_shown::rows(table, std::slice::from_ref(&kept)),
        || {
            let values = json!({ "case": id, "summary": summary(&kept, &names, &words) });
            let mut text = wrap(&words.say("compare-case", values), 2) + "\n";
            for caution in cautions(&kept.case) {
                text += &(wrap(&words.text(caution), 2) + "\n");
            }
            Ok(text + &words.say("case-slip", json!({ "case": id.to_string() })) + "\n")
        },
    )?;
    Ok(ExitCode::Done)
}

/// Says what stands against an entry, and asks; whether the entry may go in.
pub fn allowed(findings: &[Objection], yes: bool, words: &Words) -> anyhow::Result<bool> {
    let mut notes = report::notes();
    let mut refused = false;
    for finding in findings {
        let what = words.finding(finding);
        let id = match finding.refuses() {
            true => "entry-refused",
            false if can_ask() && !yes && !refused => {
                let prompt = words.say("entry-odd", json!({ "what": what }));
                refused = !Confirm::new().with_prompt(prompt).default(false).interact()?;
                continue;
            }
            false if yes => "entry-note",
            false => "entry-say-yes",
        };
        writeln!(notes, "{}", wrap(&words.say(id, json!({ "what": what })), 2))?;
        refused |= id != "entry-note";
    }
    Ok(!refused)
}

/// Cautions that belong to what was entered.
fn cautions(case: &Case) -> Vec<&'static str> {
    let mut cautions = Vec::new();
    if case.for_the_veterinarian() {
        cautions.push("caution-veterinarian");
    }
    if case.treatment.block.is_some() {
        cautions.push("caution-glue");
    }
    let medicine = &case.medicine;
    if medicine.pain_relief == Some(true)
        && (medicine.milk_withdrawal_end.is_none() || medicine.meat_withdrawal_end.is_none())
    {
        cautions.push("caution-withdrawal");
    }
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Parser)]
    struct Line {
        #[command(flatten)]
        add: Add,
    }

    fn done(options: &[&str]) -> bool {
        let line = ["case", "412", "LR", "outer", "SU"].iter().chain(options);
        Line::parse_from(line).add.given().done
    }

    #[test]
    fn any_one_word_of_what_was_done_is_enough_not_to_be_asked_for_it() {
        for options in [
            &["--horn-removed"][..],
            &["--drained"],
            &["--dressing"],
            &["--no-trim"],
            &["--other", "foot bath"],
        ] {
            assert!(done(options), "{options:?}");
        }
        assert!(!done(&[]));
        assert!(!done(&["--zone", "3"]), "where it is says nothing of what was done");
    }
}
