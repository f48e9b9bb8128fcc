//! Four plates with cows that walk over them, in counts.

use super::Chance;
use crate::{
    load_cells::{Sample, TOP_CODE},
    settings::NOMINAL_KG_PER_COUNT,
};
use shared::{
    plate::{PerPlate, Plate},
    units::Counts,
};
use std::vec::Vec;

/// A cow of 600 kg: she walks in, stands from 3.1 to 7.1 s, and walks out. Seconds and kg on LF, RF, LR, RR.
const COW: [(f32, [f32; 4]); 20] = [
    (0.0, [0.0; 4]),
    (0.2, [0.0, 0.0, 160.0, 0.0]),
    (0.7, [0.0, 0.0, 160.0, 0.0]),
    (0.9, [0.0, 0.0, 160.0, 160.0]),
    (1.3, [0.0, 0.0, 160.0, 160.0]),
    (1.5, [160.0, 0.0, 0.0, 160.0]),
    (1.9, [160.0, 0.0, 0.0, 160.0]),
    (2.1, [160.0, 160.0, 0.0, 0.0]),
    (2.5, [160.0, 160.0, 140.0, 0.0]),
    (2.9, [160.0, 160.0, 140.0, 0.0]),
    (3.1, [160.0, 160.0, 140.0, 140.0]),
    (7.1, [160.0, 160.0, 140.0, 140.0]),
    (7.3, [0.0, 160.0, 140.0, 140.0]),
    (7.7, [0.0, 0.0, 140.0, 140.0]),
    (8.3, [0.0, 0.0, 140.0, 140.0]),
    (8.5, [140.0, 0.0, 0.0, 140.0]),
    (8.9, [140.0, 0.0, 0.0, 140.0]),
    (9.1, [140.0, 140.0, 0.0, 0.0]),
    (9.5, [0.0, 140.0, 0.0, 0.0]),
    (9.8, [0.0; 4]),
];
/// Largest noise of a reading, counts either way: 0.1 kg.
const NOISE: i64 = 300;

/// The plates and what is wrong with them.
#[derive(Clone, Debug)]
pub struct Deck {
    /// Counts of the empty plates.
    pub zero: PerPlate<i32>,
    /// When each cow's first foot lands, ms.
    pub cows: Vec<u64>,
    /// A load that lies on the plates, kg.
    pub dead_load: PerPlate<f32>,
    /// A plate whose channel always gives the same code.
    pub dead: Option<Plate>,
    /// All four converters at their end stop.
    pub saturated: bool,
    chance: Chance,
}

impl Deck {
    /// Empty plates.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self {
            zero: PerPlate([1_000, -2_000, 500, 0]),
            cows: Vec::new(),
            dead_load: PerPlate::default(),
            dead: None,
            saturated: false,
            chance: Chance(seed),
        }
    }

    /// How long the cow is on the plates, ms.
    pub const COW_MS: u64 = 9_800;

    /// What the converters give at a time, ms.
    pub fn sample(&mut self, time: u64) -> Sample {
        if self.saturated {
            return Sample { counts: PerPlate([Counts(TOP_CODE); 4]) };
        }
        let cow = self.cows.iter().rev().find(|start| **start <= time).map_or([0.0; 4], |start| {
            #[allow(clippy::cast_precision_loss, reason = "seconds since she came")]
            on(((time - start).min(2 * Self::COW_MS)) as f32 / 1_000.0)
        });
        let mut counts = PerPlate([Counts(0); 4]);
        for plate in Plate::ALL {
            let load = cow[plate as usize] + self.dead_load[plate];
            let noise = self.chance.between(-NOISE, NOISE);
            #[allow(clippy::cast_possible_truncation, reason = "far below 24 bits")]
            let code = (load / NOMINAL_KG_PER_COUNT) as i64 + i64::from(self.zero[plate]) + noise;
            counts[plate] = Counts(i32::try_from(code).unwrap_or(TOP_CODE).min(TOP_CODE));
        }
        if let Some(plate) = self.dead {
            counts[plate] = Counts(0);
        }
        Sample { counts }
    }
}

fn on(seconds: f32) -> [f32; 4] {
    let after = COW.partition_point(|(at, _)| *at <= seconds);
    let (Some((from, low)), Some((to, high))) = (COW.get(after.wrapping_sub(1)), COW.get(after)) else {
        return [0.0; 4];
    };
    let part = (seconds - from) / (to - from);
    core::array::from_fn(|n| low[n] + part * (high[n] - low[n]))
}
