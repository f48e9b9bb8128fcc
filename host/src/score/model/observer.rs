//! From the model's probability to one that holds on this farm: learned from its own mobility scores, and from what was
//! found in lifted feet.

use crate::record::ObserverPrior;
use crate::score::model::hypotheses::LEVELS;
use crate::score::settings::{
    HALF_SCORED_POINTS, HALF_SCORED_WIDTH, LESION_FOUND, LEVEL_POINTS, SOUND_SCORED,
};

/// SD of the intercept about 0 and of the slope about 1 before the farm has scored. Our choice: a factor of 2.7 of the
/// odds, and a third of the steepness.
const PRIOR_SD: [f64; 2] = [1.0, 0.5];
/// Newton steps; it converges in a few.
const STEPS: usize = 25;

/// Probability = logistic(intercept + slope x logit(model)).
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ObserverCurve {
    /// Intercept.
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
}

impl ObserverCurve {
    /// The published figures as they are.
    pub const PRIOR: Self = Self { intercept: 0.0, slope: 1.0 };

    /// The probability that holds here.
    #[must_use]
    pub fn apply(&self, probability: f64) -> f64 {
        logistic(self.intercept + self.slope * logit(probability))
    }
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

fn logit(probability: f64) -> f64 {
    let p = probability.clamp(1e-6, 1.0 - 1e-6);
    (p / (1.0 - p)).ln()
}

fn log_loss(probability: f64, seen: bool) -> f64 {
    -if seen { probability.max(1e-12).ln() } else { (1.0 - probability).max(1e-12).ln() }
}

/// Log loss of a link and what the prior takes it for.
fn penalised(x: &[f64], seen: &[bool], at: [f64; 2], mean: [f64; 2], sd: [f64; 2]) -> f64 {
    let prior: f64 = (0..2).map(|i| 0.5 * ((at[i] - mean[i]) / sd[i]).powi(2)).sum();
    let loss = x.iter().zip(seen).map(|(&x, &seen)| {
        let log_odds = at[0] + at[1] * x;
        let away = if seen { -log_odds } else { log_odds };
        away.max(0.0) + (-away.abs()).exp().ln_1p()
    });
    prior + loss.sum::<f64>()
}

/// Ridge-penalised logistic regression on logits `x`: the posterior mode under the normal prior `mean`, `sd`.
#[must_use]
pub fn fit(x: &[f64], seen: &[bool], mean: [f64; 2], sd: [f64; 2]) -> ObserverCurve {
    let mut at = mean;
    for _ in 0..STEPS {
        let ridge = sd.map(|s| 1.0 / (s * s));
        let mut gradient = [ridge[0] * (mean[0] - at[0]), ridge[1] * (mean[1] - at[1])];
        let mut curve = [ridge[0], 0.0, ridge[1]];
        for (&x, &seen) in x.iter().zip(seen) {
            let p = logistic(at[0] + at[1] * x);
            let rest = f64::from(u8::from(seen)) - p;
            let weight = p * (1.0 - p);
            gradient[0] += rest;
            gradient[1] += rest * x;
            curve[0] += weight;
            curve[1] += weight * x;
            curve[2] += weight * x * x;
        }
        let determinant = curve[0] * curve[2] - curve[1] * curve[1];
        let step = [
            (curve[2] * gradient[0] - curve[1] * gradient[1]) / determinant,
            (curve[0] * gradient[1] - curve[1] * gradient[0]) / determinant,
        ];
        // A full step can overshoot where lame and sound lie far apart: it is halved until it is no step back.
        let before = penalised(x, seen, at, mean, sd);
        let halves = (0..STEPS as i32).map(|n| 0.5f64.powi(n));
        let next = |part: f64| [at[0] + part * step[0], at[1] + part * step[1]];
        let Some(part) = halves.into_iter().find(|&part| penalised(x, seen, next(part), mean, sd) <= before)
        else {
            break;
        };
        at = next(part);
        if part * (step[0].abs() + step[1].abs()) < 1e-10 {
            break;
        }
    }
    ObserverCurve { intercept: at[0], slope: at[1] }
}

/// Probability of being sound, then of each severity level.
pub type Levels = [f64; LEVELS + 1];

/// Points at which half of the cows are scored 2 or more, as multiples of the published middle, and widths of that
/// transition: a farm's observer, and what her loads show, lie somewhere on this grid.
const HALVES: [f64; 9] = [0.4, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.2, 3.0];
const WIDTHS: [f64; 3] = [0.15, 0.30, 0.50];
/// Weight of a score, and of a lifted foot: those of one cow are not independent. Our choice.
const SCORE_WEIGHT: f64 = 0.5;
/// Ways of recording: how often a lesion is written down in cows scored below 2, and 2 or more, and how likely such a
/// farm is before it has recorded. The published way; nearly everything found; only the worst; by no rule at all. All
/// but the first are our choice. A wild recorder is then taken for one, and not for news of the cows.
const RECORDERS: [([f64; 2], f64); 4] =
    [(LESION_FOUND, 0.7), ([0.60, 0.85], 0.1), ([0.02, 0.35], 0.1), ([0.50, 0.50], 0.1)];

/// One observer who may score here, and one way of recording.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
struct Guess {
    /// Chance of a score of 2 or more, when sound and at each level.
    observer: Levels,
    recorder: [f64; 2],
    log: f64,
}

/// Learns from the farm's scores and lifted feet as they come in, and never bets on that more than it has earned.
///
/// First it weighs a grid of observers, and of ways to record a lesion, by how well each explains what was scored and
/// found (Bayes); a logistic link on top takes out what is left of the scores. This farm's way and the published one
/// both predict every score before it is learned from; the probability is their average, weighted by how well each has
/// done. Its total log loss over the scores then exceeds the published one's by at most ln 2, whatever the scores are and
/// whatever was recorded of the feet; without scores, both ways count half.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct Learner {
    x: Vec<f64>,
    seen: Vec<bool>,
    feet: usize,
    farm: ObserverCurve,
    loss: [f64; 2],
    grid: Vec<Guess>,
    /// The observers together, each by its weight.
    mean: Levels,
    /// Chance of a score of 2 or more by the observer expected before the farm has scored.
    expected: Levels,
}

