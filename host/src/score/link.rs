//! From the model's probability to one that holds on this farm: a logistic link, learned from the farm's own scores.

/// SD of the intercept about 0 and of the slope about 1 before the farm has scored. Our choice: a factor of 2.7 of the
/// odds, and a third of the steepness.
const PRIOR_SD: [f64; 2] = [1.0, 0.33];
/// Newton steps; it converges in a few.
const STEPS: usize = 25;

/// Probability = logistic(intercept + slope x logit(model)).
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Link {
    /// Intercept.
    pub intercept: f64,
    /// Slope.
    pub slope: f64,
}

impl Link {
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

/// Ridge-penalised logistic regression on logits `x`: the posterior mode under the normal prior `mean`, `sd`.
#[must_use]
pub fn fit(x: &[f64], seen: &[bool], mean: [f64; 2], sd: [f64; 2]) -> Link {
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
        at[0] += step[0];
        at[1] += step[1];
        if step[0].abs() + step[1].abs() < 1e-10 {
            break;
        }
    }
    Link { intercept: at[0], slope: at[1] }
}

/// Learns the link as scores come in, and never bets on it more than it has earned.
///
/// Both links, the prior's and the farm's, predict every score before it is learned from; the probability is their
/// average, weighted by how well each has done. Its total log loss then exceeds the prior's by at most ln 2, whatever
/// the scores are.
#[derive(Clone, Debug)]
pub struct Learner {
    x: Vec<f64>,
    seen: Vec<bool>,
    farm: Link,
    loss: [f64; 2],
}

impl Default for Learner {
    fn default() -> Self {
        Self { x: Vec::new(), seen: Vec::new(), farm: Link::PRIOR, loss: [0.0; 2] }
    }
}

impl Learner {
    /// A score of the farm and what the model said of that cow by the day before or that day.
    pub fn see(&mut self, probability: f64, scored_two: bool) {
        self.loss[0] += log_loss(Link::PRIOR.apply(probability), scored_two);
        self.loss[1] += log_loss(self.farm.apply(probability), scored_two);
        self.x.push(logit(probability));
        self.seen.push(scored_two);
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

    /// The farm's link and its weight against the prior's.
    #[must_use]
    pub fn farm(&self) -> (Link, f64) {
        (self.farm, logistic(self.loss[0] - self.loss[1]))
    }

    /// The probability that holds here.
    #[must_use]
    pub fn apply(&self, probability: f64) -> f64 {
        let (farm, weight) = self.farm();
        weight * farm.apply(probability) + (1.0 - weight) * Link::PRIOR.apply(probability)
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
            serde_json::from_str(include_str!("../../../tests/oracles/logistic.json")).unwrap();
        let link = fit(&oracle.x, &oracle.seen, [0.0, 0.0], [1e6, oracle.sd]);
        assert!((link.intercept - oracle.intercept).abs() < 1e-4, "{link:?}");
        assert!((link.slope - oracle.slope).abs() < 1e-4, "{link:?}");
    }

    #[test]
    fn never_worse_than_the_prior_by_more_than_ln_2() {
        // The farm's scores first say one thing, then the opposite: the worst for a learner.
        let mut learner = Learner::default();
        let (mut prior, mut mixed) = (0.0, 0.0);
        for i in 0..400u32 {
            let p = 0.05 + 0.9 * f64::from(i * 37 % 100) / 100.0;
            let seen = if i < 100 { p < 0.5 } else { f64::from(i * 61 % 100) / 100.0 < p };
            prior += log_loss(p, seen);
            mixed += log_loss(learner.apply(p), seen);
            learner.see(p, seen);
            if i % 10 == 9 {
                learner.refit();
            }
        }
        assert!(mixed <= prior + std::f64::consts::LN_2 + 1e-9, "{mixed} {prior}");
    }

    #[test]
    fn learns_a_farm_that_scores_harder() {
        let mut learner = Learner::default();
        for i in 0..600u32 {
            let p = 0.02 + 0.96 * f64::from(i * 37 % 100) / 100.0;
            let truth = logistic(1.5 + logit(p));
            learner.see(p, f64::from(i * 61 % 127) / 127.0 < truth);
            if i % 20 == 19 {
                learner.refit();
            }
        }
        assert!(learner.apply(0.3) > 0.55);
    }
}
