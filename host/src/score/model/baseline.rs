//! Her usual values: for each measure a level that moves a little each day and a swing about it that is forgotten again.
//! All measures lie side by side, so that a processor takes several in one go.

use crate::score::model::features::{MEASURES, PerMeasure};
use crate::score::model::level::LocalLevel;
use crate::score::model::noise::SWING_STAYS;
use crate::score::settings::TAIL_FREEDOM;

/// Measures, filled up to whole steps of a processor: compilers then leave no measure over.
pub const LANES: usize = MEASURES.next_multiple_of(4);
/// A value for each measure, and nothing in what fills up.
pub type Lanes = [f32; LANES];

/// The values as lanes, with this in what fills up.
#[must_use]
pub fn lanes(values: &PerMeasure, rest: f64) -> Lanes {
    std::array::from_fn(|k| values.get(k).copied().unwrap_or(rest) as f32)
}

/// What is known of her usual values and their swings.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Baseline {
    /// Mean of level and swing together: what is usual now.
    pub mean: Lanes,
    /// Its variance.
    pub variance: Lanes,
    swing: Lanes,
    swing_variance: Lanes,
    /// Covariance of the swing with the sum.
    shared: Lanes,
}

/// What a state does to a reading.
#[derive(Clone, Copy, Debug, Default)]
pub struct Shown {
    /// Its effect.
    pub effect: Lanes,
    /// How many times heavier the tail of a reading with the effect must be than without for the effect to be taken as
    /// hidden; 0 where it must show.
    pub hidden: Lanes,
    /// What it costs, as squared odds, that an effect shows which need not; 1 where it must.
    pub cost: Lanes,
}

/// A day's values, and their error variances: 0 and infinite where nothing was measured.
#[derive(Clone, Copy, Debug)]
pub struct Readings {
    value: Lanes,
    error: Lanes,
}

impl Readings {
    /// From values that are NaN where nothing was measured.
    #[must_use]
    pub fn new(value: &PerMeasure, variance: &PerMeasure) -> Self {
        let measured = |k: usize| !value[k].is_nan();
        let values = std::array::from_fn(|k| if measured(k) { value[k] } else { 0.0 });
        let errors = std::array::from_fn(|k| if measured(k) { variance[k] } else { f64::INFINITY });
        Self { value: lanes(&values, 0.0), error: lanes(&errors, f64::INFINITY) }
    }
}

/// How far readings lie from a baseline, and how much of it is believed.
#[derive(Clone, Copy, Debug, Default)]
pub struct Innovation {
    /// Reading less baseline.
    away: Lanes,
    /// One through the variance of that; 0 where nothing was read.
    weight: Lanes,
}

impl Baseline {
    /// Levels without swings.
    #[must_use]
    pub fn new(mean: &PerMeasure, variance: &PerMeasure) -> Self {
        Self { mean: lanes(mean, 0.0), variance: lanes(variance, 0.0), ..Self::default() }
    }

    /// The same with swings of this variance, not yet seen.
    #[must_use]
    pub fn swinging(mut self, variance: &PerMeasure) -> Self {
        let variance = lanes(variance, 0.0);
        self.wait(&variance);
        Self { swing_variance: variance, shared: variance, ..self }
    }

    /// What is known of one measure.
    #[must_use]
    pub fn of(&self, measure: usize) -> LocalLevel {
        LocalLevel::new(f64::from(self.mean[measure]), f64::from(self.variance[measure]))
    }

    /// One measure is again what it was before.
    pub fn go_back(&mut self, measure: usize, before: &Self) {
        self.mean[measure] = before.mean[measure];
        self.variance[measure] = before.variance[measure];
        self.swing[measure] = before.swing[measure];
        self.swing_variance[measure] = before.swing_variance[measure];
        self.shared[measure] = before.shared[measure];
    }

    /// The same cow in other terms: every mean moves by this.
    pub fn shift(&mut self, by: &PerMeasure) {
        self.mean.iter_mut().zip(by).for_each(|(mean, by)| *mean += *by as f32);
    }

    /// The levels move by steps of this variance.
    #[inline]
    pub fn wait(&mut self, step_variance: &Lanes) {
        self.variance.iter_mut().zip(step_variance).for_each(|(variance, step)| *variance += step);
    }

