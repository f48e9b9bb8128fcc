//! The fields of a case as text: the one table of them for the command line, files, the store, corrections and pages.

use crate::record::AnimalId;
use crate::record::case::lesion::{DdStage, Lesion, Severity};
use crate::record::case::zone::Zone;
use crate::record::case::{Block, Case, Claw};
use jiff::civil::Date;
use shared::plate::Leg;
use thiserror::Error;

/// A text that does not fit its field.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FieldError {
    /// No such field.
    #[error("there is no field {0:?}; fields are {names}", names = NAMES.join(", "))]
    Unknown(String),
    /// Not one of the words the field knows.
    #[error("{field}: {text:?} is not {expected}")]
    Value {
        /// The field.
        field: &'static str,
        /// What was given.
        text: String,
        /// What would do.
        expected: &'static str,
    },
    /// A detail of a block where no block is on.
    #[error("{0} is given, but no block (say under which claw: block_claw)")]
    NoBlock(&'static str),
}

/// Which way a weekday looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Monday is the last one, today left out.
    Past,
    /// Monday is the next one, today left out.
    Ahead,
}

/// A field of a case, as the command line, files, the store, corrections and pages have it.
pub struct CaseField {
    /// Its name, in files and in the store.
    pub name: &'static str,
    /// Its option on the command line: what its value is, and what it means; none where it is a word of the line.
    pub option: Option<(&'static str, &'static str)>,
    /// Which way a day said in words is meant; none where it is no day.
    pub day: Option<Direction>,
    get: fn(&Case) -> String,
    set: fn(&mut Case, &str) -> Result<(), FieldError>,
}

const fn field(
    name: &'static str,
    get: fn(&Case) -> String,
    set: fn(&mut Case, &str) -> Result<(), FieldError>,
) -> CaseField {
    CaseField { name, option: None, day: None, get, set }
}

impl CaseField {
    const fn option(self, value: &'static str, help: &'static str) -> Self {
        Self { option: Some((value, help)), ..self }
    }

    const fn day(self, direction: Direction, help: &'static str) -> Self {
        Self { day: Some(direction), ..self.option("DATE", help) }
    }
}

