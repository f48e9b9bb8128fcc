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

#[cfg(test)]
mod tests {
    use super::*;

    /// The first plate gives 50 kg from ten seconds on; the second goes from 0 to `moves` after 100 ms and stays there, the
    /// others drift. Which are stuck `after` so many ms?
    fn stuck(moves: f32, noise: f32, after: u64) -> [bool; 4] {
        let mut plates = FrozenPlates::default();
        for ms in (0..=after).step_by(10) {
            let drift = ms as f32 * 1e-3;
            let loads = [50.0, if ms < 100 { 0.0 } else { moves }, -drift, 0.5 * drift];
            plates.push(Milliseconds(10_000 + ms), loads, [0.0, 0.0, noise, 0.0]);
        }
        assert_eq!(plates.any(), plates.stuck().contains(&true));
        plates.stuck()
    }

    #[test]
    fn a_plate_is_stuck_after_a_second_in_which_another_moved() {
        assert_eq!(stuck(30.0, 0.02, 990), [false; 4]);
        assert!(stuck(30.0, 0.02, 1_000)[0]);
        assert_eq!(stuck(30.0, 0.02, 1_000)[2..], [false; 2]);
        assert!(!stuck(18.0, 0.02, 1_500)[0]);
        assert!(stuck(-30.0, 0.02, 1_000)[0]);
        assert!(!stuck(30.0, 0.01, 1_000)[0], "readings made up without noise");
    }

    #[test]
    fn a_new_reading_ends_it_and_the_time_counts_anew() {
        let mut plates = FrozenPlates::default();
        let mut at = |ms: u64, first: f32, second: f32| {
            plates.push(Milliseconds(ms), [first, second, 0.0, 0.0], [0.02; 4]);
            plates.stuck()[0]
        };
        assert!(!at(5_000, 50.0, 0.0));
        assert!(at(6_000, 50.0, 40.0));
        assert!(!at(6_010, 51.0, 0.0), "it moved");
        assert!(!at(6_500, 51.0, 40.0));
        assert!(!at(7_000, 51.0, 0.0), "990 ms");
        assert!(at(7_010, 51.0, 0.0));
    }
}
