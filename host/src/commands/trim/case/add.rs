//! Entering a case: one line, or a few questions for what is missing.

use crate::commands::animal;
use crate::commands::cli::{Common, Format};
use crate::commands::exit_code::ExitCode;
use crate::commands::trim::case::ask;
use crate::commands::trim::case::ask::Given;
use crate::commands::trim::case::{can_ask, today};
use crate::record::AnimalId;
use crate::record::case::check;
use crate::record::case::check::Finding;
use crate::record::case::{Case, KeptCase};
use crate::report;
use crate::store::Store;
use clap::Args;
use dialoguer::Confirm;
use jiff::{Timestamp, civil::Date};
use std::io::Write;

/// Shown below the help.
pub const EXAMPLES: &str = "Examples:
  fourplate case add 412 RR outer WL --zone 3 --drained --block inner --height 20
  fourplate case add 388 LR both DD --stage M2 --zone 10 --dressing --pain-relief yes --prescribed-by 'the practice'
  fourplate case add 511            (asks for the rest on a terminal)";

/// What was found and done.
#[derive(Debug, Args)]
pub struct Add {
    /// The cow: her number, or its last digits
    animal: String,
    /// LF, RF, LR or RR
    leg: Option<String>,
    /// outer, inner or both
    claw: Option<String>,
    /// Lesion code (DD HHE ID IH IP SC SH SU SW WL), your own words, or none
    lesion: Option<String>,
    /// Day of the work (default: today)
    #[arg(long)]
    date: Option<String>,
    /// Zone of the foot map, 0 to 12
    #[arg(long)]
    zone: Option<String>,
    /// Stage of digital dermatitis: M0, M1, M2, M3, M4 or M4.1
    #[arg(long)]
    stage: Option<String>,
    /// How bad, on fourplate's own scale: 1 mild, 2 moderate, 3 severe
    #[arg(long)]
    severity: Option<String>,
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
    /// Anything else that was done
    #[arg(long)]
    other: Option<String>,
    /// Block put under this claw: outer or inner
    #[arg(long, value_name = "CLAW")]
    block: Option<String>,
    /// What the block is made of
    #[arg(long)]
    material: Option<String>,
    /// Height of the block, mm
    #[arg(long, value_name = "MM")]
    height: Option<String>,
    /// Day the block is to come off
    #[arg(long, value_name = "DATE")]
    block_due: Option<String>,
    /// Whether pain relief was given: yes or no
    #[arg(long)]
    pain_relief: Option<String>,
    /// Who prescribed it
    #[arg(long)]
    prescribed_by: Option<String>,
    /// Last day of milk withdrawal, from the label or the veterinarian
    #[arg(long = "milk-withdrawal-end", alias = "milk-until", value_name = "DATE")]
    milk_withdrawal_end: Option<String>,
    /// Last day of meat withdrawal, from the label or the veterinarian
    #[arg(long = "meat-withdrawal-end", alias = "meat-until", value_name = "DATE")]
    meat_withdrawal_end: Option<String>,
    /// Anything worth remembering
    #[arg(long)]
    note: Option<String>,
    /// Where the photo is
    #[arg(long)]
    photo: Option<String>,
    /// Day of the planned recheck (default: the farm's setting)
    #[arg(long, value_name = "DATE")]
    recheck: Option<String>,
    /// Who did the work
    #[arg(long)]
    who: Option<String>,
    /// Take it in although something about it is odd
    #[arg(long)]
    yes: bool,
}

impl Add {
    fn case(&self, animal: AnimalId, today: Date) -> Result<Case, crate::record::case::field::FieldError> {
        let mut case = Case::new(animal, today);
        let fields = [
            ("date", &self.date),
            ("leg", &self.leg),
            ("claw", &self.claw),
            ("lesion", &self.lesion),
            ("zone", &self.zone),
            ("dd_stage", &self.stage),
            ("severity", &self.severity),
            ("block_claw", &self.block),
            ("block_material", &self.material),
            ("block_height_mm", &self.height),
            ("block_due", &self.block_due),
            ("pain_relief", &self.pain_relief),
            ("prescribed_by", &self.prescribed_by),
            ("milk_withdrawal_end", &self.milk_withdrawal_end),
            ("meat_withdrawal_end", &self.meat_withdrawal_end),
            ("note", &self.note),
            ("photo", &self.photo),
            ("recheck", &self.recheck),
            ("who", &self.who),
            ("other", &self.other),
        ];
        for (name, value) in fields {
            if let Some(value) = value {
                case.set_field(name, value)?;
            }
        }
        case.treatment.trim = !self.no_trim;
        case.treatment.horn_removed = self.horn_removed;
        case.treatment.drained = self.drained;
        case.treatment.dressing = self.dressing;
        Ok(case)
    }

