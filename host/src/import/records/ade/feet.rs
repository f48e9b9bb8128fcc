//! Findings and work at a foot. A diagnosis and the treatment of the same foot on the same day, or of one of our own cases, are
//! one row. What concerns no leg is no matter of ours.

use super::{LESION, Rows, SOURCE, farm_id, identifier, text};
use crate::import::{ImportError, RowFault};
use crate::record::case::KeptCase;
use crate::store::{Store, StoreError};
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use serde_json::Value;
use std::collections::BTreeMap;

/// The fields of the trims file that are filled.
const FIELDS: [&str; 14] = [
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
    "milk_withdrawal_end",
    "meat_withdrawal_end",
    "who",
];

/// A row of the trims file on its way.
struct Foot {
    number: u64,
    /// The number of the case, where it is one of ours.
    own: Option<String>,
    /// The farm it was recorded on, where it is one of ours.
    farm: Option<String>,
    fields: BTreeMap<&'static str, String>,
}

impl Foot {
    fn put(&mut self, field: &'static str, value: impl Into<String>) {
        let value = value.into();
        if !value.is_empty() {
            self.fields.insert(field, value);
        }
    }

    fn get(&self, field: &str) -> &str {
        self.fields.get(field).map_or("", String::as_str)
    }

    /// Whether an event is of the same foot; where one of them names no claw, of the same leg.
    fn same(&self, other: &Self) -> bool {
        if self.own.is_some() || other.own.is_some() {
            return self.own == other.own;
        }
        let same = |field| self.get(field) == other.get(field);
        let claw = same("claw") || self.get("claw").is_empty() || other.get("claw").is_empty();
        same("animal_id") && same("date") && same("leg") && claw
    }

    /// Takes from another event what this one does not say.
    fn fill(&mut self, other: Self) {
        for (field, value) in other.fields {
            self.fields.entry(field).or_insert(value);
        }
    }
}

/// The rows gathered from a file.
pub(super) struct Feet {
    zone: TimeZone,
    /// The cases of this very store, which may come back in a file.
    here: Vec<KeptCase>,
    farm: String,
    found: Vec<Foot>,
    worked: Vec<Foot>,
    known: u64,
}

/// A leg's name by its place in the standard.
fn leg(position: &str) -> Option<&'static str> {
    Some(match position {
        "LegsFrontLeft" => "LF",
        "LegsFrontRight" => "RF",
        "LegsRearLeft" => "LR",
        "LegsRearRight" => "RR",
        _ => return None,
    })
}

impl Feet {
    pub(super) fn of(store: &Store) -> Result<Self, StoreError> {
        Ok(Self {
            zone: store.time_zone()?,
            here: store.cases(None)?,
            farm: farm_id(&store.setting("name")?.unwrap_or_default()).to_owned(),
            found: Vec::new(),
            worked: Vec::new(),
            known: 0,
        })
    }

    /// The findings of a diagnosis; false where none is of a leg.
    pub(super) fn diagnosis(&mut self, number: u64, event: &Value) -> Result<bool, RowFault> {
        let mut taken = false;
        for one in event["diagnoses"].as_array().into_iter().flatten() {
            let Some(mut foot) = self.foot(number, event, one, "case-")? else { continue };
            taken = true;
            if self.is_here(&foot) {
                continue;
            }
            let code = &one["diagnosisCode"];
            let ours = code["scheme"] == LESION;
            let name = text(one, "name")?;
            foot.put("lesion", if ours { code["id"].as_str().unwrap_or(name) } else { name });
            foot.put("dd_stage", text(one, "description")?.strip_prefix("stage ").unwrap_or_default());
            let severity = match text(one, "severity")? {
                "" => "",
                "Light" => "1",
                "Moderate" => "2",
                "Severe" => "3",
                other => {
                    return Err(RowFault::of("severity", format!("`{other}` is not one of the standard's")));
                }
            };
            foot.put("severity", severity);
            self.found.push(foot);
        }
        Ok(taken)
    }