    /// A night passes: of the swings [`SWING_STAYS`], and they get a push.
    pub fn swing(&mut self, push_variance: &Lanes) {
        const STAYS: f32 = SWING_STAYS as f32;
        const LOST: f32 = 1.0 - STAYS;
        for (k, &push) in push_variance.iter().enumerate() {
            let (swing, own, shared) = (self.swing[k], self.swing_variance[k], self.shared[k]);
            self.mean[k] -= LOST * swing;
            self.variance[k] += LOST * (LOST * own - 2.0 * shared) + push;
            self.shared[k] = STAYS * (shared - LOST * own) + push;
            self.swing_variance[k] = STAYS * STAYS * own + push;
            self.swing[k] = STAYS * swing;
        }
    }

    /// Holds readings against this baseline in a state: the logarithm of their likelihood, up to what is the same for all
    /// states, and what the baseline is to learn.
    #[must_use]
    #[inline]
    pub fn weigh(&self, state: &Shown, readings: &Readings) -> (f64, Innovation) {
        const FREEDOM: f32 = TAIL_FREEDOM as f32;
        let mut innovation = Innovation::default();
        let (mut tails, mut widths) = ([1.0; LANES], [1.0; LANES]);
        for k in 0..LANES {
            let (value, error) = (readings.value[k], readings.error[k]);
            let (effect, threshold, cost) = (state.effect[k], state.hidden[k], state.cost[k]);
            let variance = self.variance[k] + error;
            let precision = (1.0 / FREEDOM) / variance;
            let off = value - self.mean[k];
            let tail = |away: f32| 1.0 + away * away * precision;
            // A factor and no branch: so compilers take several measures in one go.
            let shows = if tail(off) < threshold * tail(off - effect) { 0.0 } else { 1.0 };
            let away = off - shows * effect;
            let width = variance * (1.0 + shows * (cost - 1.0));
            innovation.away[k] = away;
            tails[k] = tail(away);
            widths[k] = if error < f32::INFINITY { width } else { 1.0 };
            // Student-t errors: an odd day moves the baseline less.
            let robust = error * (FREEDOM / (FREEDOM + 1.0)) * tails[k];
            innovation.weight[k] = 1.0 / (self.variance[k] + robust);
        }
        let [tails, widths] = [tails, widths].map(|all| product(all).ln());
        (-0.5 * (f64::from(FREEDOM) + 1.0) * tails - 0.5 * widths, innovation)
    }

    /// Readings come in: the Kalman update.
    #[inline]
    pub fn see(&mut self, innovation: &Innovation) {
        for k in 0..LANES {
            let (away, weight) = (innovation.away[k], innovation.weight[k]);
            let (gain, part) = (self.variance[k] * weight, self.shared[k] * weight);
            self.mean[k] += gain * away;
            self.swing[k] += part * away;
            self.swing_variance[k] -= part * self.shared[k];
            self.shared[k] *= 1.0 - gain;
            self.variance[k] *= 1.0 - gain;
        }
    }
}

/// In halves, as a processor multiplies.
fn product(all: Lanes) -> f64 {
    let (one, other) = all.split_at(LANES / 2);
    let halves: [f64; LANES / 2] = std::array::from_fn(|k| f64::from(one[k]) * f64::from(other[k]));
    halves.into_iter().product()
}

/// Moments of several baselines, each with its share of all, about one of them.
#[derive(Clone, Debug)]
pub struct Mixture {
    origin: Baseline,
    moments: Baseline,
}

impl Mixture {
    /// Nothing yet, about this.
    #[must_use]
    pub fn about(origin: Baseline) -> Self {
        Self { origin, moments: Baseline::default() }
    }

    /// One more, with its share.
    #[inline]
    pub fn add(&mut self, share: f64, baseline: &Baseline) {
        let share = share as f32;
        let (origin, moments) = (&self.origin, &mut self.moments);
        for k in 0..LANES {
            let away = baseline.mean[k] - origin.mean[k];
            let swung = baseline.swing[k] - origin.swing[k];
            moments.mean[k] += share * away;
            moments.swing[k] += share * swung;
            moments.variance[k] += share * (baseline.variance[k] + away * away);
            moments.swing_variance[k] += share * (baseline.swing_variance[k] + swung * swung);
            moments.shared[k] += share * (baseline.shared[k] + away * swung);
        }
    }

