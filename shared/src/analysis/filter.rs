//! The low-pass filter of the loads and the band-pass that hears the deck ring.
//!
//! Low-pass: Bessel, fourth order, -3 dB at 5 Hz. A Bessel filter delays all frequencies of interest alike and
//! hardly overshoots, so a foot that lands hard does not look heavier; a Butterworth filter would add 11 %. At
//! 5 Hz a contact of half a second keeps its peak to within 2 %, while ringing of 8, 10, 12 and 15 Hz is left at
//! 0.37, 0.21, 0.12 and 0.05 of its size (at 200 Hz). What is left of ringing is averaged over 0.1 s before
//! shifts and lifts are looked for.

use core::f32::consts::PI;

/// Where the low-pass is down to 0.707, Hz; our choice, see the module.
pub const LOW_PASS_HZ: f32 = 5.0;

/// Delay of the low-pass, s: 2.114 / (2 pi 5 Hz), the delay at zero frequency of a fourth-order Bessel filter.
pub const LOW_PASS_DELAY_S: f32 = 0.067;

/// Pole pairs of the fourth-order Bessel low-pass scaled to -3 dB at 1 rad/s: frequency, quality.
/// The same as `scipy.signal.besselap(4, norm="mag")`.
const BESSEL_4: [(f32, f32); 2] = [(1.430_171_6, 0.521_934_6), (1.603_357_5, 0.805_538_3)];

/// Band where a knocked deck rings, Hz (`design`: some 8-15 Hz).
const RING_BAND_HZ: (f32, f32) = (8.0, 15.0);

/// The ring band's middle stays below this share of the rate, else it would pass the Nyquist limit.
const RING_MIDDLE_OF_RATE: f32 = 0.3;

/// Two equal band-passes in a row are down to 0.707 at the ends of the band if each has the quality of one
/// alone times this, the square root of (root 2 - 1). Two, so that neither a ramp of load nor a shift counts as
/// ringing.
const RING_WIDEN: f32 = 0.643_594_3;

/// A second-order section, transposed direct form II.
#[derive(Clone, Copy, Debug, Default)]
struct Biquad {
    b: [f32; 3],
    a: [f32; 2],
}

/// The memory of one section for one plate.
#[derive(Clone, Copy, Debug, Default)]
struct State(f32, f32);

impl Biquad {
    /// Low-pass with corner `omega` = tan(pi f / rate) and quality `q`.
    fn low_pass(omega: f32, q: f32) -> Self {
        let square = omega * omega;
        let norm = 1.0 / (1.0 + omega / q + square);
        let b0 = square * norm;
        Self { b: [b0, 2.0 * b0, b0], a: [2.0 * (square - 1.0) * norm, (1.0 - omega / q + square) * norm] }
    }

    /// Band-pass of gain 1 in the middle.
    fn band_pass(omega: f32, q: f32) -> Self {
        let square = omega * omega;
        let norm = 1.0 / (1.0 + omega / q + square);
        let b0 = omega / q * norm;
        Self { b: [b0, 0.0, -b0], a: [2.0 * (square - 1.0) * norm, (1.0 - omega / q + square) * norm] }
    }

    fn step(&self, state: &mut State, x: f32) -> f32 {
        let ([b0, b1, b2], [a1, a2]) = (self.b, self.a);
        let y = b0 * x + state.0;
        *state = State(b1 * x - a1 * y + state.1, b2 * x - a2 * y);
        y
    }

    /// The memory after a long time of input `x` and output `y`.
    fn settled(&self, x: f32, y: f32) -> State {
        let ([b0, _, b2], [_, a2]) = (self.b, self.a);
        State(y - b0 * x, b2 * x - a2 * y)
    }
}

fn warped(hz: f32, rate_hz: f32) -> f32 {
    tangent(PI * hz / rate_hz)
}

/// Tangent of 0 to 1 by Lambert's continued fraction, which is off by less than f32 can tell there. A library's
/// tangent reduces any angle, in f64: on the device that takes 5 KiB.
fn tangent(x: f32) -> f32 {
    let square = x * x;
    x / (1.0 - square / (3.0 - square / (5.0 - square / (7.0 - square / (9.0 - square / 11.0)))))
}

