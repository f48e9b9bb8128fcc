//! The state-space filter behind before and after: a local level with an intervention, a block term and a day effect.
//!
//! Each observation is `baseline of its kind + deviation + block effect + swing + day effect + noise`. The swing is her
//! usual load moving slowly, sound or not. The deviation is zero while she is believed sound, wanders before the treatment, takes a step at it, and then decays towards zero with a
//! half-time. Everything is linear and Gaussian once the [`Parameters`] are fixed, so one pass forward gives exact
//! means and covariances, of window means too: these are carried along as states.

/// Which baseline an observation has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LoadKind {
    /// Mean load while standing.
    Standing,
    /// Peak load of a contact while walking.
    Walking,
}

/// Where in the case an observation lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CasePhase {
    /// Believed sound.
    Baseline,
    /// In the window before the treatment.
    Before,
    /// After the treatment and settled.
    After,
}

/// One measurement of one leg.
#[derive(Clone, Copy, Debug)]
pub struct Observation {
    /// Days since the treatment, negative before it.
    pub day: f64,
    /// Load, % above or below usual.
    pub value: f64,
    /// Its known error variance, %^2; 0 where unknown.
    pub variance: f64,
    /// Contacts behind a walking value; 1 for standing.
    pub count: f64,
    /// Which baseline it has.
    pub kind: LoadKind,
    /// Where in the case.
    pub phase: CasePhase,
    /// How the block acts on this leg: 0 none, -1 under this leg, 1 under the other of the pair.
    pub block: f64,
}

/// What the filter takes as known.
#[derive(Clone, Copy, Debug)]
pub struct Parameters {
    /// SD of an observation about the level, standing and walking, %.
    pub noise_sd: [f64; 2],
    /// Mean known error variance, standing and walking, %^2.
    pub known_variance: [f64; 2],
    /// Part of the noise variance that a cow-day shares.
    pub day_part: f64,
    /// Wandering of the level, % per square root of a day.
    pub walk_sd: f64,
    /// Half-time of the deviation after the treatment, days; infinite = it stays.
    pub half_time: f64,
    /// Prior SD of the deviation at the start of the window before, %.
    pub onset_sd: f64,
    /// Prior SD of the step that the treatment makes, %.
    pub jump_sd: f64,
    /// Prior SD of the baseline about its guess, %.
    pub baseline_sd: f64,
    /// Prior mean and SD of the block effect, %.
    pub block: (f64, f64),
    /// Correlation of the day effect at one day.
    pub day_correlation: f64,
    /// SD of the slow swing of her usual load, %.
    pub swing_sd: f64,
    /// Time in which a swing is forgotten to 1/e, days.
    pub swing_days: f64,
}

/// Index of each state.
pub mod state {
    /// Baseline standing; walking is the next.
    pub const BASELINE: usize = 0;
    /// Deviation now.
    pub const DEVIATION: usize = 2;
    /// Block effect.
    pub const BLOCK: usize = 3;
    /// Day effect.
    pub const DAY: usize = 4;
    /// Mean deviation of the window before.
    pub const BEFORE: usize = 5;
    /// Mean deviation of the window after.
    pub const AFTER: usize = 6;
    /// Deviation just before the treatment.
    pub const AT_TREATMENT: usize = 7;
    /// Slow swing of her usual load.
    pub const SWING: usize = 8;
    /// How many there are.
    pub const COUNT: usize = 9;
}
use state::{AFTER, AT_TREATMENT, BASELINE, BEFORE, BLOCK, COUNT, DAY, DEVIATION, SWING};

/// How one observation was taken in: enough to tell what another value there would have done to the later ones.
#[derive(Clone, Copy, Debug)]
pub struct Update {
    /// Value less what was expected.
    pub surprise: f64,
    /// Its variance.
    pub variance: f64,
    /// By how much each state moves for each % of surprise.
    gain: [f64; COUNT],
    /// What the deviation, the day effect and the swing were scaled by since the observation before.
    kept: [f64; 3],
    /// The block's part in the observation.
    block: f64,
    kind: LoadKind,
}

/// What a sudden step of 1 %, from some observation on, does to the surprises of the later ones.
#[derive(Clone, Copy, Debug, Default)]
pub struct StepResponse {
    moved: [f64; COUNT],
    weighted: f64,
    weight: f64,
}

