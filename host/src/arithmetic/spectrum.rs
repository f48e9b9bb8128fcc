//! How often and how strongly a cow shifts her weight: the spectrum of the left-right split of a trace.
//!
//! Welch's method: segments of at most [`SEGMENT_S`] with 50 % overlap, a Hann window (periodic), the mean of each
//! segment taken out, one-sided density. It gives the same numbers as `scipy.signal.welch` with its defaults.

use rustfft::{FftPlanner, num_complex::Complex};
use shared::plate::{Leg, Pair, PerLeg};

/// Length of a Welch segment, s; our choice: resolves 0.1 Hz, leaves several segments in half a minute.
pub const SEGMENT_S: f64 = 10.24;
/// Fewest seconds of standing that are worth a spectrum; our choice.
pub const SHORTEST_S: f64 = 5.0;
/// The band of weight shifting, Hz; our choice: above posture, which drifts over many seconds, and below the deck's
/// ringing and heel strikes.
pub const SHIFT_BAND_HZ: (f64, f64) = (0.2, 3.0);

/// Power spectral density at evenly spaced frequencies.
#[derive(Clone, Debug, PartialEq)]
pub struct Density {
    /// Step between frequencies, Hz; the first is 0.
    pub step_hz: f64,
    /// Density, squared unit of the signal per Hz.
    pub density: Vec<f64>,
    /// Segments averaged.
    pub segments: usize,
}

impl Density {
    /// Power between two frequencies, squared unit of the signal (trapezoid rule over the bins inside).
    #[must_use]
    pub fn band_power(&self, (low, high): (f64, f64)) -> f64 {
        let inside: Vec<f64> =
            self.bins().filter(|(hz, _)| (low..=high).contains(hz)).map(|(_, d)| d).collect();
        inside.windows(2).map(|pair| 0.5 * (pair[0] + pair[1]) * self.step_hz).sum()
    }

    /// Frequency of the highest density between two frequencies, Hz.
    #[must_use]
    pub fn dominant_hz(&self, (low, high): (f64, f64)) -> Option<f64> {
        self.bins()
            .filter(|(hz, density)| (low..=high).contains(hz) && *density > 0.0)
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(hz, _)| hz)
    }

    /// Frequency (Hz) and density of every bin.
    #[allow(clippy::cast_precision_loss)]
    pub fn bins(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.density.iter().enumerate().map(|(i, density)| (i as f64 * self.step_hz, *density))
    }
}

/// Welch's power spectral density of evenly spaced samples; none where there are fewer than two samples or the rate
/// is not a positive number. `segment` is shortened to the length of the signal.
#[must_use]
#[allow(clippy::cast_precision_loss)]
pub fn welch(signal: &[f64], rate_hz: f64, segment: usize) -> Option<Density> {
    let length = segment.min(signal.len());
    if length < 2 || !rate_hz.is_finite() || rate_hz <= 0.0 {
        return None;
    }
    let window: Vec<f64> =
        (0..length).map(|i| 0.5 - 0.5 * (core::f64::consts::TAU * i as f64 / length as f64).cos()).collect();
    let power: f64 = window.iter().map(|w| w * w).sum();
    let fft = FftPlanner::new().plan_fft_forward(length);
    let mut scratch = vec![Complex::default(); fft.get_inplace_scratch_len()];
    let mut density = vec![0.0; length / 2 + 1];
    let mut segments = 0;
    for part in signal.windows(length).step_by(length - length / 2) {
        let mean = part.iter().sum::<f64>() / length as f64;
        let mut bins: Vec<_> =
            part.iter().zip(&window).map(|(x, w)| Complex::new((x - mean) * w, 0.0)).collect();
        fft.process_with_scratch(&mut bins, &mut scratch);
        density.iter_mut().zip(&bins).for_each(|(sum, bin)| *sum += bin.norm_sqr());
        segments += 1;
    }
    let scale = 1.0 / (rate_hz * power * f64::from(segments));
    let last = density.len() - 1;
    for (i, value) in density.iter_mut().enumerate() {
        // Every bin but 0 Hz and, for an even length, the last stands for its negative frequency as well.
        let one_sided = if i == 0 || (length.is_multiple_of(2) && i == last) { 1.0 } else { 2.0 };
        *value *= scale * one_sided;
    }
    Some(Density { step_hz: rate_hz / length as f64, density, segments: segments as usize })
}

