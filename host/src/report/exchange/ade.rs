//! ICAR ADE JSON (schemas of 2024-02, pre-1.4.0): animals, weights, attention events, diagnoses, treatments. Times are UTC with
//! Z. What the schemas have no place for stands in texts: claw and zone in `site`, the stage of digital dermatitis in
//! `description`; lesion codes and the severity of 1 to 3 are of our own schemes. Blocks' heights, follow-ups, leg shares and
//! mobility scores are not in it.

use crate::import::records::ade::{ISO, LESION, SOURCE, farm_id};
use crate::record::case::KeptCase;
use crate::record::names::Directory;
use crate::record::{AnimalId, CowDay, Flag, Passage};
use crate::report::trim::case_line::{done, lesion};
use crate::report::words::Words;
use crate::store::{Device, device_number};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use serde_json::{Map, Value, json};
use shared::analysis::PassageKind;
use shared::identity::AnimalCode;
use shared::plate::Leg;
use std::collections::BTreeMap;

/// The schemes of our own.
const FARM: &str = "local.fourplate.farm";
const NUMBER: &str = "local.fourplate.animal";
const LANE: &str = "local.fourplate.lane";

/// The kinds of resources, as the paths of the standard call them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum EventKind {
    /// Animals with their numbers, names and tags
    Animals,
    /// Live weights of usable passages
    Weights,
    /// New flags to check or urgent, with their end
    AttentionEvents,
    /// Lesions found
    Diagnoses,
    /// Work done, with withdrawal ends as entered
    Treatments,
    /// Both of these in one file, which `import ade` puts together again
    Feet,
    /// The lanes' devices, and those of other programs as they described them
    Devices,
}

/// What every resource says of where it was recorded.
pub struct FootPlace<'a> {
    /// The farm's name.
    pub farm: &'a str,
    /// The farm's time zone.
    pub zone: &'a TimeZone,
}

/// A time as the standard wants it.
fn utc(time: Timestamp) -> String {
    time.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

impl FootPlace<'_> {
    /// A day of the farm, at its noon or its last second.
    fn on(&self, date: Date, end: bool) -> String {
        let at = if end { date.at(23, 59, 59, 0) } else { date.at(12, 0, 0, 0) };
        let at = self.zone.to_ambiguous_timestamp(at).compatible();
        utc(at.unwrap_or(Timestamp::UNIX_EPOCH))
    }

    fn farm(&self) -> &str {
        farm_id(self.farm)
    }

    fn event(&self, kind: &str, id: &str, time: &str, animal: &AnimalId) -> Map<String, Value> {
        let value = json!({
            "resourceType": kind,
            "id": id,
            "eventDateTime": time,
            "animal": identifier(&animal.0),
            "location": { "id": self.farm(), "scheme": FARM },
            "meta": { "source": SOURCE, "sourceId": id, "modified": time },
        });
        let Value::Object(map) = value else { return Map::new() };
        map
    }
}

fn identifier(id: &str) -> Value {
    let iso = AnimalCode::from_digits(id.as_bytes()).is_ok();
    json!({ "id": id, "scheme": if iso { ISO } else { NUMBER } })
}

/// The animals of the register and of the passages. Calvings are no part of the animal in this format.
#[must_use]
pub fn animals(directory: &Directory, place: &FootPlace<'_>) -> Vec<Value> {
    let of = |animal: &AnimalId| {
        let called = directory.names.of(animal);
        let mut value = json!({
            "resourceType": "icarAnimalCoreResource",
            "identifier": identifier(&animal.0),
            "specie": "Cattle",
            "gender": "Female",
            "location": { "id": place.farm(), "scheme": FARM },
        });
        let tags: Vec<Value> =
            directory.tags.iter().filter(|(_, of)| of == animal).map(|(tag, _)| identifier(tag)).collect();
        if !tags.is_empty() {
            value["alternativeIdentifiers"] = tags.into();
        }
        for (field, text) in [("managementTag", &called.number), ("name", &called.name)] {
            if !text.is_empty() {
                value[field] = text.clone().into();
            }
        }
        value
    };
    directory.animals.iter().map(of).collect()
}