    /// Mean, variance and covariance of the whole; the shares have added up to one.
    #[must_use]
    #[inline]
    pub fn whole(self) -> Baseline {
        let Self { origin, mut moments } = self;
        for k in 0..LANES {
            let (mean, swing) = (moments.mean[k], moments.swing[k]);
            moments.mean[k] += origin.mean[k];
            moments.variance[k] = (moments.variance[k] - mean * mean).max(0.0);
            moments.swing[k] += origin.swing[k];
            moments.swing_variance[k] = (moments.swing_variance[k] - swing * swing).max(0.0);
            moments.shared[k] -= mean * swing;
        }
        moments
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::model::level::tests::oracle;

    const fn all(value: f32) -> Lanes {
        [value; LANES]
    }

    fn level(mean: f64, variance: f64) -> Baseline {
        Baseline::new(&[mean; MEASURES], &[variance; MEASURES])
    }

    /// Innovation of a reading of every measure but the first.
    fn read(baseline: &Baseline, value: f32, variance: f32) -> Innovation {
        let mut read = Innovation {
            away: baseline.mean.map(|mean| value - mean),
            weight: baseline.variance.map(|own| 1.0 / (own + variance)),
        };
        read.weight[0] = 0.0;
        read
    }

    // Source: tests/oracles/local_level.R, R's KalmanRun with level and swing as states, on the Nile series.
    #[test]
    fn a_swinging_level_is_that_of_r_and_a_measure_not_read_only_waits() {
        let oracle = oracle();
        assert_eq!(oracle.swing_stays, SWING_STAYS);
        let whole = oracle.swing_push_variance / (1.0 - SWING_STAYS.powi(2));
        let [step, push, error] =
            [oracle.level_variance, oracle.swing_push_variance, oracle.observation_variance]
                .map(|v| v as f32);
        let mut baseline = level(0.0, 1e7).swinging(&[whole; MEASURES]);
        for (day, &flow) in oracle.flow.iter().enumerate() {
            if day > 0 {
                baseline.wait(&all(step));
                baseline.swing(&all(push));
            }
            baseline.see(&read(&baseline, flow as f32, error));
            for k in 1..MEASURES {
                near(baseline.mean[k], oracle.swinging_mean[day]);
            }
        }
        for k in 1..MEASURES {
            near(baseline.variance[k], oracle.swinging_last_variance);
            near(baseline.swing_variance[k], oracle.swing_last_variance);
        }
        let waited = 1e7 + whole + 99.0 * oracle.level_variance;
        assert_eq!(baseline.mean[0], 0.0);
        near(baseline.variance[0], waited);
        near(baseline.swing_variance[0], whole);
    }

    // In single precision, from a level of which nothing is known.
    #[track_caller]
    fn near(found: f32, wanted: f64) {
        assert!((f64::from(found) / wanted - 1.0).abs() < 1e-5, "{found} {wanted}");
    }

    // By hand: a swing of 2 over a level of 10, known exactly; a twentieth is lost over night.
    #[test]
    fn a_swing_goes_back_to_the_level() {
        let mut baseline = Baseline { mean: all(12.0), swing: all(2.0), ..Baseline::default() };
        baseline.swing(&all(0.0));
        near(baseline.mean[0], 11.9);
        near(baseline.swing[0], 1.9);
        assert_eq!(baseline.variance[0], 0.0);
        // Not seen for long, it is the swing's own spread: .39 / (1 - .95^2) = 4.
        (0..600).for_each(|_| baseline.swing(&all(0.39)));
        near(baseline.mean[0], 10.0);
        near(baseline.variance[0], 4.0);
    }

    // By hand: halves at 0 and at 4, each with variance 1, swings 0 and 2 with covariance .5; about whichever of them.
    #[test]
    fn a_mixture_has_the_spread_between_its_parts() {
        let part = |mean: f32, swing: f32| Baseline {
            mean: all(mean),
            variance: all(1.0),
            swing: all(swing),
            swing_variance: all(1.0),
            shared: all(0.5),
        };
        let parts = [part(0.0, 0.0), part(4.0, 2.0)];
        for origin in parts {
            let mut mixture = Mixture::about(origin);
            parts.iter().for_each(|part| mixture.add(0.5, part));
            let both = mixture.whole();
            let of = |values: Lanes| {
                assert_eq!(values, all(values[0]));
                values[0]
            };
            assert_eq!((of(both.mean), of(both.variance), of(both.swing)), (2.0, 5.0, 1.0));
            assert_eq!((of(both.swing_variance), of(both.shared)), (2.0, 2.5));
        }
    }

    // By hand: what was before a block comes back with its swing, for one measure alone.
    #[test]
    fn one_measure_goes_back() {
        let before = level(1.0, 2.0).swinging(&[3.0; MEASURES]);
        let mut now = level(7.0, 8.0).swinging(&[9.0; MEASURES]);
        now.swing = all(4.0);
        now.go_back(2, &before);
        let of =
            |b: &Baseline, k: usize| [b.mean[k], b.variance[k], b.swing[k], b.swing_variance[k], b.shared[k]];
        assert_eq!(of(&now, 2), [1.0, 5.0, 0.0, 3.0, 3.0]);
        assert_eq!(of(&now, 1), [7.0, 17.0, 4.0, 9.0, 9.0]);
    }

    /// One measure read, with an error variance of 3 about a baseline of 0 with variance 1.
    fn weighed(value: f64, shown: &Shown) -> (f64, f32, f32) {
        let mut values = [f64::NAN; MEASURES];
        values[1] = value;
        let readings = Readings::new(&values, &[3.0; MEASURES]);
        let (evidence, innovation) = level(0.0, 1.0).weigh(shown, &readings);
        for k in (0..LANES).filter(|k| *k != 1) {
            assert_eq!(innovation.weight[k], 0.0, "{k}");
        }
        (evidence, innovation.away[1], innovation.weight[1])
    }

    fn said(found: (f64, f32, f32), wanted: (f64, f32, f32)) {
        let off = [(found.0 - wanted.0) as f32, found.1 - wanted.1, found.2 - wanted.2];
        assert!(off.iter().all(|off| off.abs() < 1e-6), "{found:?} {wanted:?}");
    }

    // By hand, 8 degrees of freedom: 4 away with variance 1 + 3 has a tail of 1 + 16 / 4 / 8 = 1.5; the error then counts
    // 3 * 8 / 9 * 1.5 = 4, the weight is 1 / (1 + 4).
    #[test]
    fn a_reading_away_is_less_likely_and_moves_less() {
        let must = Shown { cost: all(1.0), ..Shown::default() };
        let width = -0.5 * 4.0f64.ln();
        said(weighed(4.0, &must), (-4.5 * 1.5f64.ln() + width, 4.0, 0.2));
        said(weighed(-4.0, &must), (-4.5 * 1.5f64.ln() + width, -4.0, 0.2));
        // Where it is expected the tail is 1, and the weight 1 / (1 + 3 * 8 / 9).
        let expected = Shown { effect: all(4.0), ..must };
        said(weighed(4.0, &expected), (width, 0.0, 3.0 / 11.0));
    }

    // By hand, at squared odds of 400, the ninth root of which is 1.946: 4 away without the effect (tail 1.5) it is taken as
    // hidden and costs nothing; 8 away (tail 3) it shows, and costs them.
    #[test]
    fn an_effect_that_need_not_show_is_hidden_or_costs() {
        let need_not = |effect: f32| Shown {
            effect: all(effect),
            hidden: all(400.0f32.powf(1.0 / 9.0)),
            cost: all(400.0),
        };
        said(weighed(4.0, &need_not(4.0)), (-4.5 * 1.5f64.ln() - 0.5 * 4.0f64.ln(), 4.0, 0.2));
        said(weighed(8.0, &need_not(8.0)), (-0.5 * 1600.0f64.ln(), 0.0, 3.0 / 11.0));
    }
}
