//! A level that moves a little each day, and readings of it with errors.

/// What is known of the level.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct LocalLevel {
    /// Its mean.
    pub mean: f64,
    /// Its variance.
    pub variance: f64,
}

impl LocalLevel {
    /// As known at first.
    #[must_use]
    pub const fn new(mean: f64, variance: f64) -> Self {
        Self { mean, variance }
    }

    /// A day passes: the level moves.
    pub fn wait(&mut self, step_variance: f64) {
        self.variance += step_variance;
    }

    /// A reading with an error variance comes in: the Kalman update.
    pub fn see(&mut self, value: f64, variance: f64) {
        let gain = self.variance / (self.variance + variance);
        self.mean += gain * (value - self.mean);
        self.variance *= 1.0 - gain;
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// The Nile series by R: as a level, and as a level with a swing that is forgotten.
    #[derive(serde::Deserialize)]
    pub struct Oracle {
        pub flow: Vec<f64>,
        pub observation_variance: f64,
        pub level_variance: f64,
        filtered_level: Vec<f64>,
        filtered_variance: Vec<f64>,
        pub swing_stays: f64,
        pub swing_push_variance: f64,
        pub swinging_mean: Vec<f64>,
        pub swinging_last_variance: f64,
        pub swing_last_variance: f64,
    }

    pub fn oracle() -> Oracle {
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
}