/// The fields, in the order of the table: the first nine are the trims file's own.
pub const FIELDS: [CaseField; 23] = [
    field(
        "date",
        |case| case.date.to_string(),
        |case, value| {
            case.date = date("date", value)?.ok_or_else(|| bad("date", value, A_DATE))?;
            Ok(())
        },
    )
    .day(Direction::Past, "Day of the work (default: today)"),
    field(
        "animal_id",
        |case| case.animal.0.clone(),
        |case, value| {
            case.animal = AnimalId(filled(value).ok_or_else(|| bad("animal_id", value, "an animal"))?);
            Ok(())
        },
    ),
    field(
        "leg",
        |case| case.leg.map_or("", Leg::name).to_owned(),
        |case, value| keep(&mut case.leg, word("leg", value, "LF, RF, LR or RR", Leg::from_name)),
    ),
    field(
        "claw",
        |case| case.claw.map_or("", Claw::name).to_owned(),
        |case, value| keep(&mut case.claw, word("claw", value, "outer, inner or both", Claw::from_name)),
    ),
    field(
        "lesion",
        |case| text(case.lesion.as_ref()),
        |case, value| {
            case.lesion = Lesion::from_text(value);
            Ok(())
        },
    ),
    field(
        "zone",
        |case| text(case.zone.map(Zone::number)),
        |case, value| {
            let zone = |text: &str| text.parse().ok().and_then(Zone::new);
            keep(&mut case.zone, word("zone", value, "a zone of the foot map, 0 to 12", zone))
        },
    )
    .option("ZONE", "Zone of the foot map, 0 to 12"),
    field("treatment", Case::treatment_field, |case, value| {
        case.set_treatment(value);
        Ok(())
    }),
    field("block_claw", |case| block(case, |block| block.claw.map(Claw::name)), Case::set_block_claw)
        .option("CLAW", "Block put under this claw: outer or inner"),
    field(
        "note",
        |case| text(case.note.as_ref()),
        |case, value| {
            case.note = filled(value);
            Ok(())
        },
    )
    .option("WORDS", "Anything worth remembering"),
    field(
        "dd_stage",
        |case| case.stage.map_or("", DdStage::name).to_owned(),
        |case, value| {
            keep(&mut case.stage, word("dd_stage", value, "M0, M1, M2, M3, M4 or M4.1", DdStage::from_name))
        },
    )
    .option("STAGE", "Stage of digital dermatitis: M0, M1, M2, M3, M4 or M4.1"),
    field(
        "severity",
        |case| text(case.severity.map(Severity::number)),
        |case, value| keep(&mut case.severity, word("severity", value, "1, 2 or 3", Severity::from_text)),
    )
    .option("1|2|3", "How bad, on fourplate's own scale: 1 mild, 2 moderate, 3 severe"),
    field(
        "block_material",
        |case| block(case, |block| block.material.clone()),
        |case, value| case.put_on_block("block_material", filled(value), |block| &mut block.material),
    )
    .option("WORDS", "What the block is made of"),
    field(
        "block_height_mm",
        |case| block(case, |block| block.height_mm),
        |case, value| {
            let height = word("block_height_mm", value, "a height in mm", positive)?;
            case.put_on_block("block_height_mm", height, |block| &mut block.height_mm)
        },
    )
    .option("MM", "Height of the block, mm"),
    field(
        "block_due",
        |case| block(case, |block| block.due),
        |case, value| case.put_on_block("block_due", date("block_due", value)?, |block| &mut block.due),
    )
    .day(Direction::Ahead, "Day the block is to come off"),
    field(
        "block_off",
        |case| block(case, |block| block.off),
        |case, value| case.put_on_block("block_off", date("block_off", value)?, |block| &mut block.off),
    )
    .day(Direction::Past, "First day without the block, where it is off already"),
    field(
        "pain_relief",
        |case| text(case.medicine.pain_relief.map(|yes| if yes { "yes" } else { "no" })),
        |case, value| keep(&mut case.medicine.pain_relief, word("pain_relief", value, "yes or no", yes_no)),
    )
    .option("yes|no", "Whether pain relief was given"),
    field(
        "prescribed_by",
        |case| text(case.medicine.prescribed_by.as_ref()),
        |case, value| {
            case.medicine.prescribed_by = filled(value);
            Ok(())
        },
    )
    .option("WHO", "Who prescribed it"),
    field(
        "milk_withdrawal_end",
        |case| text(case.medicine.milk_withdrawal_end),
        |case, value| keep(&mut case.medicine.milk_withdrawal_end, date("milk_withdrawal_end", value)),
    )
    .day(Direction::Ahead, "Last day of milk withdrawal, from the label or the veterinarian"),
    field(
        "meat_withdrawal_end",
        |case| text(case.medicine.meat_withdrawal_end),
        |case, value| keep(&mut case.medicine.meat_withdrawal_end, date("meat_withdrawal_end", value)),
    )
    .day(Direction::Ahead, "Last day of meat withdrawal, from the label or the veterinarian"),
    field(
        "photo",
        |case| text(case.photo.as_ref()),
        |case, value| {
            case.photo = filled(value);
            Ok(())
        },
    )
    .option("PLACE", "Where the photo is"),
    field(
        "recheck",
        |case| text(case.recheck),
        |case, value| keep(&mut case.recheck, date("recheck", value)),
    )
    .day(Direction::Ahead, "Day of the planned recheck (default: the farm's setting)"),
    field(
        "who",
        |case| text(case.who.as_ref()),
        |case, value| {
            case.who = filled(value);
            Ok(())
        },
    )
    .option("NAME", "Who did the work"),
    field(
        "other",
        |case| text(case.treatment.other.as_ref()),
        |case, value| {
            case.treatment.other = filled(value);
            Ok(())
        },
    )
    .option("WORDS", "Anything else that was done"),
];

