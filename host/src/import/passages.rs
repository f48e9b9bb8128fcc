//! The passage table, as exported or as others write it: `animal_id,time` and whatever else is there.

use crate::import::{Column, ImportError, Input, Outcome, Problems, Row, RowFault, parsed, value};
use crate::record::passage_table::{PASSAGE_COLUMNS, kind_name};
use crate::store::{Insert, Meanings, NewPassage, Store};
use jiff::Timestamp;
use shared::{
    analysis::{LegContacts, PassageKind, PassageSummary, Quality, Reason, Standing},
    plate::{Leg, PerLeg},
    units::{Estimate, Milliseconds},
};

/// Standard error of a leg share where the table gives none, percentage points. Our choice: a short stance.
const SHARE_SE_PCT: f32 = 1.0;
/// Standard error of body weight where the table gives none, as a part of it. Our choice.
const WEIGHT_SE: f32 = 0.01;
/// How far the four leg shares may miss 100, percentage points. Our choice: rounding to whole numbers.
const SHARE_SLACK_PCT: f32 = 2.5;
/// Longest passage taken, s: a day.
const LONGEST_S: f32 = 86_400.0;

/// Derived columns: taken in without use.
const DERIVED: [&str; 6] =
    ["front_lwr", "rear_lwr", "front_si_pct", "rear_si_pct", "front_share_pct", "lifts_per_min"];

fn columns() -> Vec<Column> {
    let column = |name| Column { name, needed: matches!(name, "animal_id" | "time") };
    PASSAGE_COLUMNS.into_iter().map(column).collect()
}

/// Passages of a table; a row without a lane is of `lane`.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn passages(store: &Store, input: Input, lane: &str) -> Result<Outcome, ImportError> {
    debug_assert!(DERIVED.iter().all(|name| PASSAGE_COLUMNS.contains(name)));
    let columns = columns();
    let mut times = value::TimeReader::at(input.now);
    let mut span = std::collections::BTreeMap::<String, (i64, i64)>::new();
    let outcome = parsed::rows(
        store,
        "passages",
        input,
        &columns,
        |row, problems| parse(&Fields(row), &mut times, lane, problems),
        |store, source, rows| {
            let (mut new, mut known) = (0, Meanings::default());
            for row in rows {
                if row.animal.is_none() {
                    let ms = row.time.as_millisecond();
                    let known = span.entry(row.lane.clone()).or_insert((ms, ms));
                    *known = (known.0.min(ms), known.1.max(ms));
                }
                new += usize::from(store.insert_listed_meaning(row, source, &mut known)? != Insert::Already);
            }
            Ok(new)
        },
    )?;
    for (lane, (first, last)) in span {
        store.batch(|store| crate::identity::rematch(store, &lane, first, last))?;
    }
    Ok(outcome)
}

/// Fields of a row by name.
struct Fields<'r>(&'r Row<'r>);

/// Place of a column, worked out when the program is built: a row asks for some sixty.
const fn place(name: &str) -> usize {
    let mut at = 0;
    while !same(PASSAGE_COLUMNS[at].as_bytes(), name.as_bytes()) {
        at += 1;
    }
    at
}

const fn same(one: &[u8], other: &[u8]) -> bool {
    if one.len() != other.len() {
        return false;
    }
    let mut at = 0;
    while at < one.len() {
        if one[at] != other[at] {
            return false;
        }
        at += 1;
    }
    true
}

/// Places of a column that each leg has, by its name with `lf`.
const fn legs(lf: &str) -> PerLeg<usize> {
    let first = place(lf);
    // Shares and lifts stand by measure, contacts by leg.
    let step = if first < place("lf_contacts") { 1 } else { place("rf_contacts") - place("lf_contacts") };
    PerLeg([first, first + step, first + 2 * step, first + 3 * step])
}

const SHARE: PerLeg<usize> = legs("lf_share_pct");
const SHARE_SD: PerLeg<usize> = legs("lf_share_sd_pct");
const SHARE_ERROR: PerLeg<usize> = legs("lf_share_se_pct");
const LIFTS: PerLeg<usize> = legs("lf_lifts");
const CONTACTS: PerLeg<usize> = legs("lf_contacts");
const PEAK: PerLeg<usize> = legs("lf_peak_pct");
const CONTACT_TIME: PerLeg<usize> = legs("lf_contact_s");
const IMPULSE: PerLeg<usize> = legs("lf_impulse_pct_s");
const STEP: PerLeg<usize> = legs("lf_step_s");

