//! Animals: their identifiers, numbers, names and states.

use super::{ISO, identifier, text};
use crate::import::RowFault;
use serde_json::Value;

/// The columns of their rows.
pub(super) const HEADER: [&str; 5] = ["animal_id", "number", "name", "tag", "state"];

/// The rows of an animal: one, and one for each other tag.
pub(super) fn animal(resource: &Value) -> Result<Vec<[String; 5]>, RowFault> {
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