/// Their names.
pub const NAMES: [&str; FIELDS.len()] = {
    let mut names = [""; FIELDS.len()];
    let mut index = 0;
    while index < FIELDS.len() {
        names[index] = FIELDS[index].name;
        index += 1;
    }
    names
};

impl Case {
    /// The text of a field, empty where nothing is known.
    #[must_use]
    pub fn field(&self, name: &str) -> String {
        FIELDS.iter().find(|field| field.name == name).map_or_else(String::new, |field| (field.get)(self))
    }

    /// Sets a field from its text; an empty text clears it.
    ///
    /// # Errors
    /// The text does not fit the field, or there is no such field.
    pub fn set_field(&mut self, name: &str, value: &str) -> Result<(), FieldError> {
        let field = FIELDS.iter().find(|field| field.name == name);
        (field.ok_or_else(|| FieldError::Unknown(name.to_owned()))?.set)(self, value.trim())
    }

    /// Sets a detail of the block; without a block only nothing can be told of it.
    fn put_on_block<T>(
        &mut self,
        field: &'static str,
        value: Option<T>,
        detail: fn(&mut Block) -> &mut Option<T>,
    ) -> Result<(), FieldError> {
        match &mut self.treatment.block {
            Some(block) => *detail(block) = value,
            None if value.is_some() => return Err(FieldError::NoBlock(field)),
            None => {}
        }
        Ok(())
    }

    fn set_block_claw(&mut self, value: &str) -> Result<(), FieldError> {
        if value.eq_ignore_ascii_case("none") {
            self.treatment.block = None;
            return Ok(());
        }
        let claw = word("block_claw", value, "outer, inner or none", Claw::from_name)?;
        match (claw, self.treatment.block.as_mut()) {
            (Some(Claw::Both), _) => {
                return Err(bad("block_claw", value, "one claw: a block unloads the other"));
            }
            (claw, Some(block)) => block.claw = claw,
            (Some(claw), None) => self.treatment.block = Some(Block { claw: Some(claw), ..Block::default() }),
            (None, None) => {}
        }
        Ok(())
    }

    fn treatment_field(&self) -> String {
        let t = &self.treatment;
        [
            (t.trim, "trim"),
            (t.horn_removed, "horn_removed"),
            (t.drained, "drained"),
            (t.dressing, "dressing"),
            (t.block.is_some(), "block"),
        ]
        .into_iter()
        .filter(|(done, _)| *done)
        .map(|(_, word)| word)
        .collect::<Vec<_>>()
        .join(";")
    }

    /// Reads a list of treatments; words it does not know are kept as they are.
    fn set_treatment(&mut self, value: &str) {
        let block = self.treatment.block.take();
        self.treatment = crate::record::case::Treatment::default();
        let mut other = Vec::new();
        let parts = value.split([';', '+', ',', '/', '&']).flat_map(|part| part.split(" and "));
        for part in parts.map(str::trim).filter(|p| !p.is_empty()) {
            match part.to_ascii_lowercase().replace([' ', '-'], "_").as_str() {
                "none" | "looked_at" => {}
                "trim" | "trimmed" | "trimming" => self.treatment.trim = true,
                "horn_removed" | "loose_horn_removed" | "horn" => self.treatment.horn_removed = true,
                "drained" | "drain" => self.treatment.drained = true,
                "dressing" | "bandage" | "wrap" | "topical" => self.treatment.dressing = true,
                "block" | "blocked" => self.treatment.block = Some(Block::default()),
                "pain_relief" | "analgesia" | "nsaid" => self.medicine.pain_relief = Some(true),
                _ => other.push(part),
            }
        }
        self.treatment.other = filled(&other.join("; "));
        if self.treatment.block.is_some() || value.is_empty() {
            self.treatment.block = block.or_else(|| self.treatment.block.take());
        }
    }
}

const A_DATE: &str = "a date YYYY-MM-DD";

