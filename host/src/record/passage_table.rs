//! The table of passages: one header for export and import.

use crate::record::Passage;
use jiff::{Timestamp, civil::Date};
use serde::Serialize;
use shared::{
    analysis::{PassageKind, Quality},
    plate::{Leg, Pair},
};
use std::fmt;

/// Columns of the passage table, in order.
pub const PASSAGE_COLUMNS: [&str; 58] = [
    "animal_id",
    "time",
    "duration_s",
    "kind",
    "quality",
    "quality_reasons",
    "body_weight_kg",
    "body_weight_se_kg",
    "lf_share_pct",
    "rf_share_pct",
    "lr_share_pct",
    "rr_share_pct",
    "lf_share_sd_pct",
    "rf_share_sd_pct",
    "lr_share_sd_pct",
    "rr_share_sd_pct",
    "lf_share_se_pct",
    "rf_share_se_pct",
    "lr_share_se_pct",
    "rr_share_se_pct",
    "front_lwr",
    "rear_lwr",
    "front_si_pct",
    "rear_si_pct",
    "front_share_pct",
    "standing_s",
    "shifts_per_min",
    "lifts_per_min",
    "front_shifts",
    "rear_shifts",
    "lf_lifts",
    "rf_lifts",
    "lr_lifts",
    "rr_lifts",
    "lf_contacts",
    "lf_peak_pct",
    "lf_contact_s",
    "lf_impulse_pct_s",
    "lf_step_s",
    "rf_contacts",
    "rf_peak_pct",
    "rf_contact_s",
    "rf_impulse_pct_s",
    "rf_step_s",
    "lr_contacts",
    "lr_peak_pct",
    "lr_contact_s",
    "lr_impulse_pct_s",
    "lr_step_s",
    "rr_contacts",
    "rr_peak_pct",
    "rr_contact_s",
    "rr_impulse_pct_s",
    "rr_step_s",
    "lane",
    "readings",
    "lost_readings",
    "evidence",
];

/// A field of the table; numbers keep every digit of the record, so that what is exported can be imported again.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Cell {
    /// Nothing known.
    Empty,
    /// Words.
    Text(String),
    /// A measure.
    Number(f32),
    /// A length of time, s.
    Seconds(f64),
    /// A count.
    Count(u32),
    /// A moment.
    #[serde(serialize_with = "milliseconds")]
    Time(Timestamp),
    /// A day.
    Day(Date),
    /// Yes or no.
    Yes(bool),
    /// A whole number.
    Long(i64),
    /// A number of 64 bits.
    Exact(f64),
}

fn milliseconds<S: serde::Serializer>(time: &Timestamp, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(&format_args!("{time:.3}"))
}

impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => Ok(()),
            Self::Text(text) => f.write_str(text),
            Self::Number(number) => write!(f, "{number}"),
            Self::Seconds(seconds) => write!(f, "{seconds}"),
            Self::Count(count) => write!(f, "{count}"),
            Self::Time(time) => write!(f, "{time:.3}"),
            Self::Day(day) => write!(f, "{day}"),
            Self::Yes(yes) => write!(f, "{yes}"),
            Self::Long(number) => write!(f, "{number}"),
            Self::Exact(number) => write!(f, "{number}"),
        }
    }
}

impl From<Option<f32>> for Cell {
    fn from(value: Option<f32>) -> Self {
        value.map_or(Self::Empty, Self::Number)
    }
}

/// The name of a kind.
#[must_use]
pub const fn kind_name(kind: PassageKind) -> &'static str {
    match kind {
        PassageKind::Stance => "stance",
        PassageKind::WalkThrough => "walk_through",
        PassageKind::Unclear => "unclear",
    }
}

/// `good`, `limited` or `unusable`.
#[must_use]
pub fn quality_name(quality: Quality) -> &'static str {
    match (quality.trusted(), quality.reasons().next()) {
        (true, None) => "good",
        (true, Some(_)) => "limited",
        (false, _) => "unusable",
    }
}

