//! One cow's filter: which state she is in, and under each state what her own baseline is.

use crate::score::model::baseline::{Baseline, Readings, lanes};
use crate::score::model::chain::normalise;
use crate::score::model::features::{MEASURES, Measured, PerMeasure};
use crate::score::model::hypotheses::{Hypotheses, SOUND, STATES, parts, sore};
use crate::score::model::level::LocalLevel;
use crate::score::model::noise::{Lesson, Noise, WINSOR, WINSOR_MEAN};
use crate::score::model::rates::Rate;
use crate::score::model::ways::Ways;
use crate::score::settings::{HUBER_LIMIT, LESION_FOUND, MOST_ODDS_A_PASSAGE, MOST_PASSAGES_OF_ODDS};
use shared::plate::Leg;
use std::collections::VecDeque;

/// Days of evidence kept for 'since when'.
pub const KEPT_DAYS: usize = 90;
/// Days over which a cow's own noise is remembered, and what the herd's is worth.
const SCALE_KEPT: f64 = 0.985;
const SCALE_PRIOR: f64 = 10.0;

/// One day of the chain, kept to look back.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct ChainDay {
    /// Probability of each state after the day.
    pub probability: [f32; STATES],
    /// Likelihood of the day's measures under each state, scaled to a largest of 1.
    pub seen: [f32; STATES],
}

/// A day's measures put together.
#[derive(Clone, Debug)]
pub struct DayMeasure {
    /// Values; NaN where not measured.
    pub value: PerMeasure,
    /// Their error variances.
    pub variance: PerMeasure,
    /// Counted minutes and events: shifts front and rear, then lifts by leg.
    pub minutes: f64,
    /// See `minutes`.
    pub events: [f64; 6],
    /// Trusted passages.
    pub passages: u32,
}

/// What is expected of her today before she is seen.
#[derive(Clone, Copy, Debug)]
pub struct Expected {
    /// Mean over the states.
    pub mean: PerMeasure,
    /// Variance of that, without errors of measuring.
    pub variance: PerMeasure,
}

/// One cow's filter.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct Filter {
    /// Probability of each state.
    pub probability: [f64; STATES],
    /// Under each state what she would carry when sound, and how far her effect is from the usual one, together.
    pub baseline: Box<[Baseline; STATES]>,
    /// Factor of her own error variance.
    scale: PerMeasure,
    own_noise: PerMeasure,
    own_days: PerMeasure,
    /// Event rates: shifts front and rear, lifts by leg.
    pub rates: [Rate; 6],
    /// Days with measures.
    pub days_seen: u32,
    /// The last days of the chain, oldest first.
    pub chain_days: VecDeque<ChainDay>,
    /// Ways into today's states, until the day is seen.
    #[serde(skip)]
    ways: Ways,
}

impl Filter {
    /// A cow never seen: baselines and rates of the herd.
    #[must_use]
    pub fn new(hypotheses: &Hypotheses, prior: &Baseline, rates: [Rate; 6]) -> Self {
        let mut baseline = Box::new([*prior; STATES]);
        baseline
            .iter_mut()
            .zip(&hypotheses.spread)
            .for_each(|(baseline, spread)| baseline.wait(&lanes(spread, 0.0)));
        let ways = Ways::of_newcomer(&baseline);
        Self {
            probability: hypotheses.start,
            baseline,
            scale: [1.0; MEASURES],
            own_noise: [0.0; MEASURES],
            own_days: [0.0; MEASURES],
            rates,
            days_seen: 0,
            chain_days: VecDeque::new(),
            ways,
        }
    }

    /// Probability that she is not sound.
    #[must_use]
    pub fn lame(&self) -> f64 {
        1.0 - self.probability[SOUND]
    }

    /// Her error variance in the herd's.
    #[must_use]
    pub fn scale(&self, measure: usize) -> f64 {
        self.scale[measure]
    }

    /// Her baseline over all states.
    #[must_use]
    pub fn base(&self, measure: usize) -> LocalLevel {
        let of = |s: usize| (self.probability[s], self.baseline[s].of(measure));
        let mean: f64 = (0..STATES).map(of).map(|(p, level)| p * level.mean).sum();
        let spread = |(p, level): (f64, LocalLevel)| p * (level.variance + (level.mean - mean).powi(2));
        let variance = (0..STATES).map(of).map(spread).sum();
        LocalLevel::new(mean, variance)
    }

    /// A night passes: states follow the chain, baselines drift and swing. What is expected of her in a state is mixed from
    /// where she may have come from.
    pub fn wait(&mut self, hypotheses: &Hypotheses, noise: &Noise, treated: bool) {
        let chain = if treated { &hypotheses.treated } else { &hypotheses.alone };
        let tomorrow = chain.predict(&self.probability);
        let drift = lanes(&std::array::from_fn(|k| noise.drift(k)), 0.0);
        let push = lanes(&std::array::from_fn(|k| noise.swing_push(k)), 0.0);
        for baseline in self.baseline.iter_mut() {
            baseline.wait(&drift);
            baseline.swing(&push);
        }
        self.ways.pass_night(hypotheses, chain, [&self.probability, &tomorrow], &mut self.baseline);
        self.probability = tomorrow;
    }