/// The low-pass of all four plates.
#[derive(Clone, Debug)]
pub struct LowPass {
    sections: [Biquad; 2],
    states: [[State; 2]; 4],
}

impl LowPass {
    /// A filter for readings at `rate_hz`, settled at no load.
    #[must_use]
    pub fn new(rate_hz: f32) -> Self {
        let corner = warped(LOW_PASS_HZ, rate_hz);
        Self { sections: BESSEL_4.map(|(f, q)| Biquad::low_pass(corner * f, q)), states: Default::default() }
    }

    /// Takes one reading and gives the filtered loads.
    pub fn push(&mut self, loads: [f32; 4]) -> [f32; 4] {
        let [first, second] = self.sections;
        let mut out = loads;
        for (x, [s1, s2]) in out.iter_mut().zip(&mut self.states) {
            *x = second.step(s2, first.step(s1, *x));
        }
        out
    }

    /// Sets the memory as if the loads had been like this for long.
    pub fn settle(&mut self, loads: [f32; 4]) {
        for (states, x) in self.states.iter_mut().zip(loads) {
            *states = self.sections.map(|section| section.settled(x, x));
        }
    }
}

/// The band-pass of all four plates.
#[derive(Clone, Debug)]
pub struct RingBand {
    section: Biquad,
    states: [[State; 2]; 4],
}

impl RingBand {
    /// A filter for readings at `rate_hz`, settled at no load.
    #[must_use]
    pub fn new(rate_hz: f32) -> Self {
        let (low, high) = RING_BAND_HZ;
        let middle = libm::sqrtf(low * high);
        let centre = middle.min(RING_MIDDLE_OF_RATE * rate_hz);
        Self {
            section: Biquad::band_pass(warped(centre, rate_hz), RING_WIDEN * middle / (high - low)),
            states: Default::default(),
        }
    }

    /// Takes one reading and gives the part of the loads within the band.
    pub fn push(&mut self, loads: [f32; 4]) -> [f32; 4] {
        let mut out = loads;
        for (x, [s1, s2]) in out.iter_mut().zip(&mut self.states) {
            *x = self.section.step(s2, self.section.step(s1, *x));
        }
        out
    }

    /// Sets the memory as if the loads had been like this for long.
    pub fn settle(&mut self, loads: [f32; 4]) {
        for (states, x) in self.states.iter_mut().zip(loads) {
            *states = [self.section.settled(x, 0.0), State::default()];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the standard library's tangent in f64, over every angle the filters ask for.
    #[test]
    fn the_tangent_is_right_to_the_last_digits() {
        for n in 1..=10_000_u16 {
            let x = f32::from(n) / 10_000.0;
            let exact = f64::from(x).tan();
            let off = (f64::from(tangent(x)) - exact).abs() / exact;
            assert!(off < 2.5e-7, "{x}: off by {off:e}");
        }
    }

    /// By hand, with omega = 1 (a quarter of the rate) and quality 2: 1 / (1 + 1/2 + 1) = 0.4.
    #[test]
    fn the_coefficients_are_those_of_the_bilinear_transform() {
        let (low, band) = (Biquad::low_pass(1.0, 2.0), Biquad::band_pass(1.0, 2.0));
        let near = |ours: &[f32], exact: &[f32]| {
            assert!(ours.iter().zip(exact).all(|(a, b)| (a - b).abs() < 1e-6), "{ours:?} {exact:?}");
        };
        near(&low.b, &[0.4, 0.8, 0.4]);
        near(&low.a, &[0.0, 0.6]);
        near(&band.b, &[0.2, 0.0, -0.2]);
        near(&band.a, &[0.0, 0.6]);
        // With omega = 2 and quality 1: 1 / (1 + 2 + 4) = 1/7.
        near(&Biquad::low_pass(2.0, 1.0).a, &[6.0 / 7.0, 3.0 / 7.0]);
        near(&Biquad::band_pass(2.0, 1.0).b, &[2.0 / 7.0, 0.0, -2.0 / 7.0]);
    }
}
