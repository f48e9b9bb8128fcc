//! Animals in ICAR ADE JSON (2024-02): their identifiers, numbers, names and states, as rows of the herd register.

use crate::import::records::herd;
use crate::import::{ImportError, Input, Outcome, RowFault};
use crate::store::Store;
use serde_json::Value;
use shared::identity::AnimalCode;
use std::io::{Cursor, Read};

/// The scheme of 15 digits after ISO 11784.
pub const ISO: &str = "std.iso.11785";
/// Largest file that is read. Our choice: far above any herd.
const MOST_BYTES: u64 = 100_000_000;
const HEADER: [&str; 5] = ["animal_id", "number", "name", "tag", "state"];

/// Imports the animals of a file: an array of resources, a collection with its `member`s, or one resource. Resources of
/// other kinds are counted in a note. A problem's line is the number of the resource, from 1.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn animals(store: &Store, mut input: Input) -> Result<Outcome, ImportError> {
    let mut text = String::new();
    (&mut input).take(MOST_BYTES).read_to_string(&mut text)?;
    let (mut faults, mut skipped, mut of_line) = (Vec::new(), 0_u64, Vec::new());
    let mut table = csv::Writer::from_writer(Vec::new());
    let mut write = |row: [&str; 5]| table.write_record(row).map_err(std::io::Error::from);
    write(HEADER)?;
    match serde_json::from_str::<Value>(text.trim_start_matches('\u{feff}')) {
        Err(error) => faults.push((0, RowFault::row(format!("this is no JSON: {error}")))),
        Ok(value) => {
            for (number, resource) in (1..).zip(resources(&value)) {
                if resource["resourceType"] != "icarAnimalCoreResource" {
                    skipped += 1;
                    continue;
                }
                match animal(resource) {
                    Ok(rows) => {
                        for row in &rows {
                            write(row.each_ref().map(String::as_str))?;
                            of_line.push(number);
                        }
                    }
                    Err(fault) => faults.push((number, fault)),
                }
            }
        }
    }
    let table = table.into_inner().map_err(|error| error.into_error())?;
    let rows = Input::of(&input.name, Box::new(Cursor::new(table)), None).at(input.now);
    let mut outcome = herd::herd(store, rows)?;
    // Rows of the register are those of resources; the header is line 1.
    for problem in &mut outcome.problems {
        let row = usize::try_from(problem.line).ok().and_then(|line| line.checked_sub(2));
        problem.line = row.and_then(|row| of_line.get(row)).copied().unwrap_or(0);
    }
    outcome.refuse(faults);
    if skipped > 0 {
        outcome.notes.push(format!("{skipped} resources that are no animals were left out"));
    }
    Ok(outcome)
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

/// The rows of an animal: one, and one for each other tag.
fn animal(resource: &Value) -> Result<Vec<[String; 5]>, RowFault> {
    let id = identifier(&resource["identifier"], "identifier")?;
    match text(resource, "specie")? {
        "Cattle" | "Buffalo" => {}
        other => return Err(RowFault::of("specie", format!("`{other}` is neither Cattle nor Buffalo"))),
    }
    let state = match (text(resource, "status")?, text(resource, "lactationStatus")?) {
        ("Dead", _) => "died",
        ("OffFarm", _) => "sold",
        ("" | "Alive" | "Unknown", "Dry" | "Lead") => "dry",
        ("" | "Alive" | "Unknown", "Fresh" | "Early" | "Lactating") => "milking",
        ("" | "Alive" | "Unknown", "") => "",
        ("" | "Alive" | "Unknown", other) => {
            return Err(RowFault::of("lactationStatus", format!("`{other}` is not one of the standard's")));
        }
        (other, _) => return Err(RowFault::of("status", format!("`{other}` is not one of the standard's"))),
    };
    let (number, name) = (text(resource, "managementTag")?, text(resource, "name")?);
    let mut rows = vec![[&id, number, name, "", state].map(ToOwned::to_owned)];
    for other in resource["alternativeIdentifiers"].as_array().into_iter().flatten() {
        // What is no tag of the ISO scheme is some other program's name for her.
        if other["scheme"] == ISO {
            let tag = identifier(other, "alternativeIdentifiers")?;
            rows.push([&id, "", "", &tag, ""].map(ToOwned::to_owned));
        }
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;

    fn import(store: &Store, text: &str) -> Outcome {
        let input = Input::of("herd.json", Box::new(Cursor::new(text.to_owned())), None);
        animals(store, input.at("2026-03-02T12:00:00Z".parse::<Timestamp>().unwrap())).unwrap()
    }

    fn cow(more: &str) -> String {
        format!(
            r#"{{"resourceType":"icarAnimalCoreResource","specie":"Cattle","gender":"Female",
                "identifier":{{"id":"372000000000412","scheme":"std.iso.11785"}}{more}}}"#
        )
    }

    #[test]
    fn an_animal_comes_with_her_number_name_tags_and_state() {
        let store = Store::in_memory().unwrap();
        let more = r#","managementTag":"412","name":"Berta","lactationStatus":"Dry","alternativeIdentifiers":[
            {"id":"372000000000977","scheme":"std.iso.11785"},{"id":"x-1","scheme":"org.example"}]"#;
        let weight = r#"{"resourceType":"icarWeightEventResource"}"#;
        let outcome = import(&store, &format!(r#"{{"member":[{},{weight}]}}"#, cow(more)));
        assert_eq!((outcome.bad, outcome.problems.len()), (0, 0), "{:?}", outcome.problems);
        assert!(outcome.notes.iter().any(|note| note.starts_with("1 resources")), "{:?}", outcome.notes);
        let directory = store.directory().unwrap();
        let animal = store.wearer("372000000000977", None).unwrap().unwrap();
        assert_eq!(animal.0, "372000000000412");
        assert_eq!(directory.names.of(&animal).number, "412");
        assert_eq!(directory.names.of(&animal).name, "Berta");
        assert_eq!(store.marks(jiff::civil::Date::MAX).unwrap()[0].mark.name(), "dry");
        assert_eq!(import(&store, &format!("[{}]", cow(more))).added, 0, "nothing is new the second time");
    }

    #[test]
    fn what_is_wrong_is_said_with_the_number_of_its_resource_and_the_rest_is_kept() {
        let store = Store::in_memory().unwrap();
        let bad = |from: &str, to: &str| cow("").replace(from, to);
        let all = [
            cow(r#","managementTag":"412""#),
            bad("372000000000412", "12"),
            bad(r#""id":"372000000000412","#, ""),
            bad(r#","scheme":"std.iso.11785""#, ""),
            bad("Cattle", "Sheep"),
            cow(r#","status":"Gone""#),
            cow(r#","lactationStatus":"Sometimes""#),
            cow(r#","name":7"#),
        ];
        let outcome = import(&store, &format!("[{}]", all.join(",")));
        assert_eq!((outcome.added, outcome.bad), (1, 7));
        let said: Vec<(u64, Option<&str>)> =
            outcome.problems.iter().map(|problem| (problem.line, problem.column)).collect();
        let columns =
            ["identifier", "identifier", "identifier", "specie", "status", "lactationStatus", "name"];
        assert_eq!(said, (2..).zip(columns.map(Some)).collect::<Vec<_>>());
        let outcome = import(&store, "{\"member\": [");
        assert_eq!((outcome.bad, outcome.problems[0].line), (1, 0));
        assert!(outcome.problems[0].what.starts_with("this is no JSON"), "{:?}", outcome.problems);
    }
}