fn observer(half: f64, width: f64) -> Levels {
    std::array::from_fn(|i| match i.checked_sub(1) {
        None => SOUND_SCORED,
        Some(level) => logistic((LEVEL_POINTS[level].ln() - half.ln()) / width),
    })
}

fn scored(levels: &Levels, observer: &Levels) -> f64 {
    levels.iter().zip(observer).map(|(a, b)| a * b).sum()
}

impl Default for Learner {
    fn default() -> Self {
        Self::new(ObserverPrior::default())
    }
}

impl Learner {
    /// Before the farm has scored.
    #[must_use]
    pub fn new(prior: ObserverPrior) -> Self {
        let observers =
            HALVES.into_iter().flat_map(|half| WIDTHS.into_iter().map(move |width| (half, width)));
        let grid = observers
            .flat_map(|(half, width)| {
                RECORDERS.map(|(recorder, likely)| Guess {
                    observer: observer(half * HALF_SCORED_POINTS, width),
                    recorder,
                    log: likely.ln() - 0.5 * ((half.ln() - prior.mean) / prior.sd).powi(2),
                })
            })
            .collect();
        let mut new = Self {
            x: Vec::new(),
            seen: Vec::new(),
            feet: 0,
            farm: ObserverCurve::PRIOR,
            loss: [0.0; 2],
            grid,
            mean: [0.0; LEVELS + 1],
            expected: observer(HALF_SCORED_POINTS * prior.mean.exp(), HALF_SCORED_WIDTH),
        };
        new.weigh();
        new
    }

    /// The probability by the published way, or that of other farms where the farm took it.
    fn published(&self, levels: &Levels) -> f64 {
        scored(levels, &self.expected)
    }

    /// How well each multiple of the published load explains the farm's records, the prior taken out: the logarithm of
    /// the multiple, and of its likelihood.
    #[must_use]
    pub fn evidence(&self, prior: ObserverPrior) -> Vec<(f64, f64)> {
        let best = self.grid.iter().map(|guess| guess.log).fold(f64::NEG_INFINITY, f64::max);
        let of_half = self.grid.chunks(WIDTHS.len() * RECORDERS.len()).zip(HALVES);
        of_half
            .map(|(guesses, half)| {
                let sum: f64 = guesses.iter().map(|guess| (guess.log - best).exp()).sum();
                (half.ln(), best + sum.ln() + 0.5 * ((half.ln() - prior.mean) / prior.sd).powi(2))
            })
            .collect()
    }

    /// The farm's way, before the logistic link.
    fn here(&self, levels: &Levels) -> f64 {
        scored(levels, &self.mean)
    }

