//! A control chart of one measure with limits from theory: EWMA.

use crate::score::settings::{DAY_AUTOCORRELATION, EWMA_LIMIT, EWMA_WEIGHT};

/// An exponentially weighted moving average of standardised values.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Ewma {
    weight: f64,
    limit: f64,
    /// The average so far.
    pub value: f64,
    steps: i32,
}

impl Ewma {
    /// A chart with a weight, and a limit in SD of the average.
    #[must_use]
    pub const fn new(weight: f64, limit: f64) -> Self {
        Self { weight, limit, value: 0.0, steps: 0 }
    }

    /// The chart of a cow's daily measures: the limit is widened for their autocorrelation (first order: the variance
    /// of a long average grows by (1 + r) / (1 - r)).
    #[must_use]
    pub fn of_cow() -> Self {
        let wider = ((1.0 + DAY_AUTOCORRELATION) / (1.0 - DAY_AUTOCORRELATION)).sqrt();
        Self::new(EWMA_WEIGHT, EWMA_LIMIT * wider)
    }

    /// A value comes in.
    pub fn see(&mut self, value: f64) {
        self.value += self.weight * (value - self.value);
        self.steps = self.steps.saturating_add(1);
    }

    /// The limit now: it widens from the first value on to its steady width.
    #[must_use]
    pub fn limit(&self) -> f64 {
        let grown = 1.0 - (1.0 - self.weight).powi(2 * self.steps.min(10_000));
        self.limit * (self.weight / (2.0 - self.weight) * grown).sqrt()
    }

    /// The limit it comes to in the long run.
    #[must_use]
    pub fn steady_limit(&self) -> f64 {
        self.limit * (self.weight / (2.0 - self.weight)).sqrt()
    }

    /// Whether it is out.
    #[must_use]
    pub fn out(&self) -> bool {
        self.value.abs() > self.limit()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};

    // Source: the EWMA example of the NIST handbook (section 6.3.2.4), results recomputed.
    #[test]
    fn nist_example() {
        const SERIES: [f64; 20] = [
            52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
            52.6, 52.4, 53.6, 52.1,
        ];
        let sd = 2.0539;
        let mut ewma = Ewma::new(0.3, 3.0);
        for value in SERIES {
            ewma.see((value - 50.0) / sd);
            assert!(ewma.value.abs() < ewma.steady_limit(), "no signal in the example");
        }
        assert!((50.0 + sd * ewma.value - 51.9882).abs() < 1e-4);
        assert!((50.0 + sd * ewma.steady_limit() - 52.5884).abs() < 1e-4);
        assert!((50.0 - sd * ewma.steady_limit() - 47.4116).abs() < 1e-4);
    }

    // By hand, weight .3 and 3 SD: 3 * .3 after the first value, 3 * sqrt(.3 / 1.7 * (1 - .7^4)) after the second; a cow's is
    // wider by sqrt(1.21 / .79).
    #[test]
    fn the_limit_widens_to_its_steady_width() {
        let mut ewma = Ewma::new(0.3, 3.0);
        for limit in [0.9, 1.098_590_005_4] {
            ewma.see(0.0);
            assert!((ewma.limit() - limit).abs() < 1e-9, "{}", ewma.limit());
        }
        (0..100).for_each(|_| ewma.see(0.0));
        assert!((ewma.limit() - ewma.steady_limit()).abs() < 1e-12);
        assert!((Ewma::of_cow().limit - 3.712_790_073).abs() < 1e-9);
    }

    #[test]
    fn either_side_is_out_beyond_the_limit() {
        for (value, out) in [(1.0, false), (3.01, true), (-3.01, true), (-2.99, false)] {
            let mut ewma = Ewma::new(1.0, 3.0);
            ewma.see(value);
            assert_eq!(ewma.out(), out, "{value}");
        }
    }

    #[derive(serde::Deserialize)]
    struct Arl {
        shift: f64,
        ewma: f64,
    }

    #[derive(serde::Deserialize)]
    struct Oracle {
        ewma_weight: f64,
        ewma_limit: f64,
        lengths: Vec<Arl>,
    }

    fn length(shift: f64, seed: u64, runs: u32, mut step: impl FnMut(u32, f64) -> bool) -> f64 {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let mut total = 0.0;
        for run in 0..runs {
            loop {
                total += 1.0;
                let value: f64 = StandardNormal.sample(&mut random);
                if step(run, value + shift) {
                    break;
                }
            }
        }
        total / f64::from(runs)
    }

    // Source: tests/oracles/run_lengths.R, xewma.arl of R's spc (EWMA with its steady limits).
    #[test]
    fn run_lengths_are_those_of_r_spc() {
        let oracle: Oracle =
            serde_json::from_str(include_str!("../../../../tests/oracles/run_lengths.json")).unwrap();
        for arl in &oracle.lengths {
            let runs = if arl.ewma > 100.0 { 2_000 } else { 4_000 };
            let fresh = Ewma::new(oracle.ewma_weight, oracle.ewma_limit);
            let (mut at, mut ewma) = (u32::MAX, fresh);
            let found = length(arl.shift, 1, runs, |run, value| {
                if run != at {
                    (at, ewma) = (run, fresh);
                }
                ewma.see(value);
                ewma.value.abs() > ewma.steady_limit()
            });
            // A run length scatters about as much as its mean: four standard errors.
            let tolerance = 4.0 / f64::from(runs).sqrt();
            assert!((found / arl.ewma - 1.0).abs() < tolerance, "EWMA {}: {found} {}", arl.shift, arl.ewma);
        }
    }
}
