//! Plates that do not move while the others do.

use crate::units::Milliseconds;

/// A plate that gives the very same reading for this long may be stuck, ms; our choice.
const FROZEN_MS: u64 = 1000;
/// ... if meanwhile another plate has moved by this much, kg; our choice.
const MOVED_KG: f32 = 20.0;
/// ... and the plates have noise at all, kg: readings made up without noise repeat by nature. Our choice.
const LEAST_NOISE_KG: f32 = 0.01;

/// Watches the plates for readings that never change.
#[derive(Clone, Copy, Debug, Default)]
pub struct FrozenPlates {
    plates: [Frozen; 4],
}

#[derive(Clone, Copy, Debug, Default)]
struct Frozen {
    value: f32,
    since: Milliseconds,
    others: [f32; 4],
    others_moved: bool,
    stuck: bool,
}

impl FrozenPlates {
    /// Takes one reading; `noise` is the SD of each plate on the empty deck.
    pub fn push(&mut self, time: Milliseconds, loads: [f32; 4], noise: [f32; 4]) {
        let noisy = noise.iter().any(|noise| *noise > LEAST_NOISE_KG);
        for (plate, load) in self.plates.iter_mut().zip(loads) {
            #[allow(clippy::float_cmp)] // The very same reading is what is looked for.
            if load != plate.value {
                *plate = Frozen { value: load, since: time, others: loads, ..Frozen::default() };
                continue;
            }
            plate.others_moved |=
                loads.iter().zip(plate.others).any(|(now, then)| (now - then).abs() > MOVED_KG);
            plate.stuck = noisy && plate.others_moved && time.since(plate.since).0 >= FROZEN_MS;
        }
    }

    /// Which plates are stuck.
    #[must_use]
    pub fn stuck(&self) -> [bool; 4] {
        self.plates.map(|plate| plate.stuck)
    }

    /// Whether any plate is stuck.
    #[must_use]
    pub fn any(&self) -> bool {
        self.plates.iter().any(|plate| plate.stuck)
    }
}
