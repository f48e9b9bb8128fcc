//! The columns of the passage table, with units and meaning.

use super::parquet::{Column, Kind};
use crate::record::Passage;
use crate::record::passage_table::{Cell, PASSAGE_COLUMNS, passage_row};

/// The store's own number of a passage, then the columns of the passage table.
#[must_use]
pub fn columns() -> Vec<Column> {
    let key = Column::new("passage", Kind::Long, "", "the farm's own number of this passage: the key");
    std::iter::once(key).chain(PASSAGE_COLUMNS.into_iter().map(column)).collect()
}

/// A passage and how it is known who it was, as a row of [`columns`].
#[must_use]
pub fn keyed_row((passage, evidence): (Passage, String)) -> Vec<Cell> {
    std::iter::once(Cell::Long(passage.id)).chain(passage_row(&passage, evidence)).collect()
}

fn column(name: &'static str) -> Column {
    let of_leg = ["lf_", "rf_", "lr_", "rr_", "front_", "rear_"].into_iter();
    let place = of_leg.clone().find_map(|place| name.strip_prefix(place)).unwrap_or(name);
    let (kind, unit, about) = match place {
        "animal_id" => (
            Kind::Text,
            "",
            "who it was: 15 digits after ISO 11784, or the farm's own number; empty: not known",
        ),
        "time" => (Kind::Time, "UTC", "first foot on"),
        "duration_s" => (Kind::Number, "s", "first foot on to last foot off"),
        "kind" => (Kind::Text, "", "stance, walk_through or unclear"),
        "quality" => (Kind::Text, "", "good, limited or unusable; unusable ones are never scored"),
        "quality_reasons" => (Kind::Text, "", "what limits its use, parted by ;"),
        "body_weight_kg" => (Kind::Measure, "kg", "body weight; not legal for trade"),
        "body_weight_se_kg" => (Kind::Measure, "kg", "its standard error"),
        "share_pct" => {
            (Kind::Measure, "% of body weight", "mean load in the stances, of the leg or the pair")
        }
        "share_sd_pct" => (Kind::Measure, "percentage points", "SD of the leg share over the stance"),
        "share_se_pct" => (Kind::Measure, "percentage points", "standard error of the mean leg share"),
        "lwr" => (Kind::Measure, "0..1", "leg weight ratio: lighter by heavier leg of the pair"),
        "si_pct" => (Kind::Measure, "%", "symmetry index: 100 (R-L) / (0.5 (R+L))"),
        "standing_s" => (Kind::Measure, "s", "time stood"),
        "shifts_per_min" => (Kind::Measure, "a minute", "weight shifts of both pairs"),
        "lifts_per_min" => (Kind::Measure, "a minute", "leg lifts of all legs"),
        "shifts" => (Kind::Count, "", "weight shifts within the pair"),
        "lifts" => (Kind::Count, "", "leg lifts"),
        "contacts" => (Kind::Count, "", "whole contacts while walking"),
        "peak_pct" => (Kind::Measure, "% of body weight", "peak vertical force, mean of the contacts"),
        "contact_s" => (Kind::Measure, "s", "foot on to foot off, mean of the contacts"),
        "impulse_pct_s" => (Kind::Measure, "% of body weight x s", "vertical impulse, mean of the contacts"),
        "step_s" => (Kind::Measure, "s", "from the landing of the other leg of the pair to this one's"),
        "lane" => (Kind::Text, "", "the lane"),
        "readings" => (Kind::Count, "", "readings taken"),
        "lost_readings" => (Kind::Count, "", "readings missing, as the rate would have them"),
        "evidence" => (Kind::Text, "", "how it is known who it was"),
        other => unreachable!("the passage table has no column {other}"),
    };
    Column::new(name, kind, unit, about)
}
