//! From passages to the table of every cow and day. The model is described in `host/METHODS.md`.
//!
//! Everything but [`run`] is a pure function of its arguments; a day's row only rests on what was known by its end.

pub mod checksum;
pub mod course;
pub mod evidence;
pub mod kept;
pub mod model;
pub mod settings;
#[cfg(test)]
mod tests;

pub use course::history::HistoryDay;
pub use model::observer::ObserverCurve;
pub use settings::ScoreSettings;

use crate::record::{CowDay, FootWork, HerdEntry, LaneDay, MobilityScore, ObserverPrior, Passage};
use crate::store::{PassageFilter, Store, StoreError};

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
    pub link: (ObserverCurve, f64),
    /// How well each observer explains the farm's records, the prior taken out: the logarithm of the multiple of the
    /// published load at which half of the cows are scored 2 or more, and of its likelihood.
    pub observers: Vec<(f64, f64)>,
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
            link: (ObserverCurve::PRIOR, 0.5),
            observers: Vec::new(),
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
    course::engine::run(None, &course::engine::Inputs { passages, herd, scores, work }, settings, |_| {})
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
    let settings = of_farm(store, settings)?;
    let passages = store.passages(&PassageFilter { to: settings.until, ..PassageFilter::default() })?;
    Ok(run_on(&passages, &store.herd()?, &store.mobility_scores()?, &store.foot_work()?, &settings))
}

/// With what the farm has set.
fn of_farm(store: &Store, settings: &ScoreSettings) -> Result<ScoreSettings, StoreError> {
    let looks = store.setting("needless_looks")?.and_then(|looks| looks.parse().ok());
    Ok(ScoreSettings {
        zone: store.time_zone()?,
        needless_looks: looks.unwrap_or(settings::NEEDLESS_LOOKS),
        plates_settled: store.setting("plates_settled")?.and_then(|day| day.parse().ok()),
        observer: store
            .setting("model_prior")?
            .and_then(|text| ObserverPrior::from_text(&text))
            .unwrap_or_default(),
        ..settings.clone()
    })
}