fn keep<T>(place: &mut Option<T>, value: Result<Option<T>, FieldError>) -> Result<(), FieldError> {
    *place = value?;
    Ok(())
}

fn block<T: ToString>(case: &Case, detail: impl Fn(&Block) -> Option<T>) -> String {
    text(case.treatment.block.as_ref().and_then(detail))
}

fn text(value: Option<impl ToString>) -> String {
    value.map(|v| v.to_string()).unwrap_or_default()
}

fn filled(value: &str) -> Option<String> {
    (!value.is_empty()).then(|| value.to_owned())
}

fn bad(field: &'static str, text: &str, expected: &'static str) -> FieldError {
    FieldError::Value { field, text: text.to_owned(), expected }
}

fn word<T>(
    field: &'static str,
    value: &str,
    expected: &'static str,
    read: impl Fn(&str) -> Option<T>,
) -> Result<Option<T>, FieldError> {
    if value.is_empty() {
        return Ok(None);
    }
    read(value).map(Some).ok_or_else(|| bad(field, value, expected))
}

fn date(field: &'static str, value: &str) -> Result<Option<Date>, FieldError> {
    word(field, value, A_DATE, |v| v.parse().ok())
}

fn yes_no(value: &str) -> Option<bool> {
    match value.to_ascii_lowercase().as_str() {
        "yes" | "y" | "1" | "true" => Some(true),
        "no" | "n" | "0" | "false" => Some(false),
        _ => None,
    }
}

fn positive(value: &str) -> Option<f64> {
    value.parse().ok().filter(|height: &f64| height.is_finite() && *height > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn case() -> Case {
        Case::new(AnimalId("412".into()), date(2026, 3, 2))
    }

    #[test]
    fn every_field_survives_writing_and_reading() {
        let mut first = case();
        let values = [
            ("leg", "RR"),
            ("claw", "outer"),
            ("lesion", "DD"),
            ("zone", "10"),
            ("treatment", "trim;horn_removed;drained;dressing;block"),
            ("block_claw", "inner"),
            ("note", "stood well"),
            ("dd_stage", "M4.1"),
            ("severity", "2"),
            ("block_material", "wood"),
            ("block_height_mm", "22.5"),
            ("block_due", "2026-03-30"),
            ("block_off", "2026-03-29"),
            ("pain_relief", "yes"),
            ("prescribed_by", "the practice"),
            ("milk_withdrawal_end", "2026-03-05"),
            ("meat_withdrawal_end", "2026-03-20"),
            ("photo", "412-rr.jpg"),
            ("recheck", "2026-04-06"),
            ("who", "trimmer one"),
            ("other", "foot bath"),
        ];
        for (name, value) in values {
            first.set_field(name, value).unwrap();
        }
        let mut second = case();
        for name in NAMES {
            second.set_field(name, &first.field(name)).unwrap();
        }
        assert_eq!(first, second);
        for (name, value) in values {
            assert_eq!(second.field(name), value, "{name}");
        }
    }

    #[test]
    fn every_field_is_in_the_docs() {
        let docs = include_str!("../../../CASE.md");
        for name in NAMES {
            assert!(docs.contains(&format!("`{name}`")) || docs.contains(&format!("`{name},")), "{name}");
        }
    }

    #[test]
    fn what_does_not_exist_is_refused() {
        for (name, value) in [
            ("zone", "13"),
            ("leg", "LH"),
            ("claw", "third"),
            ("dd_stage", "M5"),
            ("recheck", "2026-02-30"),
            ("block_claw", "both"),
            ("block_height_mm", "-3"),
            ("block_height_mm", "NaN"),
            ("colour", "red"),
        ] {
            assert!(case().set_field(name, value).is_err(), "{name} {value}");
        }
    }

    #[test]
    fn treatments_are_read_from_the_ways_people_write_them() {
        let mut case = case();
        case.set_field("treatment", "Trim + block and foot bath").unwrap();
        assert!(case.treatment.trim && case.treatment.block.is_some());
        assert_eq!(case.treatment.other.as_deref(), Some("foot bath"));
    }
}
