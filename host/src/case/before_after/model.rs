//! Fits the before-and-after model of one leg: the filter, averaged over what it takes as known.

use crate::arithmetic::statistics::{Estimated, Z95};
use crate::case::before_after::kalman::{
    Belief, CasePhase, LoadKind, Observation, Parameters, filter, state,
};

/// Prior SD of a leg's load deviation when she is lame, % of her usual load (our choice; a fully lifted leg is 100).
const ONSET_SD: f64 = 25.0;
/// Prior SD of the step that the treatment itself makes, % (our choice: at once, more than a fifth is rare).
const JUMP_SD: f64 = 10.0;
/// Prior SD of a sound cow's leg load about an even one, %. Source: difference of 8.52 +/- 6.19 points between
/// limbs of sound cows (Pluss 2021), so 10.5 points root mean square of the symmetry index, half of it on each leg.
pub const EVEN_SD: f64 = 5.3;
/// Half-times weighed against each other, days (our choice).
const HALF_TIMES: [f64; 8] = [3.0, 5.0, 8.0, 13.0, 21.0, 34.0, 70.0, f64::INFINITY];
/// Prior of the half-time: median in days and SD of its logarithm (our choice; learned from the farm where it can be).
pub const USUAL_HALF_TIME: (f64, f64) = (14.0, 0.5);
/// Prior of the half-time in the fit: wide, so that the course is told by the data and never by what is usual
/// (our choice): median in days and SD of its logarithm.
const WIDE_HALF_TIME: (f64, f64) = (14.0, 1.5);
/// The half-time that stands for "does not get better", days.
const NEVER: f64 = 200.0;
/// Noise weighed: times the first guess.
const NOISE: [f64; 3] = [0.85, 1.1, 1.5];
/// Part of the noise that a cow-day shares, and its correlation with the next day's. Source of 0.21: Alawneh 2011 (lag
/// 1 of daily weights, gone by 8 days); 0.7 lets days hang together for a week (our choice).
const DAYS: [(f64, f64); 5] = [(0.05, 0.21), (0.3, 0.21), (0.6, 0.21), (0.3, 0.7), (0.6, 0.7)];
/// Wandering weighed: noise SDs per square root of a day. The largest follows a leg that goes lame overnight.
const WALKS: [f64; 4] = [0.02, 0.15, 0.6, 2.5];
/// Slow swings of her usual load weighed: SD, %, and the time in which it is forgotten, days. None, or one that hardly comes
/// back within a case, alike beforehand (our choice, on simulated cases of the seed for setting constants: the interval
/// then holds under a habit that keeps, swings or walks away).
const SWINGS: [(f64, f64); 2] = [(0.0, 1.0), (4.0, 60.0)];
/// Parameter sets with less than this part of the best one's weight are left out.
const NEGLIGIBLE: f64 = 0.02;
/// Least noise SD that is believed, % (our choice: half a point of share on a quarter of the cow).
const LEAST_NOISE: f64 = 1.0;
/// Noise SD taken where nothing can be told of it, % (our choice).
const UNKNOWN_NOISE: f64 = 8.0;
/// Mean and SD of something that is taken as normal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Normal {
    /// Mean.
    pub mean: f64,
    /// SD.
    pub sd: f64,
}

impl Normal {
    /// Its 95 % interval.
    #[must_use]
    pub fn interval(self) -> Estimated {
        Estimated { value: self.mean, low: self.mean - Z95 * self.sd, high: self.mean + Z95 * self.sd }
    }

    /// Probability of a value below `limit`.
    #[must_use]
    pub fn below(self, limit: f64) -> f64 {
        if self.sd <= 0.0 {
            return f64::from(self.mean < limit);
        }
        0.5 * libm::erfc((self.mean - limit) / (self.sd * std::f64::consts::SQRT_2))
    }
}

/// The fitted model of one leg.
#[derive(Clone, Debug)]
pub struct Fit {
    parts: Vec<(f64, Parameters, Belief)>,
    /// SD of a single observation about the level, %: standing, walking.
    pub noise_sd: [f64; 2],
}

/// What is known before the data: the block's effect and the usual half-time.
#[derive(Clone, Copy, Debug)]
pub struct Prior {
    /// Effect of a block on the load of the leg it is under, % less; the other leg of the pair gains as much.
    pub block: Normal,
    /// Usual half-time of recovery: median in days, SD of its logarithm. For the verdict, not for the fit.
    pub half_time: (f64, f64),
    /// Own cases of the farm behind the usual half-time.
    pub own_cases: usize,
    /// Whether these had the same lesion.
    pub own_lesion: bool,
}

impl Default for Prior {
    fn default() -> Self {
        Self {
            block: crate::case::before_after::learn::PUBLISHED_BLOCK,
            half_time: USUAL_HALF_TIME,
            own_cases: 0,
            own_lesion: false,
        }
    }
}

