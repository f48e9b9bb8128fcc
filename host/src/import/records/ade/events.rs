//! What other programs measured and told: weights of scales, attention to lameness, and their devices.

use super::{Rows, SOURCE, identifier, text};
use crate::import::{Column, ImportError, Input, Outcome, RowFault, rows};
use crate::record::mark::Mark;
use crate::store::Store;
use jiff::Timestamp;
use serde_json::Value;

/// The columns of weights, as the passage table has them.
pub(super) const WEIGHTS: [&str; 5] = ["time", "animal_id", "lane", "kind", "body_weight_kg"];
/// The columns of marks, as their file has them.
pub(super) const MARKS: [&str; 4] = ["date", "animal_id", "mark", "who"];
/// The columns of devices.
pub(super) const DEVICES: [&str; 2] = ["id", "resource"];
const DEVICE: &[Column] = &[Column::needed("id"), Column::needed("resource")];

/// The lane of a weight that names no device.
const NO_DEVICE: &str = "scale";

/// Kilograms of the units of UN/CEFACT that a cow is weighed in.
const UNITS: [(&str, f64); 4] = [("KGM", 1.0), ("GRM", 0.001), ("LBR", 0.453_592_37), ("TNE", 1000.0)];

/// When it happened, UTC.
fn moment(resource: &Value) -> Result<Timestamp, RowFault> {
    let time = text(resource, "eventDateTime")?;
    let said =
        || RowFault::of("eventDateTime", format!("`{time}` is no time in UTC such as 2026-03-02T06:00:00Z"));
    if time.ends_with('Z') { time.parse().map_err(|_| said()) } else { Err(said()) }
}

fn ours(resource: &Value) -> bool {
    resource["meta"]["source"] == SOURCE
}

/// A weight as a passage of which nothing else is known: it shows how she fares and is never scored. What was guessed and
/// not weighed is left out.
pub(super) fn weight(resource: &Value) -> Result<Taken<[String; 5]>, RowFault> {
    let animal = identifier(&resource["animal"], "animal")?;
    let mut time = moment(resource)?;
    let weight = &resource["weight"];
    let kind = match text(weight, "method")? {
        "" | "LoadCell" => "unclear",
        "WalkOver" => "walk_through",
        _ => return Ok(Taken::Left),
    };
    let unit = text(weight, "units")?;
    let known = UNITS.iter().find(|(name, _)| *name == unit || (unit.is_empty() && *name == "KGM"));
    let (_, kilograms) = known.ok_or_else(|| {
        RowFault::of("weight", format!("`{unit}` is none of the units KGM, GRM, LBR and TNE"))
    })?;
    let number = weight["measurement"].as_f64().ok_or_else(|| RowFault::of("weight", "no measurement"))?;
    let lane = weight_lane(resource)?;
    // Our own resources say the millisecond in their name, so that what comes back is known again.
    let named = text(resource, "id")?.strip_prefix("passage-").and_then(|name| name.rsplit_once('-'));
    if let Some((_, ms)) = named.filter(|_| ours(resource)) {
        time = ms.parse().ok().and_then(|ms| Timestamp::from_millisecond(ms).ok()).unwrap_or(time);
    }
    let kg = (number * kilograms * 1000.0).round() / 1000.0;
    Ok(Taken::Row([format!("{time:.3}"), animal, lane, kind.to_owned(), kg.to_string()]))
}

fn weight_lane(resource: &Value) -> Result<String, RowFault> {
    let device = &resource["device"];
    let id = device["identifier"]["id"].as_str().map(str::trim).filter(|id| !id.is_empty());
    Ok(match id {
        Some(id) => id.to_owned(),
        None => {
            Some(text(device, "serial")?).filter(|serial| !serial.is_empty()).unwrap_or(NO_DEVICE).to_owned()
        }
    })
}

/// What becomes of an event.
pub(super) enum Taken<T> {
    /// A row.
    Row(T),
    /// It is our own, come back.
    Own,
    /// No matter of ours.
    Left,
}

/// Attention to lameness, as a mark of the day that another program told of her.
pub(super) fn attention(resource: &Value, zone: &jiff::tz::TimeZone) -> Result<Taken<[String; 4]>, RowFault> {
    let lame = |cause: &Value| cause == "Lameness";
    let causes = resource["causes"].as_array();
    if !causes.ok_or_else(|| RowFault::of("causes", "it names none"))?.iter().any(lame) {
        return Ok(Taken::Left);
    }
    if ours(resource) {
        return Ok(Taken::Own);
    }
    let animal = identifier(&resource["animal"], "animal")?;
    let day = zone.to_datetime(moment(resource)?).date().to_string();
    let by = match (text(resource, "responsible")?, text(&resource["meta"], "source")?) {
        ("", source) => source,
        (person, _) => person,
    };
    Ok(Taken::Row([day, animal, Mark::Told.name().to_owned(), by.to_owned()]))
}

/// A device, kept as it is described; our own lanes are known better here.
pub(super) fn device(resource: &Value) -> Result<Taken<[String; 2]>, RowFault> {
    let id = text(resource, "id")?;
    if id.is_empty() {
        return Err(RowFault::of("id", "it has none"));
    }
    if ours(resource) {
        return Ok(Taken::Own);
    }
    Ok(Taken::Row([id.to_owned(), resource.to_string()]))
}

/// Keeps the devices.
pub(super) fn devices(store: &Store, input: Input) -> Result<Outcome, ImportError> {
    rows(store, "devices", input, DEVICE, |store, row, _| {
        let (id, resource) = (row.text(0)?.unwrap_or_default(), row.text(1)?.unwrap_or_default());
        Ok(store.put_other_device(id, resource)?)
    })
}

/// The rows of events on their way.
pub(super) struct Events {
    pub(super) weights: Rows,
    pub(super) marks: Rows,
    pub(super) devices: Rows,
}

impl Events {
    pub(super) fn new() -> Result<Self, ImportError> {
        Ok(Self { weights: Rows::new(&WEIGHTS)?, marks: Rows::new(&MARKS)?, devices: Rows::new(&DEVICES)? })
    }
}
