//! A block lost is a sudden step while it should be on.

use super::kalman::{Observation, Phase, filter};
use super::model::{Fit, Prior};

/// Prior SD of the step a lost block makes, % of a leg's usual load (our choice, about twice the published effect).
const STEP_SD: f64 = 12.0;
/// How much likelier a step must make what was seen than none (our choice: set so that at most 2 % of looks at blocks
/// that stayed on call them lost, on simulated cases; measured by the test `case::figures`).
pub const EVIDENCE: f64 = 10.0;
/// A step must hold over this many passages (our choice).
const LEAST_PASSAGES: usize = 2;
/// Settled passages with the block on that are needed before a step can be told (our choice).
const LEAST_BEFORE: usize = 3;
/// A step is looked for in the latest passages only, so that slow change is not taken for one (our choice).
const LOOK_BACK: usize = 14;

/// A sudden step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Day of the first observation after it, days since the treatment.
    pub day: f64,
    /// Its size, % of the leg's usual load.
    pub size: f64,
    /// How much likelier it makes what was seen.
    pub evidence: f64,
}

/// Half the difference between a leg and the other of its pair, where both were measured: a block moves load from one
/// to the other, and what both share is no noise of the difference.
#[must_use]
pub fn contrast(leg: &[Observation], other: &[Observation]) -> Vec<Observation> {
    let same = |o: &Observation| other.iter().find(|p| p.day == o.day && p.kind == o.kind);
    leg.iter()
        .filter_map(|o| {
            same(o).map(|p| Observation {
                value: 0.5 * (o.value - p.value),
                variance: 0.25 * (o.variance + p.variance),
                ..*o
            })
        })
        .collect()
}

/// The likeliest sudden step among the latest passages with the block on, if the evidence is strong.
#[must_use]
pub fn sudden_step(leg: &[Observation], other: &[Observation]) -> Option<Step> {
    let observations = contrast(leg, other);
    let blocked: Vec<usize> = (0..observations.len())
        .filter(|&i| observations[i].phase == Phase::After && observations[i].block != 0.0)
        .collect();
    if blocked.len() < LEAST_BEFORE + LEAST_PASSAGES || *blocked.last()? + 1 != observations.len() {
        return None;
    }
    let parameters = Fit::new(&observations, &Prior::default())?.best();
    let plain = filter(&observations, &parameters, None, |_, _| {}).log_likelihood;
    let first = LEAST_BEFORE.max(blocked.len().saturating_sub(LOOK_BACK));
    blocked[first..=blocked.len() - LEAST_PASSAGES]
        .iter()
        .map(|&from| {
            let belief = filter(&observations, &parameters, Some((from, STEP_SD)), |_, _| {});
            Step {
                day: observations[from].day,
                size: belief.mean[super::kalman::state::STEP],
                evidence: (belief.log_likelihood - plain).exp(),
            }
        })
        .max_by(|a, b| a.evidence.total_cmp(&b.evidence))
        .filter(|step| step.evidence > EVIDENCE)
}