    /// What belonged to the lanes is her own: nothing that is expected of her in a lane changes.
    pub fn take(&mut self, part: &PerMeasure) {
        self.ways.shift(part);
        self.baseline.iter_mut().for_each(|baseline| baseline.shift(part));
    }

    /// What is expected of her now.
    #[must_use]
    pub fn expected(&self, hypotheses: &Hypotheses) -> Expected {
        let mut mean = [0.0; MEASURES];
        let mut square = [0.0; MEASURES];
        for s in 0..STATES {
            let p = self.probability[s];
            if p < 1e-9 {
                continue;
            }
            for k in 0..MEASURES {
                let at = f64::from(self.baseline[s].mean[k] + hypotheses.shown[s].effect[k]);
                mean[k] += p * at;
                square[k] +=
                    p * (f64::from(self.baseline[s].variance[k]) + hypotheses.spread[s][k] + at * at);
            }
        }
        let mut variance = [0.0; MEASURES];
        for k in 0..MEASURES {
            variance[k] = (square[k] - mean[k] * mean[k]).max(1e-9);
        }
        Expected { mean, variance }
    }

    /// Mean square distance of a passage from the state that fits it best, in its own variances, and how many measures
    /// that rests on.
    #[must_use]
    pub fn oddness(&self, hypotheses: &Hypotheses, noise: &Noise, passage: &Measured) -> (f64, usize) {
        let used = passage.value[..6].iter().filter(|v| !v.is_nan()).count();
        let best = (0..STATES)
            .map(|s| {
                (0..6)
                    .filter(|&k| !passage.value[k].is_nan())
                    .map(|k| {
                        let level = self.baseline[s].of(k);
                        let variance = level.variance + self.passage_variance(noise, passage, k);
                        (passage.value[k] - level.mean - f64::from(hypotheses.shown[s].effect[k])).powi(2)
                            / variance
                    })
                    .sum::<f64>()
            })
            .fold(f64::INFINITY, f64::min);
        (best / used.max(1) as f64, used)
    }

    /// Error variance of a measure of one passage of hers.
    #[must_use]
    pub fn passage_variance(&self, noise: &Noise, passage: &Measured, measure: usize) -> f64 {
        self.scale[measure] * noise.variance(passage.class, measure) + passage.stated[measure]
    }

    /// Puts the passages of a day together: weighted by their errors, an odd one among several held back (Huber).
    #[must_use]
    pub fn combine(
        &self,
        passages: &[Measured],
        expected: &Expected,
        noise: &Noise,
        wider: f64,
    ) -> DayMeasure {
        let mut day = DayMeasure {
            value: [f64::NAN; MEASURES],
            variance: [f64::INFINITY; MEASURES],
            minutes: 0.0,
            events: [0.0; 6],
            passages: passages.len() as u32,
        };
        for passage in passages {
            day.minutes += passage.counts.minutes;
            let [front, rear] = passage.counts.shifts;
            let [lf, rf, lr, rr] = passage.counts.lifts;
            for (sum, count) in day.events.iter_mut().zip([front, rear, lf, rf, lr, rr]) {
                *sum += count;
            }
        }
        for k in 0..MEASURES {
            let (mut weight, mut sum, mut spread, mut count) = (0.0, 0.0, 0.0, 0.0f64);
            let several = passages.iter().filter(|p| !p.value[k].is_nan()).count() > 1;
            for passage in passages.iter().filter(|p| !p.value[k].is_nan()) {
                let variance = self.passage_variance(noise, passage, k);
                let z =
                    (passage.value[k] - expected.mean[k]).abs() / (variance + expected.variance[k]).sqrt();
                let held = if several && z > HUBER_LIMIT { HUBER_LIMIT / z } else { 1.0 };
                weight += held / variance;
                sum += held / variance * passage.value[k];
                spread += variance;
                count += 1.0;
            }
            if count > 0.0 {
                let common = noise.common(k);
                day.value[k] = sum / weight;
                day.variance[k] = wider * wider * (common * spread / count + (1.0 - common) / weight);
            }
        }
        day
    }

