//! Passages.

use super::{Table, animal, at, moment};
use datafusion::arrow::array::{Array, Float32Array, Int32Array, StructArray};
use datafusion::error::{DataFusionError, Result};
use host::record::Passage;
use host::record::passage_table::kind_name;
use jiff::tz::TimeZone;
use shared::analysis::{LegContacts, PassageKind, PassageSummary, Quality, Reason, Standing};
use shared::plate::{Leg, PerLeg};
use shared::units::{Estimate, Milliseconds};

/// A column of each leg.
fn legs<'a, T>(what: &str, of: impl Fn(&str) -> Result<&'a T>) -> Result<PerLeg<&'a T>> {
    let column = |leg: Leg| of(&format!("{}_{what}", leg.name().to_ascii_lowercase()));
    Ok(PerLeg([column(Leg::LF)?, column(Leg::RF)?, column(Leg::LR)?, column(Leg::RR)?]))
}

fn number(column: &Float32Array, row: usize) -> f32 {
    at!(column, row).unwrap_or_default()
}

fn count<T: TryFrom<i32> + Default>(column: &Int32Array, row: usize) -> T {
    at!(column, row).and_then(|count| T::try_from(count).ok()).unwrap_or_default()
}

/// The passages, in order of time and then of the farm's own number, with the local days of its time zone.
///
/// # Errors
/// When a column is missing or a word is not known.
pub fn passages(rows: &StructArray, zone: &TimeZone) -> Result<Vec<Passage>> {
    let table = Table(rows);
    let (key, time, animals, lane) =
        (table.long("passage")?, table.time("time")?, table.text("animal_id")?, table.text("lane")?);
    let (kind, reasons) = (table.text("kind")?, table.text("quality_reasons")?);
    let duration = table.column("duration_s", |column| {
        datafusion::arrow::array::AsArray::as_primitive_opt::<datafusion::arrow::datatypes::Float64Type>(
            column,
        )
    })?;
    let (weight, weight_se) = (table.measure("body_weight_kg")?, table.measure("body_weight_se_kg")?);
    let (readings, lost) = (table.count("readings")?, table.count("lost_readings")?);
    let standing = StandingColumns::of(&table)?;
    let walking = WalkingColumns::of(&table)?;
    let mut places: Vec<usize> = (0..rows.len()).collect();
    places.sort_by_key(|&place| (time.value(place), key.value(place)));
    let passage = |row: usize| -> Result<Passage> {
        let time = moment(time.value(row));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "as the store has it")]
        let summary = PassageSummary {
            start: Milliseconds(time.as_millisecond().cast_unsigned()),
            duration: Milliseconds((at!(duration, row).unwrap_or_default() * 1000.0).round() as u64),
            kind: kind_of(at!(kind, row).unwrap_or_default())?,
            quality: quality(at!(reasons, row).unwrap_or_default())?,
            readings: count(readings, row),
            lost_readings: count(lost, row),
            body_weight: at!(weight, row).map(|value| Estimate { value, se: number(weight_se, row) }),
            standing: standing.at(row),
            walking: walking.at(row),
        };
        Ok(Passage {
            id: key.value(row),
            lane: at!(lane, row).unwrap_or_default().to_owned(),
            time,
            date: time.to_zoned_datetime(zone.clone()).date(),
            animal: animal(animals, row),
            summary,
        })
    };
    places.into_iter().map(passage).collect()
}

fn kind_of(name: &str) -> Result<PassageKind> {
    [PassageKind::Stance, PassageKind::WalkThrough, PassageKind::Unclear]
        .into_iter()
        .find(|kind| kind_name(*kind) == name)
        .ok_or_else(|| DataFusionError::Execution(format!("`{name}` is no kind of passage")))
}

fn quality(names: &str) -> Result<Quality> {
    let mut quality = Quality::default();
    for name in names.split(';').filter(|name| !name.is_empty()) {
        let reason = Reason::ALL.into_iter().find(|reason| reason.name() == name);
        quality.add(reason.ok_or_else(|| {
            DataFusionError::Execution(format!(
                "`{name}` is no reason of quality: a newer fourplate is needed"
            ))
        })?);
    }
    Ok(quality)
}

struct StandingColumns<'a> {
    seconds: &'a Float32Array,
    share: PerLeg<&'a Float32Array>,
    sd: PerLeg<&'a Float32Array>,
    se: PerLeg<&'a Float32Array>,
    shifts: [&'a Int32Array; 2],
    lifts: PerLeg<&'a Int32Array>,
}

impl<'a> StandingColumns<'a> {
    fn of(table: &Table<'a>) -> Result<Self> {
        Ok(Self {
            seconds: table.measure("standing_s")?,
            share: legs("share_pct", |name| table.measure(name))?,
            sd: legs("share_sd_pct", |name| table.measure(name))?,
            se: legs("share_se_pct", |name| table.measure(name))?,
            shifts: [table.count("front_shifts")?, table.count("rear_shifts")?],
            lifts: legs("lifts", |name| table.count(name))?,
        })
    }

    fn at(&self, row: usize) -> Option<Standing> {
        let seconds = at!(self.seconds, row)?;
        let of = |columns: &PerLeg<&Float32Array>| PerLeg(columns.0.map(|column| number(column, row)));
        Some(Standing {
            seconds,
            share_pct: of(&self.share),
            share_sd_pct: of(&self.sd),
            share_se_pct: of(&self.se),
            front_shifts: count(self.shifts[0], row),
            rear_shifts: count(self.shifts[1], row),
            lifts: PerLeg(self.lifts.0.map(|column| count(column, row))),
        })
    }
}

struct WalkingColumns<'a> {
    contacts: PerLeg<&'a Int32Array>,
    peak: PerLeg<&'a Float32Array>,
    stance: PerLeg<&'a Float32Array>,
    impulse: PerLeg<&'a Float32Array>,
    step: PerLeg<&'a Float32Array>,
}

impl<'a> WalkingColumns<'a> {
    fn of(table: &Table<'a>) -> Result<Self> {
        Ok(Self {
            contacts: legs("contacts", |name| table.count(name))?,
            peak: legs("peak_pct", |name| table.measure(name))?,
            stance: legs("contact_s", |name| table.measure(name))?,
            impulse: legs("impulse_pct_s", |name| table.measure(name))?,
            step: legs("step_s", |name| table.measure(name))?,
        })
    }

    fn at(&self, row: usize) -> PerLeg<LegContacts> {
        PerLeg(Leg::ALL.map(|leg| LegContacts {
            count: count(self.contacts[leg], row),
            peak_pct: number(self.peak[leg], row),
            stance_s: number(self.stance[leg], row),
            impulse_pct_s: number(self.impulse[leg], row),
            step_s: number(self.step[leg], row),
        }))
    }
}