impl Fit {
    /// Fits observations in order of time. `None` without any after the treatment.
    #[must_use]
    pub fn new(observations: &[Observation], prior: &Prior) -> Option<Self> {
        Self::over(observations, prior, WIDE_HALF_TIME, &HALF_TIMES)
    }

    /// As [`Fit::new`], but with a level that stays where the treatment put it: for a plain change.
    #[must_use]
    pub fn level(observations: &[Observation]) -> Option<Self> {
        Self::over(observations, &Prior::default(), (NEVER, 1.0), &[f64::INFINITY])
    }

    fn over(
        observations: &[Observation],
        prior: &Prior,
        wide: (f64, f64),
        half_times: &[f64],
    ) -> Option<Self> {
        observations.iter().find(|o| o.phase == CasePhase::After)?;
        let middle = if wide.0 < NEVER { wide.0 } else { f64::INFINITY };
        let run = |p: Parameters| (p, filter(observations, &p, |_, _, _| {}));
        let first: Vec<(Parameters, Belief)> = settings(observations, prior.block, middle).map(run).collect();
        let best = first.iter().map(|(_, b)| b.log_likelihood).fold(f64::NEG_INFINITY, f64::max);
        let mut parts: Vec<(f64, Parameters, Belief)> = Vec::new();
        for (p, _) in first.iter().filter(|(_, b)| (b.log_likelihood - best).exp() > NEGLIGIBLE) {
            for &half_time in half_times {
                let (p, belief) = run(Parameters { half_time, ..*p });
                parts.push((belief.log_likelihood + log_prior(half_time, wide), p, belief));
            }
        }
        let top = parts.iter().map(|part| part.0).fold(f64::NEG_INFINITY, f64::max);
        for part in &mut parts {
            part.0 = (part.0 - top).exp();
        }
        parts.retain(|part| part.0 > NEGLIGIBLE / 10.0);
        let total: f64 = parts.iter().map(|part| part.0).sum();
        for part in &mut parts {
            part.0 /= total;
        }
        let noise_sd =
            [0, 1].map(|kind| parts.iter().map(|(w, p, _)| w * p.noise_sd[kind].powi(2)).sum::<f64>().sqrt());
        Some(Self { parts, noise_sd })
    }

    /// A weighted sum of states, averaged over the parameter sets.
    #[must_use]
    pub fn sum(&self, weights: &[(usize, f64)]) -> Normal {
        let sums: Vec<(f64, f64, f64)> = self
            .parts
            .iter()
            .map(|(w, _, belief)| {
                let (mean, variance) = belief.sum(weights);
                (*w, mean, variance)
            })
            .collect();
        let mean: f64 = sums.iter().map(|(w, m, _)| w * m).sum();
        let variance: f64 = sums.iter().map(|(w, m, v)| w * (v + (m - mean).powi(2))).sum();
        Normal { mean, sd: variance.sqrt() }
    }

    /// Change of the mean from the window before to the window after, the block's own effect taken out, %.
    #[must_use]
    pub fn change(&self) -> Normal {
        self.sum(&[(state::AFTER, 1.0), (state::BEFORE, -1.0)])
    }

    /// Change as measured, the block's own effect left in, %. `block` is how much of it acts after less before.
    #[must_use]
    pub fn change_as_measured(&self, block: f64) -> Normal {
        self.sum(&[(state::AFTER, 1.0), (state::BEFORE, -1.0), (state::BLOCK, block)])
    }

    /// Deviation from her baseline now, the block's own effect taken out, %.
    #[must_use]
    pub fn now(&self) -> Normal {
        self.sum(&[(state::DEVIATION, 1.0)])
    }

    /// Deviation from her baseline just before the treatment, %.
    #[must_use]
    pub fn at_treatment(&self) -> Normal {
        self.sum(&[(state::AT_TREATMENT, 1.0)])
    }

    /// The block's effect, % of her usual load.
    #[must_use]
    pub fn block(&self) -> Normal {
        self.sum(&[(state::BLOCK, 1.0)])
    }

    /// Half-time of recovery, days: median and 95 % interval; the upper end is infinite where no end can be told.
    #[must_use]
    pub fn half_time(&self) -> Estimated {
        let weight = |h: f64| self.parts.iter().filter(|p| p.1.half_time == h).map(|p| p.0).sum::<f64>();
        // Each half-time stands for the stretch around it, so the quantiles fall between them on the logarithm.
        let logs: Vec<f64> = HALF_TIMES.iter().map(|h| h.min(NEVER).ln()).collect();
        let edge = |i: usize| match i {
            0 => logs[0] - 0.5 * (logs[1] - logs[0]),
            i if i == logs.len() => logs[i - 1],
            i => 0.5 * (logs[i - 1] + logs[i]),
        };
        let quantile = |part: f64| {
            let mut sum = 0.0;
            for (i, h) in HALF_TIMES.iter().enumerate() {
                let w = weight(*h);
                if sum + w >= part && w > 0.0 {
                    if h.is_infinite() {
                        return f64::INFINITY;
                    }
                    return (edge(i) + (part - sum) / w * (edge(i + 1) - edge(i))).exp();
                }
                sum += w;
            }
            f64::INFINITY
        };
        Estimated { value: quantile(0.5), low: quantile(0.025), high: quantile(0.975) }
    }