    /// A day's measures come in. `counted` factors the expected number of events (the herd's day), `weight` is that of
    /// the day's evidence.
    pub fn see(&mut self, hypotheses: &Hypotheses, day: &DayMeasure, counted: &[f64; 6], weight: f64) {
        let counts = self.count_evidence(hypotheses, day, counted);
        let most = MOST_ODDS_A_PASSAGE.ln() * f64::from(day.passages).min(MOST_PASSAGES_OF_ODDS);
        let likelihood = |below_best: f64| (weight * below_best).max(-most).exp();
        let readings = Readings::new(&day.value, &day.variance);
        let seen = self.ways.see(hypotheses, &readings, &counts, likelihood, &mut self.baseline);
        for (p, l) in self.probability.iter_mut().zip(&seen) {
            *p *= l;
        }
        normalise(&mut self.probability);
        if day.minutes > 0.0 {
            for (i, counted) in counted.iter().enumerate() {
                let factor: f64 =
                    (0..STATES).map(|s| self.probability[s] * hypotheses.count_factor(s, i)).sum();
                self.rates[i].learn(day.events[i], day.minutes * counted, factor);
            }
        }
        self.days_seen += 1;
        self.keep(seen.map(|l| l as f32));
    }

    /// What the day's counts say of each state, as a logarithm.
    fn count_evidence(&self, hypotheses: &Hypotheses, day: &DayMeasure, counted: &[f64; 6]) -> [f64; STATES] {
        let mut all = [0.0; STATES];
        if day.minutes <= 0.0 {
            return all;
        }
        for (i, counted) in counted.iter().enumerate() {
            let minutes = day.minutes * counted;
            let mut last = (1.0, 0.0);
            for (s, evidence) in all.iter_mut().enumerate() {
                let factor = hypotheses.count_factor(s, i);
                if factor != last.0 {
                    last = (factor, self.rates[i].evidence(day.events[i], minutes, factor));
                }
                *evidence += if factor == 1.0 { 0.0 } else { last.1 };
            }
        }
        all
    }

    /// Feet were lifted on the day just seen or missed, and nothing was found, or lesions at some legs (`None`: leg not
    /// named): [`LESION_FOUND`], by how likely a person would have scored her 2 or more for what is there.
    pub fn lift(&mut self, hypotheses: &Hypotheses, lesions: &[Option<Leg>]) {
        let likely = |s: usize| {
            let told = |leg: &Option<Leg>| match (leg, parts(s)) {
                (Some(leg), Some((place, _))) => sore(place, *leg),
                _ => true,
            };
            let of = if lesions.is_empty() || lesions.iter().any(told) { s } else { SOUND };
            let found = LESION_FOUND[0] + hypotheses.scored[of] * (LESION_FOUND[1] - LESION_FOUND[0]);
            if lesions.is_empty() { 1.0 - found } else { found }
        };
        for (s, p) in self.probability.iter_mut().enumerate() {
            *p *= likely(s);
        }
        normalise(&mut self.probability);
        if let Some(last) = self.chain_days.back_mut() {
            last.probability = self.probability.map(|p| p as f32);
            last.seen.iter_mut().enumerate().for_each(|(s, seen)| *seen *= likely(s) as f32);
        }
    }

    /// A day without measures.
    pub fn miss(&mut self) {
        self.ways.clear();
        self.keep([1.0; STATES]);
    }

    fn keep(&mut self, seen: [f32; STATES]) {
        if self.chain_days.len() == KEPT_DAYS {
            self.chain_days.pop_front();
        }
        self.chain_days.push_back(ChainDay { probability: self.probability.map(|p| p as f32), seen });
    }

    /// Learns her own noise from how far the day is from what she showed `lately`, values and their variances: a trouble that
    /// stays differs once, and is not taken for noise.
    pub fn learn_scale(&mut self, day: &DayMeasure, (value, variance): &(PerMeasure, PerMeasure)) {
        for k in 0..MEASURES {
            let square = (day.value[k] - value[k]).powi(2);
            if square.is_nan() {
                continue;
            }
            let ratio = (square / (day.variance[k] + variance[k])).min(WINSOR * WINSOR) / WINSOR_MEAN;
            // The herd's noise keeps the worth of its prior for good; hers adds to it.
            self.own_noise[k] = SCALE_KEPT * self.own_noise[k] + self.scale[k] * ratio;
            self.own_days[k] = SCALE_KEPT * self.own_days[k] + 1.0;
            self.scale[k] =
                ((SCALE_PRIOR + self.own_noise[k]) / (SCALE_PRIOR + self.own_days[k])).clamp(0.3, 6.0);
        }
    }

    /// What a passage teaches about the noise.
    #[must_use]
    pub fn lesson(&self, passage: &Measured, expected: &Expected, hour: usize, weight: f64) -> Lesson {
        let mut residual = [f64::NAN; MEASURES];
        let mut known = [0.0; MEASURES];
        for k in 0..MEASURES {
            residual[k] = passage.value[k] - expected.mean[k];
            known[k] = expected.variance[k] + passage.stated[k];
        }
        Lesson { class: passage.class, hour, residual, known, weight }
    }
}

#[cfg(test)]
pub(in crate::score) mod tests;
