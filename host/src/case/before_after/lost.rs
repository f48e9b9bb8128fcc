//! A block lost is a sudden step while it should be on.

use crate::case::before_after::kalman::{CasePhase, Observation, StepResponse, filter};
use crate::case::before_after::model::{Prior, settings};

/// Step that a lost block makes in the load of its leg, % of usual: it gives back about the published effect (mean and
/// SD, our choice: what is much smaller cannot be told anyway).
const GIVEN_BACK: (f64, f64) = (7.0, 5.0);
/// Part of the steps that go the other way, for the sore claw carries again (our choice).
const OTHER_WAY: f64 = 0.2;
/// Chance that a block is lost between one passage and the next (our choice: about a third of blocks within three
/// weeks of two passages a day; blocks of light wood were mostly gone by day 11, Ranjbar 2021).
const CHANCE: f64 = 0.01;
/// Probability from which a block is called probably lost (our choice).
const PROBABLE: f64 = 0.5;
/// Half-times of recovery that are weighed, days (our choice; the wandering takes up what is between).
const HALF_TIMES: [f64; 2] = [8.0, 34.0];
/// A step must hold over this many passages (our choice).
const LEAST_PASSAGES: usize = 2;
/// Settled passages with the block on that are needed before a step can be told (our choice).
const LEAST_BEFORE: usize = 3;
/// A step is looked for in the latest passages only, so that slow change is not taken for one (our choice).
const LOOK_BACK: usize = 14;

/// A sudden step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SuddenStep {
    /// Day of the first observation after it, days since the treatment.
    pub day: f64,
    /// Probability that there was one within the latest passages.
    pub probability: f64,
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

/// The likeliest sudden step among the latest passages with the block on, if a block was probably lost. What speaks for
/// a step is averaged over all settings of the model, so that it is not explained away by a wandering that only the
/// step itself suggests.
#[must_use]
pub fn sudden_step(leg: &[Observation], other: &[Observation]) -> Option<SuddenStep> {
    let observations = contrast(leg, other);
    let blocked: Vec<usize> = (0..observations.len())
        .filter(|&i| observations[i].phase == CasePhase::After && observations[i].block != 0.0)
        .collect();
    if blocked.len() < LEAST_BEFORE + LEAST_PASSAGES || *blocked.last()? + 1 != observations.len() {
        return None;
    }
    let first = LEAST_BEFORE.max(blocked.len().saturating_sub(LOOK_BACK));
    let moments = &blocked[first..=blocked.len() - LEAST_PASSAGES];
    // By setting: its log likelihood without a step, and how much likelier each step makes what was seen.
    let weighed: Vec<(f64, Vec<f64>)> = HALF_TIMES
        .into_iter()
        .flat_map(|half_time| settings(&observations, Prior::default().block, half_time))
        .map(|parameters| {
            let mut responses = vec![StepResponse::default(); moments.len()];
            let plain = filter(&observations, &parameters, |index, _, update| {
                for (response, _) in responses.iter_mut().zip(moments).filter(|(_, from)| index >= **from) {
                    response.observe(update);
                }
            });
            (plain.log_likelihood, responses.iter().map(likelier).collect())
        })
        .collect();
    let best = weighed.iter().map(|s| s.0).fold(f64::NEG_INFINITY, f64::max);
    let weight: f64 = weighed.iter().map(|s| (s.0 - best).exp()).sum();
    let evidence: Vec<f64> = (0..moments.len())
        .map(|i| weighed.iter().map(|s| (s.0 - best).exp() * s.1[i]).sum::<f64>() / weight)
        .collect();
    let likeliest = (0..moments.len()).max_by(|a, b| evidence[*a].total_cmp(&evidence[*b]))?;
    let odds = CHANCE * evidence.iter().sum::<f64>();
    let step = SuddenStep { day: observations[moments[likeliest]].day, probability: odds / (1.0 + odds) };
    (step.probability > PROBABLE).then_some(step)
}

/// How much likelier a lost block makes what was seen than none, whichever way its step goes.
fn likelier(response: &StepResponse) -> f64 {
    let (mean, sd) = GIVEN_BACK;
    (1.0 - OTHER_WAY) * response.log_evidence(mean, sd).exp()
        + OTHER_WAY * response.log_evidence(-mean, sd).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_anything_seen_a_lost_block_is_as_likely_as_none() {
        // Four fifths of steps one way and a fifth the other, each as likely as none: 0.8 + 0.2.
        assert!((likelier(&StepResponse::default()) - 1.0).abs() < 1e-12);
    }
}