impl Fields<'_> {
    fn text(&self, place: usize) -> Result<Option<&str>, RowFault> {
        self.0.text(place)
    }

    /// A number from `least` to `most`.
    fn number(&self, place: usize, least: f32, most: f32) -> Result<Option<f32>, RowFault> {
        match self.0.number(place)? {
            Some(number) if !(least..=most).contains(&number) => {
                Err(RowFault::of(PASSAGE_COLUMNS[place], format!("{number} lies outside {least} to {most}")))
            }
            number => Ok(number),
        }
    }

    fn count(&self, place: usize, most: u32) -> Result<Option<u32>, RowFault> {
        self.0.whole(place, 0, most)
    }
}

fn parse(
    fields: &Fields<'_>,
    times: &mut value::TimeReader,
    lane: &str,
    problems: &mut Problems,
) -> Result<NewPassage, RowFault> {
    let micros = times.micros("time", fields.0.bytes(const { place("time") }))?;
    let ms = micros.div_euclid(1000);
    let animal = fields
        .text(const { place("animal_id") })?
        .map(|text| value::animal("animal_id", text))
        .transpose()?;
    let duration = fields.number(const { place("duration_s") }, 0.0, LONGEST_S)?.unwrap_or(0.0);
    let standing = standing(fields, duration, problems)?;
    let walking = walking(fields)?;
    let weight = fields.number(const { place("body_weight_kg") }, 1.0, 5000.0)?;
    let weight_se = fields.number(const { place("body_weight_se_kg") }, 0.0, 5000.0)?;
    let walked = walking.0.iter().any(|contacts| contacts.count > 0);
    let kind = match fields.text(const { place("kind") })? {
        Some(text) => [PassageKind::Stance, PassageKind::WalkThrough, PassageKind::Unclear]
            .into_iter()
            .find(|kind| kind_name(*kind) == text)
            .ok_or_else(|| {
                RowFault::of("kind", format!("`{text}` is none of stance, walk_through, unclear"))
            })?,
        None if standing.is_some() => PassageKind::Stance,
        None if walked => PassageKind::WalkThrough,
        None => PassageKind::Unclear,
    };
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "in range")]
    let duration = Milliseconds((f64::from(duration) * 1000.0).round() as u64);
    let summary = PassageSummary {
        start: Milliseconds(ms.cast_unsigned()),
        duration,
        kind,
        quality: quality(fields, problems)?,
        readings: fields.count(const { place("readings") }, u32::MAX)?.unwrap_or(0),
        lost_readings: fields.count(const { place("lost_readings") }, u32::MAX)?.unwrap_or(0),
        body_weight: weight.map(|value| Estimate { value, se: weight_se.unwrap_or(WEIGHT_SE * value) }),
        standing,
        walking,
    };
    Ok(NewPassage {
        lane: fields.text(const { place("lane") })?.unwrap_or(lane).to_owned(),
        time: Timestamp::from_millisecond(ms)
            .map_err(|_| RowFault::of("time", "lies beyond the calendar"))?,
        evidence: match (fields.text(const { place("evidence") })?, &animal) {
            (Some(evidence), Some(_)) => evidence.to_owned(),
            (None, Some(_)) => "passage table".to_owned(),
            (_, None) => "no tag".to_owned(),
        },
        animal,
        summary,
        trace: None,
    })
}

fn quality(fields: &Fields<'_>, problems: &mut Problems) -> Result<Quality, RowFault> {
    let mut quality = Quality::default();
    let reasons = fields.text(const { place("quality_reasons") })?.unwrap_or_default();
    for name in reasons.split(';').map(str::trim).filter(|name| !name.is_empty()) {
        match Reason::ALL.into_iter().find(|reason| reason.name() == name) {
            Some(reason) => quality.add(reason),
            None => problems.note(format!("quality reason `{name}` is not known and was ignored")),
        }
    }
    match fields.text(const { place("quality") })? {
        None | Some("good" | "limited") => {}
        Some("unusable") if quality.trusted() => {
            quality.add(Reason::FeetUnsure);
            problems.note("unusable passages without a known reason count as feet_unsure".to_owned());
        }
        Some("unusable") => {}
        Some(other) => {
            return Err(RowFault::of("quality", format!("`{other}` is none of good, limited, unusable")));
        }
    }
    Ok(quality)
}

