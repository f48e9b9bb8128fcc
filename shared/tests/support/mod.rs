//! Traces for the tests: a plain piecewise builder and a walking cow.

use shared::{
    analysis::{Analyser, PassageSummary, Reading},
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
};

/// A small generator of normal deviates (SplitMix64 and Box-Muller): tests need no more.
pub struct Noise(pub u64);

impl Noise {
    pub fn uniform(&mut self) -> f32 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 40) as f32 / (1_u64 << 24) as f32
    }

    pub fn normal(&mut self) -> f32 {
        let radius = (-2.0 * self.uniform().max(1e-7).ln()).sqrt();
        radius * (core::f32::consts::TAU * self.uniform()).cos()
    }
}

/// A trace: plate loads (kg) at a rate.
#[derive(Clone)]
pub struct Trace {
    pub rate_hz: f32,
    pub loads: Vec<[f32; 4]>,
}

impl Trace {
    pub fn new(rate_hz: f32) -> Self {
        Self { rate_hz, loads: Vec::new() }
    }

    /// Seconds so far.
    pub fn seconds(&self) -> f32 {
        self.loads.len() as f32 / self.rate_hz
    }

    fn samples(&self, seconds: f32) -> usize {
        (seconds * self.rate_hz).round() as usize
    }

    /// Holds `loads` for `seconds`.
    pub fn hold(mut self, seconds: f32, loads: [f32; 4]) -> Self {
        self.loads.extend(core::iter::repeat_n(loads, self.samples(seconds)));
        self
    }

    pub fn empty(self, seconds: f32) -> Self {
        self.hold(seconds, [0.0; 4])
    }

    /// Goes to `loads` in a straight line.
    pub fn ramp(mut self, seconds: f32, loads: [f32; 4]) -> Self {
        let from = self.loads.last().copied().unwrap_or_default();
        let n = self.samples(seconds);
        for i in 1..=n {
            let t = i as f32 / n as f32;
            self.loads.push(core::array::from_fn(|p| from[p] + t * (loads[p] - from[p])));
        }
        self
    }

    /// Appends another trace.
    pub fn then(mut self, other: &Self) -> Self {
        self.loads.extend_from_slice(&other.loads);
        self
    }

    /// Adds another trace from `at` seconds on, lengthening this one as needed.
    pub fn over(mut self, at: f32, other: &Self) -> Self {
        let from = self.samples(at);
        self.loads.resize(self.loads.len().max(from + other.loads.len()), [0.0; 4]);
        for (to, add) in self.loads[from..].iter_mut().zip(&other.loads) {
            to.iter_mut().zip(add).for_each(|(to, add)| *to += add);
        }
        self
    }

    /// Changes every reading: time in seconds and loads.
    pub fn map(mut self, mut change: impl FnMut(f32, &mut [f32; 4])) -> Self {
        for (i, loads) in self.loads.iter_mut().enumerate() {
            change(i as f32 / self.rate_hz, loads);
        }
        self
    }

    /// Adds white noise of `sd` kg to each plate.
    pub fn noisy(self, sd: f32, seed: u64) -> Self {
        let mut noise = Noise(seed);
        self.map(|_, loads| loads.iter_mut().for_each(|x| *x += sd * noise.normal()))
    }

    pub fn readings(&self) -> impl Iterator<Item = Reading> + '_ {
        self.loads.iter().enumerate().map(|(i, loads)| Reading {
            time: Milliseconds(START_MS + (i as f64 * 1000.0 / f64::from(self.rate_hz)).round() as u64),
            loads: PerPlate(loads.map(Kilograms)),
            saturated: PerPlate::default(),
        })
    }
}

/// Where every trace begins on the lane's clock.
pub const START_MS: u64 = 1_000_000;

/// Runs readings through an analyser and gives all passages.
pub fn passages(rate_hz: f32, readings: impl IntoIterator<Item = Reading>) -> Vec<PassageSummary> {
    let mut analyser = Analyser::new(rate_hz);
    let mut all: Vec<_> = readings.into_iter().filter_map(|reading| analyser.push(&reading).ended).collect();
    all.extend(analyser.finish());
    all
}