impl StepResponse {
    /// Takes in the next observation, the first of them being the one with which the step came.
    pub fn observe(&mut self, update: &Update) {
        for (state, kept) in [DEVIATION, DAY, SWING].into_iter().zip(update.kept) {
            self.moved[state] *= kept;
        }
        let expected = self.moved[BASELINE + update.kind as usize]
            + self.moved[DEVIATION]
            + update.block * self.moved[BLOCK]
            + self.moved[DAY]
            + self.moved[SWING];
        let surprise = 1.0 - expected;
        for (moved, gain) in self.moved.iter_mut().zip(update.gain) {
            *moved += gain * surprise;
        }
        self.weighted += surprise * update.surprise / update.variance;
        self.weight += surprise * surprise / update.variance;
    }

    /// Logarithm of how much likelier a step makes what was seen than none, for steps of the given mean and SD.
    #[must_use]
    pub fn log_evidence(&self, mean: f64, sd: f64) -> f64 {
        let precision = self.weight + sd.powi(-2);
        let likeliest = (self.weighted + mean * sd.powi(-2)) / precision;
        0.5 * (likeliest * likeliest * precision - mean * mean * sd.powi(-2) - (sd * sd * precision).ln())
    }
}

/// What is known of the states after the observations seen so far.
#[derive(Clone, Copy, Debug)]
pub struct Belief {
    /// Means.
    pub mean: [f64; COUNT],
    /// Covariances.
    pub covariance: [[f64; COUNT]; COUNT],
    /// Log likelihood of the observations.
    pub log_likelihood: f64,
}

impl Belief {
    fn start(p: &Parameters) -> Self {
        let mut belief = Self { mean: [0.0; COUNT], covariance: [[0.0; COUNT]; COUNT], log_likelihood: 0.0 };
        belief.covariance[BASELINE][BASELINE] = p.baseline_sd.powi(2);
        belief.covariance[BASELINE + 1][BASELINE + 1] = p.baseline_sd.powi(2);
        belief.covariance[SWING][SWING] = p.swing_sd.powi(2);
        belief.mean[BLOCK] = p.block.0;
        belief.covariance[BLOCK][BLOCK] = p.block.1.powi(2);
        belief
    }

    /// Mean and variance of a weighted sum of states.
    #[must_use]
    pub fn sum(&self, weights: &[(usize, f64)]) -> (f64, f64) {
        let mean = weights.iter().map(|&(i, w)| w * self.mean[i]).sum();
        let variance = weights
            .iter()
            .flat_map(|&(i, a)| weights.iter().map(move |&(j, b)| (i, j, a * b)))
            .map(|(i, j, w)| w * self.covariance[i][j])
            .sum::<f64>();
        (mean, variance.max(0.0))
    }

    fn scale(&mut self, state: usize, factor: f64) {
        self.mean[state] *= factor;
        for i in 0..COUNT {
            self.covariance[state][i] *= factor;
        }
        for row in &mut self.covariance {
            row[state] *= factor;
        }
    }

    /// state `to` += `weight` x state `from`
    fn accumulate(&mut self, to: usize, from: usize, weight: f64) {
        self.mean[to] += weight * self.mean[from];
        for i in 0..COUNT {
            self.covariance[to][i] += weight * self.covariance[from][i];
        }
        for row in &mut self.covariance {
            row[to] += weight * row[from];
        }
    }

    fn observe(&mut self, parts: &[(usize, f64)], value: f64, noise: f64) -> (f64, f64, [f64; COUNT]) {
        let mut gain = [0.0; COUNT];
        for (g, row) in gain.iter_mut().zip(&self.covariance) {
            *g = parts.iter().map(|&(i, w)| w * row[i]).sum();
        }
        let expected: f64 = parts.iter().map(|&(i, w)| w * self.mean[i]).sum();
        let variance = parts.iter().map(|&(i, w)| w * gain[i]).sum::<f64>() + noise;
        let surprise = value - expected;
        self.log_likelihood -=
            0.5 * (surprise * surprise / variance + variance.ln() + (2.0 * std::f64::consts::PI).ln());
        for i in 0..COUNT {
            self.mean[i] += gain[i] * surprise / variance;
            for j in 0..COUNT {
                self.covariance[i][j] -= gain[i] * gain[j] / variance;
            }
        }
        (surprise, variance, gain.map(|g| g / variance))
    }
}

