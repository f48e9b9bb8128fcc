//! Chance that comes out the same every time.

use std::vec::Vec;

/// A small generator (SplitMix64): tests need no more.
#[derive(Clone, Debug)]
pub struct Chance(pub u64);

impl Chance {
    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From 0 to just below 1.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From `low` to `high`, both included.
    pub const fn between(&mut self, low: i64, high: i64) -> i64 {
        low + (self.bits() % (high - low + 1).unsigned_abs()).cast_signed()
    }

    /// True with this probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        probability > 0.0 && self.uniform() < probability
    }

    /// Flips each bit with this probability.
    pub fn flip(&mut self, bytes: &mut [u8], probability: f64) {
        if probability <= 0.0 {
            return;
        }
        for byte in bytes {
            for bit in 0..8 {
                if self.happens(probability) {
                    *byte ^= 1 << bit;
                }
            }
        }
    }

    /// So many bytes of anything.
    pub fn bytes(&mut self, count: usize) -> Vec<u8> {
        (0..count).map(|_| self.bits() as u8).collect()
    }
}