    /// Smallest change of a window's mean that could be told from none, %: 1.96 x the standard error of the
    /// difference of two means of that many passages, were nothing to change.
    #[must_use]
    pub fn least_telling(&self, observations: &[Observation]) -> f64 {
        let p = self.best();
        let mean_variance = |phase| {
            let days: Vec<(f64, f64)> = observations
                .iter()
                .filter(|o| o.phase == phase)
                .map(|o| (o.day, p.noise_sd[o.kind as usize].powi(2)))
                .collect();
            let n = days.len().max(1) as f64;
            let own: f64 = days.iter().map(|d| (1.0 - p.day_part) * d.1).sum();
            let shared: f64 = days
                .iter()
                .flat_map(|a| days.iter().map(move |b| (a, b)))
                .map(|(a, b)| p.day_part * (a.1 * b.1).sqrt() * p.day_correlation.powf((a.0 - b.0).abs()))
                .sum();
            (own + shared) / (n * n)
        };
        Z95 * (mean_variance(CasePhase::Before) + mean_variance(CasePhase::After)).sqrt()
    }

    /// The best single parameter set.
    #[must_use]
    pub fn best(&self) -> Parameters {
        self.parts.iter().max_by(|a, b| a.0.total_cmp(&b.0)).map(|part| part.1).expect("a fit has parts")
    }
}

/// Every setting of the model that is weighed, with one half-time.
pub fn settings(
    observations: &[Observation],
    block: Normal,
    half_time: f64,
) -> impl Iterator<Item = Parameters> + use<> {
    let (noise, known) = (guess_noise(observations), mean_variance(observations));
    let of_walk = noise[usize::from(!has(observations, LoadKind::Standing))];
    let set = move |factor: f64,
                    (day_part, day_correlation),
                    walk: f64,
                    (swing_sd, swing_days): (f64, f64)| Parameters {
        noise_sd: noise.map(|sd| sd * factor),
        known_variance: known,
        day_part,
        walk_sd: walk * factor * of_walk,
        half_time,
        onset_sd: ONSET_SD,
        jump_sd: JUMP_SD,
        baseline_sd: EVEN_SD,
        block: (block.mean, block.sd),
        day_correlation,
        swing_sd,
        swing_days,
    };
    NOISE.into_iter().flat_map(move |factor| {
        DAYS.into_iter().flat_map(move |day| {
            SWINGS
                .into_iter()
                .flat_map(move |swing| WALKS.into_iter().map(move |walk| set(factor, day, walk, swing)))
        })
    })
}

fn log_prior(half_time: f64, (median, sd): (f64, f64)) -> f64 {
    -0.5 * ((half_time.min(NEVER) / median).ln() / sd).powi(2)
}

fn has(observations: &[Observation], kind: LoadKind) -> bool {
    observations.iter().any(|o| o.kind == kind)
}

fn mean_variance(observations: &[Observation]) -> [f64; 2] {
    [LoadKind::Standing, LoadKind::Walking].map(|kind| {
        let known: Vec<f64> =
            observations.iter().filter(|o| o.kind == kind && o.variance > 0.0).map(|o| o.variance).collect();
        known.iter().sum::<f64>() / known.len().max(1) as f64
    })
}

/// SD from differences of neighbours, which trends and steps hardly touch: median absolute difference.
fn guess_noise(observations: &[Observation]) -> [f64; 2] {
    [LoadKind::Standing, LoadKind::Walking].map(|kind| {
        let of_kind: Vec<&Observation> = observations.iter().filter(|o| o.kind == kind).collect();
        let mut steps: Vec<f64> = of_kind
            .windows(2)
            .filter(|pair| pair[0].phase == pair[1].phase && pair[0].block == pair[1].block)
            .map(|pair| {
                let size = (pair[1].value - pair[0].value).abs();
                size / (1.0 / pair[0].count.max(1.0) + 1.0 / pair[1].count.max(1.0)).sqrt()
            })
            .collect();
        if steps.len() < 3 {
            return UNKNOWN_NOISE;
        }
        steps.sort_by(f64::total_cmp);
        (1.4826 * steps[steps.len() / 2]).max(LEAST_NOISE)
    })
}

#[cfg(test)]
impl Fit {
    /// A fit that is given: half-times and beliefs, each with its weight.
    pub(super) fn given(parts: &[(f64, f64, Belief)]) -> Self {
        let part = |&(weight, half_time, belief): &(f64, f64, Belief)| {
            let parameters = settings(&[], Prior::default().block, half_time).next().expect("a setting");
            (weight, parameters, belief)
        };
        Self { parts: parts.iter().map(part).collect(), noise_sd: [UNKNOWN_NOISE; 2] }
    }
}

#[cfg(test)]
pub(in crate::case::before_after) mod tests;