/// Runs the filter over observations in order of time. `seen` is called after each.
pub fn filter(
    observations: &[Observation],
    p: &Parameters,
    mut seen: impl FnMut(usize, &Belief, &Update),
) -> Belief {
    let mut belief = Belief::start(p);
    let count = |phase| observations.iter().filter(|o| o.phase == phase).count().max(1) as f64;
    let (before, after) = (count(CasePhase::Before), count(CasePhase::After));
    let day_rate = -p.day_correlation.ln();
    let mut last: Option<&Observation> = None;
    for (index, o) in observations.iter().enumerate() {
        let elapsed = last.map_or(0.0, |l| (o.day - l.day).max(0.0));
        let from = last.map_or(CasePhase::Baseline, |l| l.phase);
        if from == CasePhase::Baseline && o.phase != CasePhase::Baseline {
            belief.covariance[DEVIATION][DEVIATION] += p.onset_sd.powi(2);
        } else if o.phase != CasePhase::Baseline {
            belief.covariance[DEVIATION][DEVIATION] += p.walk_sd.powi(2) * elapsed;
        }
        let mut decay = 1.0;
        if from != CasePhase::After && o.phase == CasePhase::After {
            belief.accumulate(AT_TREATMENT, DEVIATION, 1.0);
            belief.covariance[DEVIATION][DEVIATION] += p.jump_sd.powi(2);
        } else if o.phase == CasePhase::After && p.half_time.is_finite() {
            decay = (-elapsed / p.half_time).exp2();
            belief.scale(DEVIATION, decay);
        }
        let shared = day_variance(p, o.kind);
        let kept = if last.is_some() { (-day_rate * elapsed).exp() } else { 0.0 };
        belief.scale(DAY, kept);
        belief.covariance[DAY][DAY] += shared * (1.0 - kept * kept);
        let swung = (-elapsed / p.swing_days).exp();
        if p.swing_sd > 0.0 {
            belief.scale(SWING, swung);
            belief.covariance[SWING][SWING] += p.swing_sd.powi(2) * (1.0 - swung * swung);
        }
        match o.phase {
            CasePhase::Before => belief.accumulate(BEFORE, DEVIATION, 1.0 / before),
            CasePhase::After => belief.accumulate(AFTER, DEVIATION, 1.0 / after),
            CasePhase::Baseline => {}
        }
        let parts =
            [(BASELINE + o.kind as usize, 1.0), (DEVIATION, 1.0), (BLOCK, o.block), (DAY, 1.0), (SWING, 1.0)];
        let (surprise, variance, gain) = belief.observe(&parts, o.value, own_variance(p, o));
        let update =
            Update { surprise, variance, gain, kept: [decay, kept, swung], block: o.block, kind: o.kind };
        seen(index, &belief, &update);
        last = Some(o);
    }
    belief
}

fn day_variance(p: &Parameters, kind: LoadKind) -> f64 {
    p.day_part * p.noise_sd[kind as usize].powi(2)
}