/// The weight shifting of one pair of legs.
#[derive(Clone, Debug, PartialEq)]
pub struct ShiftSpectrum {
    /// Density of the split: right leg's share of the pair's load, %^2 per Hz.
    pub density: Density,
    /// Power within [`SHIFT_BAND_HZ`], %^2.
    pub band_power: f64,
    /// Strongest frequency within [`SHIFT_BAND_HZ`], Hz.
    pub dominant_hz: Option<f64>,
}

/// The spectrum of a pair's left-right split over a stretch of standing.
///
/// `samples` are times in seconds, rising, and loads in kg; they are brought to an even spacing by straight lines.
/// None where she stands for less than [`SHORTEST_S`] or a pair carries nothing.
#[must_use]
#[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation, clippy::cast_sign_loss)]
pub fn shift_spectrum(samples: &[(f64, PerLeg<f32>)], pair: Pair) -> Option<ShiftSpectrum> {
    let (first, last) = (samples.first()?.0, samples.last()?.0);
    if !(last - first).is_finite() || last - first < SHORTEST_S {
        return None;
    }
    let rate_hz = (samples.len() - 1) as f64 / (last - first);
    let split = samples.iter().map(|(time, loads)| split_pct(loads, pair.legs()).map(|split| (*time, split)));
    let split: Vec<_> = split.collect::<Option<_>>()?;
    let even = evenly(&split, rate_hz);
    let density = welch(&even, rate_hz, (SEGMENT_S * rate_hz).round() as usize)?;
    let (band_power, dominant_hz) = (density.band_power(SHIFT_BAND_HZ), density.dominant_hz(SHIFT_BAND_HZ));
    Some(ShiftSpectrum { density, band_power, dominant_hz })
}

fn split_pct(loads: &PerLeg<f32>, (left, right): (Leg, Leg)) -> Option<f64> {
    let (left, right) = (f64::from(loads[left]), f64::from(loads[right]));
    let pair = left + right;
    (pair.is_finite() && pair > 0.0).then(|| 100.0 * right / pair)
}

