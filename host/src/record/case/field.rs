//! The fields of a case as text: one place that reads and writes them for the command line, CSV, the store and the history.

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

/// The fields by name, in the order of the table: the first nine are the trims file's own.
pub const NAMES: [&str; 23] = [
    "date",
    "animal_id",
    "leg",
    "claw",
    "lesion",
    "zone",
    "treatment",
    "block_claw",
    "note",
    "dd_stage",
    "severity",
    "block_material",
    "block_height_mm",
    "block_due",
    "block_off",
    "pain_relief",
    "prescribed_by",
    "milk_withdrawal_end",
    "meat_withdrawal_end",
    "photo",
    "recheck",
    "who",
    "other",
];

impl Case {
    /// The text of a field, empty where nothing is known.
    #[must_use]
    pub fn field(&self, name: &str) -> String {
        let block = self.treatment.block.as_ref();
        match name {
            "date" => self.date.to_string(),
            "animal_id" => self.animal.0.clone(),
            "leg" => self.leg.map_or("", Leg::name).to_owned(),
            "claw" => self.claw.map_or("", Claw::name).to_owned(),
            "lesion" => text(self.lesion.as_ref()),
            "zone" => text(self.zone.map(Zone::number)),
            "treatment" => self.treatment_field(),
            "block_claw" => block.and_then(|b| b.claw).map_or("", Claw::name).to_owned(),
            "note" => text(self.note.as_ref()),
            "dd_stage" => self.stage.map_or("", DdStage::name).to_owned(),
            "severity" => text(self.severity.map(Severity::number)),
            "block_material" => text(block.and_then(|b| b.material.as_ref())),
            "block_height_mm" => text(block.and_then(|b| b.height_mm)),
            "block_due" => text(block.and_then(|b| b.due)),
            "block_off" => text(block.and_then(|b| b.off)),
            "pain_relief" => {
                self.medicine.pain_relief.map_or("", |yes| if yes { "yes" } else { "no" }).to_owned()
            }
            "prescribed_by" => text(self.medicine.prescribed_by.as_ref()),
            "milk_withdrawal_end" => text(self.medicine.milk_withdrawal_end),
            "meat_withdrawal_end" => text(self.medicine.meat_withdrawal_end),
            "photo" => text(self.photo.as_ref()),
            "recheck" => text(self.recheck),
            "who" => text(self.who.as_ref()),
            "other" => text(self.treatment.other.as_ref()),
            _ => String::new(),
        }
    }

    /// Sets a field from its text; an empty text clears it.
    ///
    /// # Errors
    /// The text does not fit the field, or there is no such field.
    pub fn set_field(&mut self, name: &str, value: &str) -> Result<(), FieldError> {
        let value = value.trim();
        match name {
            "date" => {
                self.date = date("date", value)?.ok_or_else(|| bad("date", value, "a date YYYY-MM-DD"))?
            }
            "animal_id" if value.is_empty() => return Err(bad("animal_id", value, "an animal")),
            "animal_id" => self.animal = AnimalId(value.to_owned()),
            "leg" => self.leg = word("leg", value, "LF, RF, LR or RR", Leg::from_name)?,
            "claw" => self.claw = word("claw", value, "outer, inner or both", Claw::from_name)?,
            "lesion" => self.lesion = Lesion::from_text(value),
            "zone" => {
                self.zone = word("zone", value, "a zone of the foot map, 0 to 12", |v| {
                    v.parse().ok().and_then(Zone::new)
                })?;
            }
            "treatment" => self.set_treatment(value),
            "block_claw" => self.set_block_claw(value)?,
            "note" => self.note = filled(value),
            "dd_stage" => {
                self.stage = word("dd_stage", value, "M0, M1, M2, M3, M4 or M4.1", DdStage::from_name)?
            }
            "severity" => self.severity = word("severity", value, "1, 2 or 3", Severity::from_text)?,
            "pain_relief" => self.medicine.pain_relief = word("pain_relief", value, "yes or no", yes_no)?,
            "prescribed_by" => self.medicine.prescribed_by = filled(value),
            "milk_withdrawal_end" => self.medicine.milk_withdrawal_end = date("milk_withdrawal_end", value)?,
            "meat_withdrawal_end" => self.medicine.meat_withdrawal_end = date("meat_withdrawal_end", value)?,
            "photo" => self.photo = filled(value),
            "recheck" => self.recheck = date("recheck", value)?,
            "who" => self.who = filled(value),
            "other" => self.treatment.other = filled(value),
            "block_material" => {
                if let Some(block) = self.block_for("block_material", value)? {
                    block.material = filled(value);
                }
            }
            "block_height_mm" => {
                let height = word("block_height_mm", value, "a height in mm", positive)?;
                if let Some(block) = self.block_for("block_height_mm", value)? {
                    block.height_mm = height;
                }
            }
            "block_due" => {
                let due = date("block_due", value)?;
                if let Some(block) = self.block_for("block_due", value)? {
                    block.due = due;
                }
            }
            "block_off" => {
                let off = date("block_off", value)?;
                if let Some(block) = self.block_for("block_off", value)? {
                    block.off = off;
                }
            }
            _ => return Err(FieldError::Unknown(name.to_owned())),
        }
        Ok(())
    }

    fn block_for(&mut self, field: &'static str, value: &str) -> Result<Option<&mut Block>, FieldError> {
        if self.treatment.block.is_none() && !value.is_empty() {
            return Err(FieldError::NoBlock(field));
        }
        Ok(self.treatment.block.as_mut())
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
    word(field, value, "a date YYYY-MM-DD", |v| v.parse().ok())
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
