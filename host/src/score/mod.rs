//! From passages to the table of every cow and day. The model is described in `host/METHODS.md`.
//!
//! Everything but [`run`] is a pure function of its arguments; a day's row only rests on what was known by its end.

pub mod chain;
pub mod charts;
#[cfg(test)]
mod comparison;
mod cow;
mod engine;
pub mod features;
mod flag;
mod foot_work;
mod history;
pub mod hypotheses;
mod identity;
mod index;
pub mod kept;
mod lane;
pub mod level;
pub mod link;
mod model;
mod noise;
mod prior;
mod rates;
mod reasons;
pub mod settings;
#[cfg(test)]
pub(crate) mod simulate;
#[cfg(test)]
mod speed;
pub mod table;
#[cfg(test)]
mod tests;
mod track;

pub use history::HistoryDay;
pub use lane::{LaneCause, LaneDay};
pub use link::Link;
pub use settings::ScoreSettings;

use crate::record::{CowDay, FootWork, HerdEntry, MobilityScore, Passage};
use crate::store::{PassageFilter, Store, StoreError};
use jiff::{ToSpan, Unit, civil::Date};

/// All that a run gives.
#[derive(Clone, Debug)]
pub struct ScoreRun {
    /// The day table: by day, then by cow.
    pub days: Vec<CowDay>,
    /// The lanes' own errors, by day.
    pub lanes: Vec<LaneDay>,
    /// The smoothed history, by cow; empty unless asked for.
    pub history: Vec<HistoryDay>,
    /// What the farm's own scores have taught by the last day, and its weight (0 to 1) against the published prior.
    pub link: (Link, f64),
    /// Scores that rests on.
    pub scores_used: usize,
    /// Cows with lifted feet that rests on.
    pub feet_used: usize,
}

impl Default for ScoreRun {
    fn default() -> Self {
        Self {
            days: Vec::new(),
            lanes: Vec::new(),
            history: Vec::new(),
            link: (Link::PRIOR, 0.5),
            scores_used: 0,
            feet_used: 0,
        }
    }
}

/// Scores every cow on every day from the first passage on.
#[must_use]
pub fn run_on(
    passages: &[Passage],
    herd: &[HerdEntry],
    scores: &[MobilityScore],
    work: &[FootWork],
    settings: &ScoreSettings,
) -> ScoreRun {
    engine::run(None, &engine::Inputs { passages, herd, scores, work }, settings, |_| {})
}

/// The day table alone.
#[must_use]
pub fn days(
    passages: &[Passage],
    herd: &[HerdEntry],
    scores: &[MobilityScore],
    work: &[FootWork],
    settings: &ScoreSettings,
) -> Vec<CowDay> {
    run_on(passages, herd, scores, work, settings).days
}

/// Scores all that a store holds.
///
/// # Errors
/// When the store cannot be read.
pub fn run(store: &Store, settings: &ScoreSettings) -> Result<ScoreRun, StoreError> {
    let settings = ScoreSettings { zone: store.time_zone()?, ..settings.clone() };
    let passages = store.passages(&PassageFilter { to: settings.until, ..PassageFilter::default() })?;
    Ok(run_on(&passages, &store.herd()?, &store.mobility_scores()?, &store.foot_work()?, &settings))
}

const EPOCH: Date = jiff::civil::date(1970, 1, 1);

pub(crate) fn day_number(date: Date) -> i64 {
    EPOCH.until((Unit::Day, date)).map_or(0, |span| i64::from(span.get_days()))
}

pub(crate) fn date_of_number(day: i64) -> Date {
    EPOCH.saturating_add(day.days())
}
