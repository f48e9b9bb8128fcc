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
    let mut all = Vec::new();
    for reading in readings {
        analyser.push(&reading);
        all.extend(analyser.ended());
    }
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
    /// How far the total swings up and down with each step, share of weight.
    pub bounce: f32,
}

pub const SOUND: Cow = Cow {
    weight: 600.0,
    shares: [27.0, 28.0, 23.0, 22.0],
    stride: 1.26,
    duty: 0.64,
    stand: 0.0,
    bounce: 0.04,
};

pub const STANDS: Cow = Cow { stand: 6.0, ..SOUND };

/// Footfalls of the lateral walk (LF, RF, LR, RR): hind left, fore left, hind right, fore right.
const PHASE: [f32; 4] = [0.25, 0.75, 0.0, 0.5];

impl Cow {
    /// Contacts of a leg: foot on, foot off, plate (none: beside the deck). A fore foot is on the rear plate in its
    /// stride 1 and on the front plate in stride 2; a hind foot a stride later. The halt is in stride 2.
    fn contacts(&self, leg: usize) -> impl Iterator<Item = (f32, f32, Option<usize>)> + '_ {
        (0..6).map(move |k| {
            let on = (k as f32 + PHASE[leg]) * self.stride + if k > 2 { self.stand } else { 0.0 };
            let off = on + self.duty * self.stride + if k == 2 { self.stand } else { 0.0 };
            let plate = match k - i32::from(leg >= 2) {
                1 => Some(2 + leg % 2),
                2 => Some(leg % 2),
                _ => None,
            };
            (on, off, plate)
        })
    }

    /// First foot on and last foot off, s from the start of the trace.
    pub fn true_span(&self) -> (f32, f32) {
        let on_deck = || (0..4).flat_map(|leg| self.contacts(leg)).filter(|c| c.2.is_some());
        let lead = 2.0;
        (
            lead + on_deck().map(|c| c.0).fold(f32::INFINITY, f32::min),
            lead + on_deck().map(|c| c.1).fold(0.0, f32::max),
        )
    }

    /// The crossing at `rate_hz` without noise, with 2 s of empty deck before and after.
    ///
    /// Each foot is firm on the ground as a trapezoid; at each moment the weight is shared between the feet on the
    /// ground in proportion, on the deck or off it.
    pub fn crosses(&self, rate_hz: f32) -> Trace {
        let mut trace = Trace::new(rate_hz).empty(2.0);
        let seconds = 6.0 * self.stride + self.stand;
        let edge = 0.15 * self.duty * self.stride;
        let walking = |t: f32| t < 2.75 * self.stride || t > 2.6 * self.stride + self.stand;
        for i in 0..(seconds * rate_hz) as usize {
            let t = i as f32 / rate_hz;
            let mut firm = [(0.0_f32, None); 4];
            for (leg, firm) in firm.iter_mut().enumerate() {
                for (on, off, plate) in self.contacts(leg) {
                    if t >= on && t < off {
                        let grip = ((t - on) / edge).min((off - t) / edge).min(1.0);
                        *firm = (grip * self.shares[leg], plate);
                    }
                }
            }
            let all: f32 = firm.iter().map(|f| f.0).sum();
            let swing = if walking(t) {
                self.bounce * (core::f32::consts::TAU * t / (0.5 * self.stride)).sin()
            } else {
                0.0
            };
            let mut loads = [0.0; 4];
            for (firm, plate) in firm {
                if let Some(plate) = plate.filter(|_| all > 0.0) {
                    let plate: usize = plate;
                    loads[plate] += self.weight * (1.0 + swing) * firm / all;
                }
            }
            trace.loads.push(loads);
        }
        trace.empty(2.0)
    }
}

/// A cow that is on all four plates for `seconds`, with ramps of 0.4 s, swaying between left and right: the split
/// of each pair is a first-order autoregression with SD `sway_pct` (% of body weight) and correlation time `tau` s.
pub fn sways(rate_hz: f32, seconds: f32, shares: [f32; 4], sway_pct: f32, tau: f32, seed: u64) -> Trace {
    let mut noise = Noise(seed);
    let keep = (-1.0 / (rate_hz * tau)).exp();
    let kick = sway_pct * (1.0 - keep * keep).sqrt();
    let (mut front, mut rear) = (sway_pct * noise.normal(), sway_pct * noise.normal());
    let loads = |front: f32, rear: f32| {
        let [lf, rf, lr, rr] = shares;
        [lf + front, rf - front, lr + rear, rr - rear].map(|pct| 6.0 * pct)
    };
    let mut trace = Trace::new(rate_hz).empty(1.5).ramp(0.4, loads(front, rear));
    for _ in 0..(seconds * rate_hz) as usize {
        front = keep * front + kick * noise.normal();
        rear = keep * rear + kick * noise.normal();
        trace.loads.push(loads(front, rear));
    }
    trace.ramp(0.4, [0.0; 4]).empty(1.5).noisy(0.5, seed ^ 0xABCD)
}