    fn given(&self) -> Given {
        Given {
            leg: self.leg.is_some(),
            lesion: self.lesion.is_some(),
            claw: self.claw.is_some(),
            zone: self.zone.is_some(),
            block: self.block.is_some(),
            done: self.horn_removed || self.drained || self.dressing || self.other.is_some() || self.no_trim,
            pain_relief: self.pain_relief.is_some(),
        }
    }

    /// Whether a whole case was given on the line: then nothing is asked.
    fn whole(&self) -> bool {
        self.leg.is_some() && self.claw.is_some() && self.lesion.is_some()
    }
}

/// Enters a case.
pub fn run(arguments: &Add, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let today = today(store)?;
    let Some(animal) = animal::the_one(store, &arguments.animal)? else { return Ok(ExitCode::BadInput) };
    let unknown = !store.animals()?.contains(&animal);
    let ask = format!("no cow {animal} is known here; it is kept, and counts once she is named");
    let who_is_it =
        Some(Finding::Ask(ask)).filter(|_| unknown && store.passage_count().is_ok_and(|count| count > 0));
    if !allowed(who_is_it.as_slice(), arguments.yes)? {
        return Ok(ExitCode::BadInput);
    }
    let mut case = match arguments.case(animal, today) {
        Ok(case) => case,
        Err(error) => {
            writeln!(report::notes(), "{error}")?;
            return Ok(ExitCode::BadInput);
        }
    };
    if can_ask() && !arguments.whole() {
        ask::case(&mut case, arguments.given())?;
    }
    let others = store.cases(Some(&case.animal))?;
    if !allowed(&check::case(&case, Some(today), &others), arguments.yes)? {
        return Ok(ExitCode::BadInput);
    }
    let Some(id) = store.add_case(&case, Timestamp::now())? else {
        writeln!(report::notes(), "This case is entered already.")?;
        return Ok(ExitCode::Done);
    };
    let kept = KeptCase { id, case, follow_ups: Vec::new(), withdrawn: None };
    if common.format == Format::Text {
        let mut out = report::out();
        writeln!(
            out,
            "{}",
            report::text::wrap(
                &format!("Case {id}: {}", crate::commands::trim::case::show::summary(&kept, &store.names()?)),
                2
            )
        )?;
        for caution in cautions(&kept.case) {
            writeln!(out, "{}", report::text::wrap(&format!("Caution: {caution}"), 2))?;
        }
        writeln!(out, "A slip? fourplate case correct {id} FIELD=VALUE")?;
    } else {
        report::json::write(std::io::stdout(), &crate::commands::trim::case::show::fields(&kept))?;
    }
    Ok(ExitCode::Done)
}

/// Prints findings; says whether the entry may go in.
pub fn allowed(findings: &[Finding], yes: bool) -> anyhow::Result<bool> {
    let mut notes = report::notes();
    let mut refused = false;
    for finding in findings {
        match finding {
            Finding::Refuse(what) => {
                writeln!(notes, "Not entered: {what}.")?;
                refused = true;
            }
            Finding::Ask(what) if can_ask() && !yes && !refused => {
                let prompt = format!("Odd: {what}. Enter it all the same?");
                refused = !Confirm::new().with_prompt(prompt).default(false).interact()?;
            }
            Finding::Ask(what) if yes => writeln!(notes, "Note: {what}.")?,
            Finding::Ask(what) => {
                writeln!(notes, "Not entered: {what}. Say --yes if it is so.")?;
                refused = true;
            }
        }
    }
    Ok(!refused)
}

/// Cautions that belong to what was entered.
fn cautions(case: &Case) -> Vec<&'static str> {
    let mut cautions = Vec::new();
    if case.for_the_veterinarian() {
        cautions.push(
            "call the veterinarian: phlegmon, a swelling above the hoof, deep tissue laid open or no weight on the leg is not for the trimmer alone.",
        );
    }
    if case.treatment.block.is_some() {
        cautions
            .push("block glue can hold isocyanates: gloves, air, and the label. Take the block off in time.");
    }
    if case.medicine.pain_relief == Some(true)
        && (case.medicine.milk_withdrawal_end.is_none() || case.medicine.meat_withdrawal_end.is_none())
    {
        cautions.push(
            "milk and meat withdrawals are not both entered; the label or the veterinarian tells them.",
        );
    }
    cautions
}