/// The signal at `rate_hz` from its first to its last time, by straight lines.
#[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn evenly(signal: &[(f64, f64)], rate_hz: f64) -> Vec<f64> {
    let (Some(first), Some(last)) = (signal.first(), signal.last()) else { return Vec::new() };
    let count = ((last.0 - first.0) * rate_hz).round() as usize + 1;
    let mut pairs = signal.windows(2).peekable();
    (0..count)
        .map(|i| {
            let time = first.0 + i as f64 / rate_hz;
            while pairs.peek().is_some_and(|pair| pair[1].0 < time) && pairs.len() > 1 {
                pairs.next();
            }
            pairs.peek().map_or(last.1, |pair| {
                let ((t0, x0), (t1, x1)) = (pair[0], pair[1]);
                if t1 > t0 { x0 + (x1 - x0) * ((time - t0) / (t1 - t0)).clamp(0.0, 1.0) } else { x1 }
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn numbers(value: &Value) -> Vec<f64> {
        value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
    }

    /// Against `scipy.signal.welch(x, fs, "hann", nperseg)` and numpy's trapezoid: `tests/oracles/welch.py`.
    #[test]
    fn density_is_that_of_scipy() {
        let oracle: Value = serde_json::from_str(include_str!("../../../tests/oracles/welch.json")).unwrap();
        let signal = numbers(&oracle["signal"]);
        for case in oracle["cases"].as_array().unwrap() {
            let segment = case["segment"].as_u64().unwrap() as usize;
            let rate = case["rate_hz"].as_f64().unwrap();
            let found = welch(&signal, rate, segment).unwrap();
            let expected = numbers(&case["density"]);
            assert_eq!(found.density.len(), expected.len());
            let largest = expected.iter().copied().fold(0.0, f64::max);
            for ((hz, found), expected) in found.bins().zip(&expected) {
                assert!((found - expected).abs() <= 1e-6 * largest, "{hz} Hz: {found}, SciPy {expected}");
            }
            let band = found.band_power(SHIFT_BAND_HZ);
            let expected = case["band_power"].as_f64().unwrap();
            assert!((band / expected - 1.0).abs() < 1e-6, "{band}, SciPy {expected}");
            let (found, expected) =
                (found.dominant_hz(SHIFT_BAND_HZ).unwrap(), case["dominant_hz"].as_f64().unwrap());
            assert!((found - expected).abs() < 1e-9, "{found} Hz, SciPy {expected}");
        }
    }

    // By hand: four readings to and fro at 2 Hz under the window 0, 1/2, 1, 1/2 of power 3/2 have the squares 0, 1 and 4; over
    // 2 * 3/2, and only the middle one twice.
    #[test]
    fn the_ends_of_an_even_spectrum_count_once() {
        let found = welch(&[1.0, -1.0, 1.0, -1.0], 2.0, 4).unwrap();
        for (found, wanted) in found.density.iter().zip([0.0, 2.0 / 3.0, 4.0 / 3.0]) {
            assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
        }
        assert_eq!((found.density.len(), found.segments, found.step_hz), (3, 1, 0.5));
    }

    // By hand: 10 a second from 5 to 6 s, 20 from 6 to 8 s, read twice a second; a reading that stands twice is the later one.
    #[test]
    fn readings_are_brought_to_an_even_spacing_by_straight_lines() {
        let found = evenly(&[(5.0, 0.0), (6.0, 10.0), (8.0, 50.0)], 2.0);
        assert_eq!(found, [0.0, 5.0, 10.0, 20.0, 30.0, 40.0, 50.0]);
        assert_eq!(evenly(&[(5.0, 1.0)], 2.0), [1.0]);
        assert_eq!(evenly(&[(0.0, 1.0), (0.0, 2.0)], 2.0), [2.0]);
        assert!(evenly(&[], 2.0).is_empty());
    }

    fn swaying(rate: f64, seconds: f64, hz: f64, amplitude_pct: f64) -> Vec<(f64, PerLeg<f32>)> {
        (0..=(rate * seconds) as usize)
            .map(|i| {
                // Readings come up to a third of their spacing late.
                let t = 1.6e9 + (i as f64 + 0.33 * f64::from(u8::try_from(i % 3).unwrap()) / 2.0) / rate;
                let share = 50.0 + amplitude_pct * (core::f64::consts::TAU * hz * (t - 1.6e9)).sin();
                let right = (2.6 * share) as f32;
                (t, PerLeg([160.0, 180.0, 260.0 - right, right]))
            })
            .collect()
    }

    /// A sine of amplitude a has the power a^2 / 2.
    #[test]
    fn a_sway_is_found_with_its_power() {
        for (rate, hz) in [(20.0, 0.5), (100.0, 0.8), (100.0, 2.0)] {
            let samples = swaying(rate, 40.0, hz, 6.0);
            let rear = shift_spectrum(&samples, Pair::Rear).unwrap();
            assert!((rear.dominant_hz.unwrap() - hz).abs() < 0.06, "{rear:?}");
            assert!((rear.band_power - 18.0).abs() < 0.9, "{rate} Hz, {hz} Hz: {}", rear.band_power);
            let front = shift_spectrum(&samples, Pair::Front).unwrap();
            assert!(front.band_power < 1e-6);
        }
    }

    // Five seconds are enough, whenever they begin.
    #[test]
    fn a_stretch_may_begin_at_nought() {
        for (from, seconds, found) in
            [(0.0, 5.0, true), (100.0, 5.0, true), (0.0, 4.99, false), (100.0, 4.99, false)]
        {
            let samples: Vec<_> =
                (0..=500).map(|i| (from + seconds * f64::from(i) / 500.0, PerLeg([1.0; 4]))).collect();
            assert_eq!(shift_spectrum(&samples, Pair::Rear).is_some(), found, "{from} {seconds}");
        }
    }

    #[test]
    fn nothing_to_say_is_none() {
        assert_eq!(shift_spectrum(&[], Pair::Front), None);
        assert_eq!(shift_spectrum(&swaying(50.0, 4.0, 1.0, 5.0), Pair::Rear), None);
        let empty: Vec<_> = (0..1000).map(|i| (f64::from(i) / 50.0, PerLeg([0.0; 4]))).collect();
        assert_eq!(shift_spectrum(&empty, Pair::Rear), None);
        assert_eq!(welch(&[1.0], 50.0, 10), None);
        assert_eq!(welch(&[1.0, 2.0, 3.0], f64::NAN, 10), None);
    }
}
