//! ICAR ADE JSON (2024-02): animals as rows of the herd register, diagnoses and treatments of feet as rows of the trims file,
//! weights as rows of the passage table, attention to lameness as marks, devices as they are described.

mod animals;
mod events;
mod feet;

use self::events::{Events, Taken};
use crate::import::passages::passages;
use crate::import::records::{herd, registers, trims};
use crate::import::{ImportError, Input, Outcome, RowFault};
use crate::store::Store;
use serde_json::Value;
use shared::identity::AnimalCode;
use std::io::{Cursor, Read};

/// The scheme of 15 digits after ISO 11784.
pub const ISO: &str = "std.iso.11785";
/// What our own resources name as their source, and the scheme of our lesion codes.
pub const SOURCE: &str = "local.fourplate";
/// See [`SOURCE`].
pub const LESION: &str = "local.fourplate.claw-lesion";
/// What a farm is called in our resources.
#[must_use]
pub const fn farm_id(name: &str) -> &str {
    if name.is_empty() { "farm" } else { name }
}

/// Largest file that is read. Our choice: far above any herd.
const MOST_BYTES: u64 = 100_000_000;

/// A table as some importer takes it, made from resources, each row with the number of its resource.
struct Rows {
    table: csv::Writer<Vec<u8>>,
    numbers: Vec<u64>,
}

impl Rows {
    fn new(header: &[&str]) -> Result<Self, ImportError> {
        let mut rows = Self { table: csv::Writer::from_writer(Vec::new()), numbers: Vec::new() };
        rows.table.write_record(header).map_err(std::io::Error::from)?;
        Ok(rows)
    }

    fn add<C: AsRef<[u8]>>(
        &mut self,
        number: u64,
        cells: impl IntoIterator<Item = C>,
    ) -> Result<(), ImportError> {
        self.numbers.push(number);
        Ok(self.table.write_record(cells).map_err(std::io::Error::from)?)
    }

    /// Has them imported; problems are told by the number of their resource.
    fn import(
        self,
        input: &Input,
        import: impl FnOnce(Input) -> Result<Outcome, ImportError>,
    ) -> Result<Outcome, ImportError> {
        let table = self.table.into_inner().map_err(|error| error.into_error())?;
        let mut outcome = import(Input::of(&input.name, Box::new(Cursor::new(table)), None).at(input.now))?;
        // The header is line 1.
        let number = |line: u64| {
            let row = usize::try_from(line).ok().and_then(|line| line.checked_sub(2));
            row.and_then(|row| self.numbers.get(row)).copied().unwrap_or(0)
        };
        for problem in &mut outcome.problems {
            problem.line = number(problem.line);
        }
        for odd in &mut outcome.odd {
            odd.line = number(odd.line);
        }
        Ok(outcome)
    }
}

