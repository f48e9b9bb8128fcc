//! From what the plates carry to what the converter says: noise, cross-talk, dung, hosing, ringing and faults.

use crate::random::Random;
use shared::plate::{PerPlate, Plate};
use std::f64::consts::PI;

/// Noise of a reading at 50 Hz, kg; it grows with the square root of the rate (our choice).
const NOISE_KG: f64 = 0.15;
/// What a plate shows of its neighbours' load after calibration, part (our choice).
const CROSS_TALK: f64 = 0.002;
/// Dung that stays behind after a cow, mean kg on one plate, and how likely (our choice).
const DUNG: (f64, f64) = (0.12, 0.5);
/// Force of a water jet, kg (our choice).
const JET_KG: f64 = 9.0;
/// Every landing rings a little: part of the change of load, frequency and decay (our choice).
const KNOCK: (f64, f64, f64) = (0.03, 13.0, 0.09);

/// A fault of one passage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// A plate stays where it is.
    Stuck(Plate),
    /// A converter ends at this load, kg.
    Saturated(Plate, f64),
    /// This part of the readings is missing.
    Lost(f64),
    /// The deck was knocked: size kg, frequency Hz, decay s.
    Ringing(f64, f64, f64),
}

/// A slow change of one plate's gain, as when something jams under it.
#[derive(Clone, Copy, Debug)]
pub struct GainDrift {
    /// The plate.
    pub plate: Plate,
    /// Change at the end, %.
    pub percent: f64,
    /// First day.
    pub from_day: f64,
    /// Days until the full change.
    pub days: f64,
}

impl GainDrift {
    /// The plate's gain at a time, days from the start.
    #[must_use]
    pub fn gain(&self, time: f64) -> f64 {
        1.0 + self.percent / 100.0 * ((time - self.from_day) / self.days).clamp(0.0, 1.0)
    }
}

/// The gains of all plates at a time.
#[must_use]
pub fn gains(drift: Option<&GainDrift>, time: f64) -> PerPlate<f64> {
    let mut gains = PerPlate([1.0; 4]);
    if let Some(drift) = drift {
        gains[drift.plate] = drift.gain(time);
    }
    gains
}

/// The four plates as they behave.
pub struct Deck {
    random: Random,
    noise_kg: f64,
    zero: PerPlate<f64>,
    knock: PerPlate<(f64, f64)>,
    last: PerPlate<f64>,
    held: PerPlate<Option<f64>>,
}

impl Deck {
    /// Clean plates read at `rate_hz`.
    #[must_use]
    pub fn new(random: Random, rate_hz: f64) -> Self {
        Self {
            random,
            noise_kg: NOISE_KG * libm::sqrt(rate_hz / 50.0),
            zero: PerPlate([0.0; 4]),
            knock: PerPlate([(0.0, 0.0); 4]),
            last: PerPlate([0.0; 4]),
            held: PerPlate([None; 4]),
        }
    }

    /// A cow has gone: she may have left something.
    pub fn after_cow(&mut self) {
        for plate in Plate::ALL {
            if self.random.chance(DUNG.1) {
                self.zero[plate] += self.random.exponential(DUNG.0);
            }
            self.held[plate] = None;
        }
    }

    /// Hosed down after milking: nearly clean again, and a little off.
    pub fn hosed(&mut self) {
        for plate in Plate::ALL {
            self.zero[plate] = 0.1 * self.zero[plate] + self.random.normal(0.0, 0.15);
        }
    }

    /// A water jet at one moment, kg on each plate.
    pub fn jet(&mut self, t: f64) -> PerPlate<f64> {
        let target = (t / 3.0) as usize % 4;
        let mut loads = PerPlate([0.0; 4]);
        loads.0[target] = self.random.uniform(0.2, 1.0) * JET_KG;
        loads
    }

    /// One reading, kg, of plates that carry `loads`, `dt` seconds after the last; `since` is the time in the
    /// passage, s.
    pub fn read(
        &mut self,
        loads: PerPlate<f64>,
        gains: PerPlate<f64>,
        fault: Option<Fault>,
        since: f64,
        dt: f64,
    ) -> PerPlate<f64> {
        let total: f64 = loads.0.iter().sum();
        let mut out = PerPlate([0.0; 4]);
        for plate in Plate::ALL {
            let knock = &mut self.knock[plate];
            let change = loads[plate] - self.last[plate];
            knock.0 = knock.0 * libm::exp(-dt / KNOCK.2) + KNOCK.0 * change;
            knock.1 += 2.0 * PI * KNOCK.1 * dt;
            let ringing = knock.0 * libm::sin(knock.1);
            // What a plate shows of its neighbours they lack: a span calibration leaves the sum right.
            let crossed = (1.0 - 3.0 * CROSS_TALK) * loads[plate] + CROSS_TALK * (total - loads[plate]);
            let value = gains[plate] * (crossed + ringing) + self.zero[plate];
            out[plate] = value + self.random.normal(0.0, self.noise_kg);
            self.last[plate] = loads[plate];
        }
        if let Some(fault) = fault {
            self.spoil(fault, since, &mut out);
        }
        out
    }

    fn spoil(&mut self, fault: Fault, since: f64, out: &mut PerPlate<f64>) {
        match fault {
            Fault::Stuck(plate) => out[plate] = *self.held[plate].get_or_insert(out[plate]),
            Fault::Saturated(plate, limit) => out[plate] = out[plate].min(limit),
            Fault::Ringing(size, hz, decay) if since >= 0.0 => {
                // Knocked again and again, as by a gate that bangs.
                let phase = since % (1.5 * decay);
                let wave = size * libm::exp(-phase / decay) * libm::sin(2.0 * PI * hz * since);
                for (i, plate) in Plate::ALL.into_iter().enumerate() {
                    out[plate] += wave * (1.0 - 0.2 * i as f64);
                }
            }
            Fault::Ringing(..) | Fault::Lost(_) => {}
        }
    }

    /// Whether this reading is lost.
    pub fn loses(&mut self, fault: Option<Fault>) -> bool {
        matches!(fault, Some(Fault::Lost(part)) if self.random.chance(part))
    }
}