/// The weights of usable passages.
#[must_use]
pub fn weights(passages: &[Passage], place: &FootPlace<'_>) -> Vec<Value> {
    let of = |passage: &Passage| {
        let animal = passage.animal.as_ref()?;
        let weight = passage.summary.body_weight.filter(|_| passage.summary.quality.trusted())?;
        let id = format!("passage-{}-{}", passage.lane, passage.time.as_millisecond());
        let mut event = place.event("icarWeightEventResource", &id, &utc(passage.time), animal);
        let walked = passage.summary.kind == PassageKind::WalkThrough;
        let kg = (10.0 * f64::from(weight.value)).round() / 10.0;
        let method = if walked { "WalkOver" } else { "LoadCell" };
        event.insert("weight".into(), json!({ "measurement": kg, "units": "KGM", "method": method }));
        event.insert("device".into(), json!({ "identifier": { "id": passage.lane, "scheme": LANE } }));
        Some(Value::Object(event))
    };
    passages.iter().filter_map(of).collect()
}

/// The lanes' devices, then those of other programs as they described them.
#[must_use]
pub fn devices(devices: &[Device], others: &[String]) -> Vec<Value> {
    let of = |device: &Device| {
        json!({
            "resourceType": "icarDeviceResource",
            "id": device_number(device.id),
            "serial": device_number(device.id),
            "name": device.lane(),
            "softwareVersion": device.firmware,
            "manufacturer": { "id": SOURCE, "deviceName": "load plates" },
            "meta": { "source": SOURCE, "sourceId": device_number(device.id), "modified": utc(heard(device)) },
        })
    };
    let others = others.iter().filter_map(|text| serde_json::from_str(text).ok());
    devices.iter().map(of).chain(others).collect()
}

fn heard(device: &Device) -> Timestamp {
    Timestamp::from_millisecond(device.heard_ms).unwrap_or_default()
}

/// The flags to check and urgent: from the evening they came to the evening they were gone.
#[must_use]
pub fn attention(days: &[CowDay], words: &Words, place: &FootPlace<'_>) -> Vec<Value> {
    let mut by_cow: BTreeMap<&AnimalId, Vec<&CowDay>> = BTreeMap::new();
    for day in days {
        by_cow.entry(&day.animal).or_default().push(day);
    }
    let mut events = Vec::new();
    for (animal, mut rows) in by_cow {
        rows.sort_by_key(|row| row.date);
        let flagged = |row: &CowDay| row.flag >= Flag::Check;
        let runs: Vec<&[&CowDay]> = rows.chunk_by(|a, b| flagged(a) == flagged(b)).collect();
        for run in runs.iter().filter(|run| flagged(run[0])) {
            let id = format!("flag-{animal}-{}", run[0].date);
            let mut event =
                place.event("icarAttentionEventResource", &id, &place.on(run[0].date, true), animal);
            let worst = run.iter().map(|row| row.flag).max().unwrap_or(Flag::Check);
            let last = run[run.len() - 1];
            event.insert("category".into(), "Health".into());
            event.insert("causes".into(), json!(["Lameness"]));
            event.insert("priority".into(), if worst == Flag::Urgent { "Urgent" } else { "Normal" }.into());
            if last.date < rows[rows.len() - 1].date {
                event.insert(
                    "alertEndDateTime".into(),
                    place.on(last.date.saturating_add(1.day()), true).into(),
                );
            }
            if let Some(probability) = run[0].probability {
                event.insert("deviceAttentionScore".into(), ((1000.0 * probability).round() / 1000.0).into());
            }
            let why: Vec<String> = run[0].reasons.iter().map(|reason| words.finding(reason)).collect();
            let remark = format!("{}: {}", words.place(run[0].place), why.join("; "));
            event.insert("remark".into(), remark.into());
            events.push(Value::Object(event));
        }
    }
    events
}

const fn position(leg: Leg) -> &'static str {
    match leg {
        Leg::LF => "LegsFrontLeft",
        Leg::RF => "LegsFrontRight",
        Leg::LR => "LegsRearLeft",
        Leg::RR => "LegsRearRight",
    }
}