    fn weigh(&mut self) {
        let best = self.grid.iter().map(|guess| guess.log).fold(f64::NEG_INFINITY, f64::max);
        let weight = |guess: &Guess| (guess.log - best).exp();
        let whole: f64 = self.grid.iter().map(weight).sum();
        self.mean = std::array::from_fn(|level| {
            self.grid.iter().map(|guess| weight(guess) * guess.observer[level]).sum::<f64>() / whole
        });
    }

    /// A score of the farm, and what the model said of that cow by that day.
    pub fn see(&mut self, levels: &Levels, two: bool) {
        let here = self.here(levels);
        self.loss[0] += log_loss(self.published(levels), two);
        self.loss[1] += log_loss(self.farm.apply(here), two);
        for guess in &mut self.grid {
            guess.log -= SCORE_WEIGHT * log_loss(scored(levels, &guess.observer), two);
        }
        self.weigh();
        self.x.push(logit(here));
        self.seen.push(two);
    }

    /// What was found in her lifted feet, and what the model said of her before.
    pub fn see_feet(&mut self, levels: &Levels, lesion: bool) {
        for guess in &mut self.grid {
            let lame = scored(levels, &guess.observer);
            let [sound_found, lame_found] = guess.recorder;
            let found = lame * lame_found + (1.0 - lame) * sound_found;
            guess.log -= SCORE_WEIGHT * log_loss(found, lesion);
        }
        self.weigh();
        self.feet += 1;
    }

    /// Refits after the scores of a day.
    pub fn refit(&mut self) {
        self.farm = fit(&self.x, &self.seen, [0.0, 1.0], PRIOR_SD);
        // A link that turns the order round would be nonsense.
        self.farm.slope = self.farm.slope.max(0.1);
    }

    /// How many scores it rests on.
    #[must_use]
    pub fn scores(&self) -> usize {
        self.x.len()
    }

    /// How many cows with lifted feet it rests on.
    #[must_use]
    pub const fn feet(&self) -> usize {
        self.feet
    }

    /// The farm's link and its weight against the published way.
    #[must_use]
    pub fn farm(&self) -> (ObserverCurve, f64) {
        (self.farm, logistic(self.loss[0] - self.loss[1]))
    }

    /// The probability that holds here.
    #[must_use]
    pub fn apply(&self, levels: &Levels) -> f64 {
        let (farm, weight) = self.farm();
        let published = self.published(levels);
        if self.x.is_empty() && self.feet == 0 {
            return published;
        }
        weight * farm.apply(self.here(levels)) + (1.0 - weight) * published
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(serde::Deserialize)]
    struct Oracle {
        x: Vec<f64>,
        seen: Vec<bool>,
        sd: f64,
        intercept: f64,
        slope: f64,
    }

    // Source: tests/oracles/logistic.py, scikit-learn's LogisticRegression with the same ridge on the same points.
    #[test]
    fn fit_is_that_of_scikit_learn() {
        let oracle: Oracle =
            serde_json::from_str(include_str!("../../../../tests/oracles/logistic.json")).unwrap();
        let link = fit(&oracle.x, &oracle.seen, [0.0, 0.0], [1e6, oracle.sd]);
        assert!((link.intercept - oracle.intercept).abs() < 1e-4, "{link:?}");
        assert!((link.slope - oracle.slope).abs() < 1e-4, "{link:?}");
    }

    // Scores that contradict the model with certainty: a plain Newton step from the prior goes off without end.
    #[test]
    fn fit_settles_on_wild_scores() {
        let x: Vec<f64> = (0..200).map(|i| if i % 2 == 0 { 13.8 } else { -13.8 }).collect();
        let seen: Vec<bool> = (0..200).map(|i| (i % 2 == 1) != (i % 50 == 0)).collect();
        let link = fit(&x, &seen, [0.0, 1.0], PRIOR_SD);
        let at =
            |link: ObserverCurve| penalised(&x, &seen, [link.intercept, link.slope], [0.0, 1.0], PRIOR_SD);
        let found = at(link);
        for (a, b) in [(0.01, 0.0), (-0.01, 0.0), (0.0, 0.01), (0.0, -0.01)] {
            assert!(
                at(ObserverCurve { intercept: link.intercept + a, slope: link.slope + b }) > found,
                "{link:?}"
            );
        }
    }