/// Variance of what an observation does not share: its known error, and what is left of the noise beyond that.
fn own_variance(p: &Parameters, o: &Observation) -> f64 {
    let own = (1.0 - p.day_part) * p.noise_sd[o.kind as usize].powi(2);
    let known = p.known_variance[o.kind as usize].min(0.9 * own);
    let scale =
        if p.known_variance[o.kind as usize] > 0.0 { known / p.known_variance[o.kind as usize] } else { 0.0 };
    (own - known + scale * o.variance) / o.count.max(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_filter_agrees_with_statsmodels() {
        let oracle: serde_json::Value =
            serde_json::from_str(include_str!("../../../../tests/oracles/case_series.json")).unwrap();
        let number = |key: &str| oracle[key].as_f64().unwrap();
        let list = |key: &str| -> Vec<f64> {
            oracle[key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
        };
        let at = oracle["at"].as_u64().unwrap() as usize;
        let observations: Vec<Observation> = list("value")
            .into_iter()
            .zip(list("block"))
            .enumerate()
            .map(|(day, (value, block))| Observation {
                day: day as f64 - at as f64,
                value,
                variance: 0.0,
                count: 1.0,
                kind: LoadKind::Standing,
                phase: if day < at { CasePhase::Before } else { CasePhase::After },
                block,
            })
            .collect();
        let (own, day) = (number("irregular_sd").powi(2), number("day_sd").powi(2));
        let parameters = Parameters {
            noise_sd: [(own + day).sqrt(); 2],
            known_variance: [0.0; 2],
            day_part: day / (own + day),
            walk_sd: number("level_sd"),
            half_time: f64::INFINITY,
            onset_sd: number("jump_sd"),
            jump_sd: number("jump_sd"),
            baseline_sd: 0.0,
            block: (oracle["block_prior"][0].as_f64().unwrap(), oracle["block_prior"][1].as_f64().unwrap()),
            day_correlation: number("day_correlation"),
            swing_sd: 0.0,
            swing_days: 1.0,
        };
        let belief = filter(&observations, &parameters, |_, _, _| {});
        let (now, now_variance) = belief.sum(&[(DEVIATION, 1.0)]);
        let (block, block_variance) = belief.sum(&[(BLOCK, 1.0)]);
        for (own, key) in [
            (belief.log_likelihood, "log_likelihood"),
            (now, "now"),
            (now_variance.sqrt(), "now_sd"),
            (block, "block_effect"),
            (block_variance.sqrt(), "block_effect_sd"),
        ] {
            assert!((own / number(key) - 1.0).abs() < 1e-8, "{key}: {own} is not {}", number(key));
        }
    }

    #[test]
    fn a_step_answers_as_the_filter_run_anew_would() {
        let observations: Vec<Observation> = (0..40)
            .map(|i| Observation {
                day: f64::from(i) * 0.5 - 10.0,
                value: f64::from((i * 7) % 11) - 5.0,
                variance: 1.0 + f64::from(i % 3),
                count: 1.0,
                kind: if i % 4 == 0 { LoadKind::Walking } else { LoadKind::Standing },
                phase: if i < 20 { CasePhase::Before } else { CasePhase::After },
                block: if i < 20 { 0.0 } else { -1.0 },
            })
            .collect();
        let parameters = Parameters {
            noise_sd: [3.0, 4.0],
            known_variance: [2.0, 2.0],
            day_part: 0.3,
            walk_sd: 0.4,
            half_time: 13.0,
            onset_sd: 25.0,
            jump_sd: 10.0,
            baseline_sd: 5.0,
            block: (6.0, 8.0),
            day_correlation: 0.2,
            swing_sd: 2.0,
            swing_days: 25.0,
        };
        let mut response = StepResponse::default();
        let plain = filter(&observations, &parameters, |index, _, update| {
            if index >= 30 {
                response.observe(update);
            }
        });
        let size = response.weighted / response.weight;
        let taken_out = |by: f64| {
            let mut less = observations.clone();
            less[30..].iter_mut().for_each(|o| o.value -= by);
            filter(&less, &parameters, |_, _, _| {}).log_likelihood
        };
        // The likeliest step is where the likelihood of what is left is greatest, and the gain is that of a parabola.
        assert!(taken_out(size) > taken_out(size + 0.01) && taken_out(size) > taken_out(size - 0.01));
        let gained = 0.5 * response.weighted * size;
        assert!((taken_out(size) - plain.log_likelihood - gained).abs() < 1e-9);
    }

    #[test]
    fn evidence_of_a_step_is_the_density_with_it_over_that_without() {
        // One surprise of 2 with a variance of 1. Without a step it is of a normal of mean 0 and variance 1; with a step
        // of mean 1 and variance 3, of one of mean 1 and variance 4: logarithms -1/8 - ln(4)/2 and -2, apart by
        // 2 - 0.125 - 0.693147.
        let seen = StepResponse { weighted: 2.0, weight: 1.0, ..StepResponse::default() };
        let found = seen.log_evidence(1.0, 3.0_f64.sqrt());
        assert!((found - 1.181_853).abs() < 1e-6, "{found}");
    }

    #[test]
    fn without_anything_seen_there_is_no_evidence_of_a_step() {
        assert!(StepResponse::default().log_evidence(7.0, 5.0).abs() < 1e-12);
    }
}