/// Leg, claw and zone in words, and the leg where the standard has a place for it.
fn site(kept: &KeptCase, event: &mut Map<String, Value>) {
    let case = &kept.case;
    let claw = case.claw.map(|claw| format!("{} claw", claw.name()));
    let foot: Vec<String> = case.leg.map(|leg| leg.name().to_owned()).into_iter().chain(claw).collect();
    let zone = case.zone.map(|zone| format!("zone {}", zone.number()));
    let site: Vec<String> =
        Some(foot.join(" ")).filter(|foot| !foot.is_empty()).into_iter().chain(zone).collect();
    if !site.is_empty() {
        event.insert("site".into(), site.join(", ").into());
    }
    if let Some(leg) = case.leg {
        event.insert("positions".into(), json!([{ "position": position(leg) }]));
    }
}

/// The lesions found, one event a case.
#[must_use]
pub fn diagnoses(cases: &[KeptCase], words: &Words, place: &FootPlace<'_>) -> Vec<Value> {
    let of = |kept: &KeptCase| {
        let found = kept.case.lesion.as_ref()?;
        let id = format!("case-{}", kept.id);
        let time = place.on(kept.case.date, false);
        let mut event = place.event("icarDiagnosisEventResource", &id, &time, &kept.case.animal);
        let mut diagnosis = Map::new();
        diagnosis.insert("id".into(), id.into());
        diagnosis.insert("name".into(), lesion(&kept.case, words).into());
        if let Some(code) = found.code() {
            diagnosis.insert("diagnosisCode".into(), json!({ "id": code.code, "scheme": LESION }));
        }
        if let Some(stage) = kept.case.stage {
            diagnosis.insert("description".into(), format!("stage {}", stage.name()).into());
        }
        if let Some(severity) = kept.case.severity {
            let name = ["Light", "Moderate", "Severe"][usize::from(severity.number()).clamp(1, 3) - 1];
            diagnosis.insert("severity".into(), name.into());
            diagnosis.insert("severityScore".into(), severity.number().into());
        }
        site(kept, &mut diagnosis);
        event.insert("diagnoses".into(), json!([diagnosis]));
        by(kept, &mut event);
        Some(Value::Object(event))
    };
    cases.iter().filter(|kept| kept.withdrawn.is_none()).filter_map(of).collect()
}

/// The work done, one event a case, with withdrawal ends as entered. No dose is known or given.
#[must_use]
pub fn treatments(cases: &[KeptCase], words: &Words, place: &FootPlace<'_>) -> Vec<Value> {
    let of = |kept: &KeptCase| {
        let id = format!("work-{}", kept.id);
        let time = place.on(kept.case.date, false);
        let mut event = place.event("icarTreatmentEventResource", &id, &time, &kept.case.animal);
        event.insert("procedure".into(), done(&kept.case, words).into());
        // The same in the words of files, for a fourplate that reads it.
        let block = kept.case.field("block_claw");
        let block = if block.is_empty() { block } else { format!("|block_claw={block}") };
        let comment = format!("treatment={}{block}", kept.case.field("treatment"));
        event.insert("comment".into(), comment.into());
        site(kept, &mut event);
        let medicine = &kept.case.medicine;
        let ends = [("Milk", medicine.milk_withdrawal_end), ("Meat", medicine.meat_withdrawal_end)];
        let ends: Vec<Value> = ends
            .into_iter()
            .filter_map(|(product, end)| {
                Some(json!({ "productType": product, "endDate": place.on(end?, true) }))
            })
            .collect();
        if !ends.is_empty() {
            event.insert("withdrawals".into(), ends.into());
        }
        by(kept, &mut event);
        Value::Object(event)
    };
    cases.iter().filter(|kept| kept.withdrawn.is_none()).map(of).collect()
}

fn by(kept: &KeptCase, event: &mut Map<String, Value>) {
    for (field, text) in [("responsible", &kept.case.who), ("remark", &kept.case.note)] {
        if let Some(text) = text {
            event.insert(field.into(), text.clone().into());
        }
    }
}

#[cfg(test)]
mod tests;