    /// The work of a treatment; false where it is at no leg.
    pub(super) fn treatment(&mut self, number: u64, event: &Value) -> Result<bool, RowFault> {
        let Some(mut foot) = self.foot(number, event, event, "work-")? else { return Ok(false) };
        if self.is_here(&foot) {
            return Ok(true);
        }
        // Our own say in a comment what their words stand for.
        let comment = text(event, "comment")?;
        let ours = comment.strip_prefix("treatment=").filter(|_| event["meta"]["source"] == SOURCE);
        match ours {
            Some(fields) => {
                let (treatment, block) = fields.split_once("|block_claw=").unwrap_or((fields, ""));
                foot.put("treatment", treatment);
                foot.put("block_claw", block);
            }
            None => foot.put("treatment", text(event, "procedure")?),
        }
        for withdrawal in event["withdrawals"].as_array().into_iter().flatten() {
            let field = match text(withdrawal, "productType")? {
                "Milk" => "milk_withdrawal_end",
                "Meat" => "meat_withdrawal_end",
                _ => continue,
            };
            foot.put(field, self.day(withdrawal, "endDate")?.to_string());
        }
        self.worked.push(foot);
        Ok(true)
    }

    fn day(&self, value: &Value, field: &'static str) -> Result<Date, RowFault> {
        let time = text(value, field)?;
        let when: Timestamp = time
            .parse()
            .map_err(|_| RowFault::of(field, format!("`{time}` is no time such as 2026-03-01T06:00:00Z")))?;
        Ok(self.zone.to_datetime(when).date())
    }

    /// Where and when; none where no leg is named.
    fn foot(&self, number: u64, event: &Value, place: &Value, own: &str) -> Result<Option<Foot>, RowFault> {
        let positions = place["positions"].as_array().into_iter().flatten();
        let legs: Vec<&str> =
            positions.filter_map(|one| leg(one["position"].as_str().unwrap_or_default())).collect();
        let ours = event["meta"]["source"] == SOURCE;
        let named = match legs[..] {
            [one] => one,
            // A case of ours may be of no leg in particular.
            [] if ours => "",
            _ => return Ok(None),
        };
        let own = text(event, "id")?.strip_prefix(own).filter(|_| ours).map(ToOwned::to_owned);
        let farm = event["location"]["id"].as_str().filter(|_| ours).map(ToOwned::to_owned);
        let mut foot = Foot { number, own, farm, fields: BTreeMap::new() };
        foot.put("date", self.day(event, "eventDateTime")?.to_string());
        foot.put("animal_id", identifier(&event["animal"], "animal")?);
        foot.put("leg", named);
        let site = text(place, "site")?;
        let claw = ["outer", "inner", "both"].into_iter().find(|claw| site.contains(&format!("{claw} claw")));
        foot.put("claw", claw.unwrap_or_default());
        let zone = site.split_once("zone ").map_or("", |(_, zone)| zone.trim());
        foot.put("zone", if zone.bytes().all(|digit| digit.is_ascii_digit()) { zone } else { "" });
        foot.put("who", text(event, "responsible")?);
        foot.put("note", text(event, "remark")?);
        Ok(Some(foot))
    }

    /// Whether it is a case of this store and farm that has come back; there it is whole.
    fn is_here(&mut self, foot: &Foot) -> bool {
        let of = |kept: &&KeptCase| {
            foot.own.as_deref() == Some(kept.id.to_string().as_str())
                && kept.case.date.to_string() == foot.get("date")
                && kept.case.animal.0 == foot.get("animal_id")
        };
        let here = foot.farm.as_deref() == Some(&self.farm) && self.here.iter().any(|kept| of(&kept));
        self.known += u64::from(here);
        here
    }

    /// The rows: each finding with the work at its foot, and the work without a finding. And how many were here.
    pub(super) fn rows(mut self) -> Result<(Rows, u64), ImportError> {
        let mut rows = Rows::new(&FIELDS)?;
        for work in self.worked {
            match self.found.iter_mut().find(|found| found.same(&work) && found.get("treatment").is_empty()) {
                Some(found) => found.fill(work),
                None => self.found.push(work),
            }
        }
        self.found.sort_by_key(|foot| foot.number);
        for foot in &self.found {
            rows.add(foot.number, FIELDS.map(|field| foot.get(field)))?;
        }
        Ok((rows, self.known))
    }
}
