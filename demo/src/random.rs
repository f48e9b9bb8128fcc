//! Random numbers that depend on the seed and the purpose alone, never on the order of calls elsewhere.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Exp1, Poisson, StandardNormal};

/// One stream of random numbers.
pub struct Random(ChaCha8Rng);

impl Random {
    /// The stream for one `purpose` and one `index` under a seed.
    #[must_use]
    pub fn new(seed: u64, purpose: &str, index: u64) -> Self {
        let mut state = mix(seed ^ 0x9E37_79B9_7F4A_7C15);
        for byte in purpose.bytes() {
            state = mix(state ^ u64::from(byte));
        }
        Self(ChaCha8Rng::seed_from_u64(mix(state ^ mix(index))))
    }

    /// Uniform in `low..high`.
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.0.random::<f64>() < p
    }

    /// Normal.
    pub fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        let z: f64 = StandardNormal.sample(&mut self.0);
        mean + sd * z
    }

    /// Log-normal, by its median and the SD of its logarithm.
    pub fn log_normal(&mut self, median: f64, sigma: f64) -> f64 {
        median * libm::exp(self.normal(0.0, sigma))
    }

    /// Exponential.
    pub fn exponential(&mut self, mean: f64) -> f64 {
        let e: f64 = Exp1.sample(&mut self.0);
        mean * e
    }

    /// Poisson count.
    pub fn poisson(&mut self, mean: f64) -> u32 {
        Poisson::new(mean.max(1e-9)).map_or(0, |p| {
            let count: f64 = p.sample(&mut self.0);
            count as u32
        })
    }

    /// A whole number in `0..n`.
    pub fn below(&mut self, n: usize) -> usize {
        self.0.random_range(0..n)
    }
}

/// The finaliser of SplitMix64.
fn mix(mut z: u64) -> u64 {
    z = z.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}