    /// Cows of every kind: sound, or lame at some level, with what the model is unsure of.
    fn cow(i: u32) -> (Levels, usize) {
        let level = (i * 37 % 6) as usize;
        let mut levels = [0.02; LEVELS + 1];
        levels[level] = 1.0 - 0.02 * LEVELS as f64;
        (levels, level)
    }

    #[test]
    fn never_worse_than_the_published_way_by_more_than_ln_2() {
        // The farm's scores first say one thing, then the opposite: the worst for a learner.
        let mut learner = Learner::default();
        let (mut prior, mut mixed) = (0.0, 0.0);
        for i in 0..400u32 {
            let (levels, level) = cow(i);
            let seen = if i < 100 { level < 2 } else { level >= 3 };
            prior += log_loss(learner.published(&levels), seen);
            mixed += log_loss(learner.apply(&levels), seen);
            learner.see(&levels, seen);
            if i % 10 == 9 {
                learner.refit();
            }
        }
        assert!(mixed <= prior + std::f64::consts::LN_2 + 1e-9, "{mixed} {prior}");
    }

    #[test]
    fn learns_a_farm_whose_scores_begin_at_a_lower_load() {
        let mut learner = Learner::default();
        let mild = cow(1).0;
        assert_eq!(cow(1).1, 1);
        let before = learner.apply(&mild);
        for i in 0..300u32 {
            let (levels, level) = cow(i);
            learner.see(&levels, level >= 1);
            if i % 20 == 19 {
                learner.refit();
            }
        }
        assert!(before < 0.35 && learner.apply(&mild) > 0.7, "{before} {}", learner.apply(&mild));
    }

    /// Whether her feet hurt, drawn by a fixed rule from what is truly so and how this farm records.
    fn found(i: u32, level: usize, from: usize, recorder: [f64; 2]) -> bool {
        f64::from(i * 61 % 97) / 97.0 < recorder[usize::from(level >= from)]
    }

    #[test]
    fn lifted_feet_teach_a_farm_whose_cows_hurt_at_a_lower_load() {
        let mut learner = Learner::default();
        let mild = cow(1).0;
        let before = learner.apply(&mild);
        for i in 0..600u32 {
            let (levels, level) = cow(i);
            learner.see_feet(&levels, found(i, level, 1, LESION_FOUND));
        }
        assert!(learner.apply(&mild) > before + 0.2, "{before} {}", learner.apply(&mild));
        let sound = cow(0).0;
        assert!(learner.apply(&sound) < learner.published(&sound) + 0.1);
        assert_eq!((learner.feet(), learner.scores()), (600, 0));
    }

    #[test]
    fn lifted_feet_after_the_published_way_change_little() {
        let mut learner = Learner::default();
        for i in 0..600u32 {
            let (levels, level) = cow(i);
            learner.see_feet(&levels, found(i, level, 2, LESION_FOUND));
        }
        for i in 0..6 {
            let (levels, _) = cow(i);
            let (now, published) = (learner.apply(&levels), learner.published(&levels));
            assert!((now - published).abs() < 0.15, "{i}: {now} {published}");
        }
    }

    // A wild recorder: everything, nothing, by no rule, the wrong way round. The farm's observer scores as published.
    #[test]
    fn a_wild_recorder_costs_at_most_ln_2_over_the_scores() {
        for wild in [[1.0, 1.0], [0.0, 0.0], [0.5, 0.5], [0.9, 0.1]] {
            let mut learner = Learner::default();
            for i in 0..400u32 {
                let (levels, level) = cow(i);
                learner.see_feet(&levels, found(i, level, 2, wild));
            }
            // Without a single score no probability is further off than by half.
            for i in 0..6 {
                let (levels, _) = cow(i);
                let (now, published) = (learner.apply(&levels), learner.published(&levels));
                assert!(now >= 0.5 * published && 1.0 - now >= 0.5 * (1.0 - published));
            }
            let (mut prior, mut mixed) = (0.0, 0.0);
            for i in 0..300u32 {
                let (levels, level) = cow(i + 7);
                let seen = level >= 2;
                prior += log_loss(learner.published(&levels), seen);
                mixed += log_loss(learner.apply(&levels), seen);
                learner.see(&levels, seen);
                learner.see_feet(&levels, found(i + 5, level, 2, wild));
                if i % 10 == 9 {
                    learner.refit();
                }
            }
            assert!(mixed <= prior + std::f64::consts::LN_2 + 1e-9, "{wild:?}: {mixed} {prior}");
        }
    }
}