fn standing(
    fields: &Fields<'_>,
    duration: f32,
    problems: &mut Problems,
) -> Result<Option<Standing>, RowFault> {
    let mut standing = Standing::default();
    let mut given = 0;
    for leg in Leg::ALL {
        if let Some(share) = fields.number(SHARE[leg], -20.0, 120.0)? {
            standing.share_pct[leg] = share;
            given += 1;
        }
    }
    if given == 0 {
        return Ok(None);
    }
    let sum: f32 = standing.share_pct.0.iter().sum();
    if given < 4 || (sum - 100.0).abs() > SHARE_SLACK_PCT {
        let what = format!(
            "the leg shares add up to {sum:.1} from {given} legs; give all four, in % of body weight"
        );
        return Err(RowFault::row(what));
    }
    let mut lifts_given = false;
    standing.seconds = fields.number(const { place("standing_s") }, 0.0, LONGEST_S)?.unwrap_or(duration);
    for leg in Leg::ALL {
        standing.share_sd_pct[leg] = fields.number(SHARE_SD[leg], 0.0, 100.0)?.unwrap_or(0.0);
        standing.share_se_pct[leg] = fields.number(SHARE_ERROR[leg], 0.0, 100.0)?.unwrap_or(SHARE_SE_PCT);
        let lifts = fields.count(LIFTS[leg], 65_535)?;
        lifts_given |= lifts.is_some();
        standing.lifts[leg] = u16::try_from(lifts.unwrap_or(0)).unwrap_or(u16::MAX);
    }
    if !lifts_given
        && fields.number(const { place("lifts_per_min") }, 0.0, 10_000.0)?.is_some_and(|lifts| lifts > 0.0)
    {
        problems.note("lifts_per_min without lf_lifts ... rr_lifts names no leg and was left out".to_owned());
    }
    let shifts =
        |place| fields.count(place, 65_535).map(|count| count.and_then(|count| u16::try_from(count).ok()));
    let (front, rear) = (shifts(const { place("front_shifts") })?, shifts(const { place("rear_shifts") })?);
    let per_minute = fields.number(const { place("shifts_per_min") }, 0.0, 10_000.0)?;
    if let (None, None, Some(per_minute)) = (front, rear, per_minute) {
        problems
            .note("shifts_per_min without front_shifts and rear_shifts counts as the rear pair's".to_owned());
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a float cast saturates")]
        let count = (per_minute * standing.seconds / 60.0).round() as u16;
        standing.rear_shifts = count;
    } else {
        (standing.front_shifts, standing.rear_shifts) = (front.unwrap_or(0), rear.unwrap_or(0));
    }
    Ok(Some(standing))
}

fn walking(fields: &Fields<'_>) -> Result<PerLeg<LegContacts>, RowFault> {
    let mut walking = PerLeg::<LegContacts>::default();
    for leg in Leg::ALL {
        let peak = fields.number(PEAK[leg], 0.0, 300.0)?;
        let count = fields.count(CONTACTS[leg], 255)?;
        let count = count.unwrap_or(u32::from(peak.is_some()));
        if count == 0 {
            continue;
        }
        walking[leg] = LegContacts {
            count: u8::try_from(count).unwrap_or(u8::MAX),
            peak_pct: peak.unwrap_or(0.0),
            stance_s: fields.number(CONTACT_TIME[leg], 0.0, 600.0)?.unwrap_or(0.0),
            impulse_pct_s: fields.number(IMPULSE[leg], 0.0, 1e5)?.unwrap_or(0.0),
            step_s: fields.number(STEP[leg], 0.0, 600.0)?.unwrap_or(0.0),
        };
    }
    Ok(walking)
}

#[cfg(test)]
mod tests;