/// A row of the table, in the order of [`PASSAGE_COLUMNS`].
#[must_use]
#[allow(clippy::cast_precision_loss, reason = "a passage lasts minutes")]
pub fn passage_row(passage: &Passage, evidence: String) -> Vec<Cell> {
    let summary = &passage.summary;
    let standing = summary.standing.as_ref();
    let reasons: Vec<_> = summary.quality.reasons().map(|reason| reason.name()).collect();
    let text = |text: &str| if text.is_empty() { Cell::Empty } else { Cell::Text(text.to_owned()) };
    let count = |value: Option<u16>| value.map_or(Cell::Empty, |count| Cell::Count(count.into()));
    let mut row = vec![
        passage.animal.as_ref().map_or(Cell::Empty, |animal| text(&animal.0)),
        Cell::Time(passage.time),
        Cell::Seconds(summary.duration.0 as f64 / 1000.0),
        text(kind_name(summary.kind)),
        text(quality_name(summary.quality)),
        text(&reasons.join(";")),
        summary.body_weight.map(|weight| weight.value).into(),
        summary.body_weight.map(|weight| weight.se).into(),
    ];
    row.extend(Leg::ALL.map(|leg| standing.map(|standing| standing.share_pct[leg]).into()));
    row.extend(Leg::ALL.map(|leg| standing.map(|standing| standing.share_sd_pct[leg]).into()));
    row.extend(Leg::ALL.map(|leg| standing.map(|standing| standing.share_se_pct[leg]).into()));
    row.extend([Pair::Front, Pair::Rear].map(|pair| standing.and_then(|standing| standing.lwr(pair)).into()));
    row.extend(
        [Pair::Front, Pair::Rear].map(|pair| standing.and_then(|standing| standing.si_pct(pair)).into()),
    );
    row.push(standing.map(|standing| standing.front_pct()).into());
    row.push(standing.map(|standing| standing.seconds).into());
    row.push(standing.and_then(|standing| standing.shifts_per_min()).into());
    row.push(standing.and_then(|standing| standing.lifts_per_min()).into());
    row.push(count(standing.map(|standing| standing.front_shifts)));
    row.push(count(standing.map(|standing| standing.rear_shifts)));
    row.extend(Leg::ALL.map(|leg| count(standing.map(|standing| standing.lifts[leg]))));
    for leg in Leg::ALL {
        let contacts = &summary.walking[leg];
        let seen = |value: f32| Cell::from((contacts.count > 0).then_some(value));
        row.push(Cell::Count(contacts.count.into()));
        row.extend([seen(contacts.peak_pct), seen(contacts.stance_s), seen(contacts.impulse_pct_s)]);
        row.push(Cell::from((contacts.count > 0 && contacts.step_s > 0.0).then_some(contacts.step_s)));
    }
    row.extend([text(&passage.lane), Cell::Count(summary.readings), Cell::Count(summary.lost_readings)]);
    row.push(text(&evidence));
    row
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_has_every_column() {
        let passage = Passage {
            id: 1,
            lane: "lane".into(),
            time: "2026-01-31T06:00:00.25Z".parse().unwrap(),
            date: jiff::civil::date(2026, 1, 31),
            animal: None,
            summary: shared::analysis::PassageSummary {
                start: shared::units::Milliseconds(0),
                duration: shared::units::Milliseconds(4250),
                kind: PassageKind::Stance,
                quality: Quality::default(),
                readings: 3,
                lost_readings: 0,
                body_weight: None,
                standing: Some(shared::analysis::Standing::default()),
                walking: shared::plate::PerLeg::default(),
            },
        };
        let row = passage_row(&passage, "no tag".into());
        assert_eq!(row.len(), PASSAGE_COLUMNS.len());
        let cell =
            |name: &str| row[PASSAGE_COLUMNS.iter().position(|column| *column == name).unwrap()].to_string();
        assert_eq!(cell("time"), "2026-01-31T06:00:00.250Z");
        assert_eq!(cell("duration_s"), "4.25");
        assert_eq!(cell("quality"), "good");
        assert_eq!(cell("standing_s"), "0");
        assert_eq!(cell("lane"), "lane");
        assert_eq!(cell("evidence"), "no tag");
    }
}