/// Runs a trace through an analyser and gives all passages.
pub fn analysed(trace: &Trace) -> Vec<PassageSummary> {
    passages(trace.rate_hz, trace.readings())
}

/// Runs a trace that holds one passage.
pub fn one(trace: &Trace) -> PassageSummary {
    let all = analysed(trace);
    assert_eq!(all.len(), 1, "one passage expected: {all:#?}");
    all[0]
}

/// A cow that walks in, may stand, and walks out. Lengths in seconds.
#[derive(Clone, Copy)]
pub struct Cow {
    pub weight: f32,
    /// Standing shares, % of weight.
    pub shares: [f32; 4],
    /// Time of one stride.
    pub stride: f32,
    /// Share of the stride a foot is on the ground.
    pub duty: f32,
    /// Time stood on all four plates; 0 walks through.
    pub stand: f32,
}

pub const SOUND: Cow =
    Cow { weight: 600.0, shares: [27.0, 27.0, 23.0, 23.0], stride: 1.26, duty: 0.64, stand: 0.0 };

impl Cow {
    /// The trace of a crossing, with no noise, empty deck before and after.
    ///
    /// Every foot has a trapezoid of load weight; at each moment the weight is shared between the feet on the
    /// ground in proportion, on the deck or off it, so that the total over all feet is her weight.
    pub fn crosses(&self, rate_hz: f32) -> Trace {
        let swing = (1.0 - self.duty) * self.stride;
        let on = self.duty * self.stride;
        // Footfalls of the lateral walk: hind left, fore left, hind right, fore right, a quarter stride apart.
        let phase = [0.25, 0.75, 0.0, 0.5];
        // Fore feet land behind, on the rear plate, on the front plate, ahead; hind feet a stride later.
        let settle = 0.25 + 4.0 * self.stride;
        let mut trace = Trace::new(rate_hz);
        let total_s = settle + self.stand + 4.5 * self.stride;
        let n = (total_s * rate_hz) as usize;
        for i in 0..n {
            let t = i as f32 / rate_hz;
            // Each foot: how firmly it is on the ground, and on which plate.
            let mut firm = [0.0_f32; 4];
            let mut place = [None; 4];
            for leg in 0..4 {
                let hind = leg >= 2;
                let side = leg % 2;
                // Contact k of a foot lies at stride k; the stand is inserted when all four are in place.
                for k in 0..7_i32 {
                    let mut start = (k as f32 + phase[leg]) * self.stride;
                    let mut end = start + on;
                    // Fore: k = 2 is the front plate, k = 1 the rear one. Hind: k = 3 front, k = 2 rear.
                    let standing_on = 2;
                    if self.stand > 0.0 {
                        let halt = settle - 0.9 * self.stride;
                        if k == standing_on {
                            end += self.stand;
                        } else if k > standing_on {
                            start += self.stand;
                            end += self.stand;
                        }
                        let _ = halt;
                    }
                    if t >= start && t < end {
                        let rise = 0.15 * on;
                        let up = ((t - start) / rise).min(1.0);
                        let down = ((end - t) / rise).min(1.0);
                        firm[leg] = up.min(down) * self.shares[leg];
                        let on_rear = if hind { 2 } else { 1 };
                        place[leg] = match k - on_rear {
                            0 => Some(2 + side),
                            1 => Some(side),
                            _ => None,
                        };
                    }
                }
            }
            let all: f32 = firm.iter().sum();
            let mut loads = [0.0; 4];
            for leg in 0..4 {
                if let (Some(plate), true) = (place[leg], all > 0.0) {
                    loads[plate] += self.weight * firm[leg] / all;
                }
            }
            trace.loads.push(loads);
        }
        let _ = swing;
        Trace::new(rate_hz).empty(2.0).then(&trace).empty(2.0)
    }
}
