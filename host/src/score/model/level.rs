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
mod tests {
    use super::*;

    #[derive(serde::Deserialize)]
    struct Oracle {
        flow: Vec<f64>,
        observation_variance: f64,
        level_variance: f64,
        filtered_level: Vec<f64>,
        filtered_variance: Vec<f64>,
    }

    // Source: tests/oracles/local_level.R, R's StructTS and KalmanRun on the Nile series with the variances of Durbin
    // and Koopman.
    #[test]
    fn nile_levels_are_those_of_r() {
        let text = include_str!("../../../../tests/oracles/local_level.json");
        let oracle: Oracle = serde_json::from_str(text).unwrap();
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
