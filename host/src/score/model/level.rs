//! A cow's usual value: a level that moves a little each day, a swing about it that is forgotten again, and readings of
//! their sum with errors.

/// What is known of the level and its swing.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct LocalLevel {
    /// Mean of level and swing together: what is usual now.
    pub mean: f64,
    /// Its variance.
    pub variance: f64,
    swing: f64,
    swing_variance: f64,
    /// Covariance of the swing with the sum.
    shared: f64,
}

impl LocalLevel {
    /// A level without a swing.
    #[must_use]
    pub const fn new(mean: f64, variance: f64) -> Self {
        Self { mean, variance, swing: 0.0, swing_variance: 0.0, shared: 0.0 }
    }

    /// The same with a swing of this variance, not yet seen.
    #[must_use]
    pub const fn swinging(self, variance: f64) -> Self {
        Self { variance: self.variance + variance, swing_variance: variance, shared: variance, ..self }
    }

    /// A day passes: the level moves.
    pub fn wait(&mut self, step_variance: f64) {
        self.variance += step_variance;
    }

    /// A night passes: of the swing this part stays, and it gets a push.
    pub fn swing(&mut self, stays: f64, push_variance: f64) {
        let lost = 1.0 - stays;
        self.mean -= lost * self.swing;
        self.variance += lost * (lost * self.swing_variance - 2.0 * self.shared) + push_variance;
        self.shared = stays * (self.shared - lost * self.swing_variance) + push_variance;
        self.swing_variance = stays * stays * self.swing_variance + push_variance;
        self.swing *= stays;
    }

    /// A reading with an error variance comes in: the Kalman update.
    pub fn see(&mut self, value: f64, variance: f64) {
        let total = self.variance + variance;
        let (gain, part) = (self.variance / total, self.shared / total);
        let off = value - self.mean;
        self.mean += gain * off;
        self.swing += part * off;
        self.swing_variance -= part * self.shared;
        self.shared *= 1.0 - gain;
        self.variance *= 1.0 - gain;
    }

    /// Several of these, each with its share of all: mean, variance and covariance of the mixture.
    pub fn mixed<'a>(parts: impl IntoIterator<Item = (f64, &'a Self)>) -> Self {
        let mut parts = parts.into_iter();
        let Some((first, origin)) = parts.next() else { return Self::default() };
        let (mut mean, mut swing) = (0.0, 0.0);
        let (mut square, mut swing_square) = (first * origin.variance, first * origin.swing_variance);
        let mut product = first * origin.shared;
        for (share, level) in parts {
            let (away, swung) = (level.mean - origin.mean, level.swing - origin.swing);
            mean += share * away;
            swing += share * swung;
            square += share * (level.variance + away * away);
            swing_square += share * (level.swing_variance + swung * swung);
            product += share * (level.shared + away * swung);
        }
        Self {
            mean: origin.mean + mean,
            variance: (square - mean * mean).max(0.0),
            swing: origin.swing + swing,
            swing_variance: (swing_square - swing * swing).max(0.0),
            shared: product - mean * swing,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(serde::Deserialize)]
    struct Oracle {
        flow: Vec<f64>,
        observation_variance: f64,
        level_variance: f64,
        filtered_level: Vec<f64>,
        filtered_variance: Vec<f64>,
        swing_stays: f64,
        swing_push_variance: f64,
        swinging_mean: Vec<f64>,
        swinging_last_variance: f64,
        swing_last_variance: f64,
    }

    fn oracle() -> Oracle {
        serde_json::from_str(include_str!("../../../../tests/oracles/local_level.json")).unwrap()
    }

    // Source: tests/oracles/local_level.R, R's StructTS and KalmanRun on the Nile series with the variances of Durbin
    // and Koopman.
    #[test]
    fn nile_levels_are_those_of_r() {
        let oracle = oracle();
        let mut level = LocalLevel::new(0.0, 1e7);
        assert_eq!(oracle.flow.len(), 100);
        for (day, &flow) in oracle.flow.iter().enumerate() {
            if day > 0 {
                level.wait(oracle.level_variance);
            }
            level.see(flow, oracle.observation_variance);
            assert!(
                (level.mean - oracle.filtered_level[day]).abs() < 1e-3 * oracle.filtered_level[day],
                "{day}"
            );
            assert!((level.variance / oracle.filtered_variance[day] - 1.0).abs() < 1e-3, "{day}");
        }
    }

    // Source: the same script, the level with a swing that is forgotten, by R's KalmanRun with both as states.
    #[test]
    fn a_swinging_level_is_that_of_r() {
        let oracle = oracle();
        let whole = oracle.swing_push_variance / (1.0 - oracle.swing_stays.powi(2));
        let mut level = LocalLevel::new(0.0, 1e7).swinging(whole);
        for (day, &flow) in oracle.flow.iter().enumerate() {
            if day > 0 {
                level.wait(oracle.level_variance);
                level.swing(oracle.swing_stays, oracle.swing_push_variance);
            }
            level.see(flow, oracle.observation_variance);
            assert!((level.mean / oracle.swinging_mean[day] - 1.0).abs() < 1e-6, "{day}");
        }
        assert!((level.variance / oracle.swinging_last_variance - 1.0).abs() < 1e-6);
        assert!((level.swing_variance / oracle.swing_last_variance - 1.0).abs() < 1e-6);
    }

    // By hand: a swing of 2 over a level of 10, known exactly; half stays over night.
    #[test]
    fn a_swing_goes_back_to_the_level() {
        let mut level =
            LocalLevel { mean: 12.0, variance: 0.0, swing: 2.0, swing_variance: 0.0, shared: 0.0 };
        level.swing(0.5, 0.0);
        assert_eq!((level.mean, level.variance, level.swing), (11.0, 0.0, 1.0));
        // Not seen for long, it is the swing's own spread: 3 / (1 - 0.5^2).
        (0..60).for_each(|_| level.swing(0.5, 3.0));
        assert!((level.mean - 10.0).abs() < 1e-9 && (level.variance - 4.0).abs() < 1e-9);
    }

    // By hand: halves at 0 and at 4, each with variance 1, swings 0 and 2 with covariance 0.5.
    #[test]
    fn a_mixture_has_the_spread_between_its_parts() {
        let part = |mean: f64, swing: f64| LocalLevel {
            mean,
            variance: 1.0,
            swing,
            swing_variance: 1.0,
            shared: 0.5,
        };
        let both = LocalLevel::mixed([(0.5, &part(0.0, 0.0)), (0.5, &part(4.0, 2.0))]);
        assert_eq!((both.mean, both.variance, both.swing), (2.0, 5.0, 1.0));
        assert_eq!((both.swing_variance, both.shared), (2.0, 2.5));
    }
}