/// Imports a file: an array of resources, a collection with its `member`s, or one resource. Resources of other kinds, and
/// events that are no matter of ours, are counted in a note. A problem's line is the number of the resource, from 1.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn import(store: &Store, mut input: Input) -> Result<Outcome, ImportError> {
    let mut text = String::new();
    (&mut input).take(MOST_BYTES).read_to_string(&mut text)?;
    let (mut faults, mut skipped, mut own) = (Vec::new(), 0_u64, 0_u64);
    let zone = store.time_zone()?;
    let mut events = Events::new()?;
    let mut animals = Rows::new(&animals::HEADER)?;
    let mut feet = feet::Feet::of(store)?;
    match serde_json::from_str::<Value>(text.trim_start_matches('\u{feff}')) {
        Err(error) => faults.push((0, RowFault::row(format!("this is no JSON: {error}")))),
        Ok(value) => {
            for (number, resource) in (1..).zip(resources(&value)) {
                let taken = match resource["resourceType"].as_str() {
                    Some("icarAnimalCoreResource") => match animals::animal(resource) {
                        Ok(rows) => {
                            for row in rows {
                                animals.add(number, row)?;
                            }
                            Ok(true)
                        }
                        Err(fault) => Err(fault),
                    },
                    Some("icarWeightEventResource") => {
                        put(&mut events.weights, number, events::weight(resource), &mut own)?
                    }
                    Some("icarAttentionEventResource") => {
                        put(&mut events.marks, number, events::attention(resource, &zone), &mut own)?
                    }
                    Some("icarDeviceResource") => {
                        put(&mut events.devices, number, events::device(resource), &mut own)?
                    }
                    Some("icarDiagnosisEventResource") => feet.diagnosis(number, resource),
                    Some("icarTreatmentEventResource") => feet.treatment(number, resource),
                    _ => Ok(false),
                };
                match taken {
                    Ok(true) => {}
                    Ok(false) => skipped += 1,
                    Err(fault) => faults.push((number, fault)),
                }
            }
        }
    }
    let (rows, known) = feet.rows()?;
    let mut outcome = animals.import(&input, |rows| herd::herd(store, rows))?;
    if !rows.numbers.is_empty() {
        outcome.join(rows.import(&input, |rows| trims::import(store, rows))?);
    }
    let Events { weights, marks, devices } = events;
    type Importer = fn(&Store, Input) -> Result<Outcome, ImportError>;
    let importers: [(Rows, Importer); 3] = [
        (weights, |store, rows| passages(store, rows, "")),
        (marks, registers::marks),
        (devices, events::devices),
    ];
    for (rows, importer) in importers {
        if !rows.numbers.is_empty() {
            outcome.join(rows.import(&input, |rows| importer(store, rows))?);
        }
    }
    outcome.kind = "ade";
    outcome.already += known + own;
    outcome.refuse(faults);
    if skipped > 0 {
        outcome.notes.push(format!(
            "{skipped} resources that are no animals, findings and work at a foot, weights, attention to lameness or \
             devices were left out"
        ));
    }
    Ok(outcome)
}

/// Puts the row of an event among the others; says whether it was a matter of ours.
fn put<const N: usize>(
    rows: &mut Rows,
    number: u64,
    taken: Result<Taken<[String; N]>, RowFault>,
    own: &mut u64,
) -> Result<Result<bool, RowFault>, ImportError> {
    Ok(match taken {
        Ok(Taken::Row(row)) => {
            rows.add(number, row)?;
            Ok(true)
        }
        Ok(Taken::Own) => {
            *own += 1;
            Ok(true)
        }
        Ok(Taken::Left) => Ok(false),
        Err(fault) => Err(fault),
    })
}

fn resources(value: &Value) -> &[Value] {
    match value {
        Value::Array(all) => all,
        Value::Object(object) => match object.get("member") {
            Some(Value::Array(members)) => members,
            _ => std::slice::from_ref(value),
        },
        _ => &[],
    }
}

fn text<'v>(resource: &'v Value, field: &'static str) -> Result<&'v str, RowFault> {
    match &resource[field] {
        Value::Null => Ok(""),
        Value::String(text) => Ok(text.trim()),
        other => Err(RowFault::of(field, format!("`{other}` is no text"))),
    }
}

/// An identifier; one of the ISO scheme must be such a number.
fn identifier(value: &Value, field: &'static str) -> Result<String, RowFault> {
    let id = value["id"].as_str().map(str::trim).filter(|id| !id.is_empty());
    let id = id.ok_or_else(|| RowFault::of(field, "it has no id"))?;
    let scheme = value["scheme"].as_str().filter(|scheme| !scheme.is_empty());
    let scheme = scheme.ok_or_else(|| RowFault::of(field, format!("`{id}` has no scheme")))?;
    if scheme == ISO && AnimalCode::from_digits(id.as_bytes()).is_err() {
        return Err(RowFault::of(
            field,
            format!("`{id}` is no 15 digits after ISO 11784 with a country in front"),
        ));
    }
    Ok(id.to_owned())
}

#[cfg(test)]
mod tests;
