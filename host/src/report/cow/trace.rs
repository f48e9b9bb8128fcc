//! The trace of a passage: the loads as they were, and how she shifted her weight while she stood.

use crate::arithmetic::spectrum::{ShiftSpectrum, shift_spectrum};
use shared::plate::{Pair, PerLeg};
use shared::wire::TraceDecoder;
use std::ops::Range;

/// She stands while every plate carries this part of the load at least, and all together that part of the most. Our
/// choice: feet that are put down and lifted are walking.
const EACH_PART: f32 = 0.05;
const WHOLE_PART: f32 = 0.8;

/// Loads by time, and when she stood.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Seconds from the first sample, and kg on each plate.
    pub samples: Vec<(f64, PerLeg<f32>)>,
    /// The longest stretch of standing.
    pub stance: Range<usize>,
}

impl Trace {
    /// Of the samples as the store keeps them; `None` where they cannot be read or there are none.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "times of a passage")]
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let read: Vec<_> = TraceDecoder::new(bytes).collect::<Result<_, _>>().ok()?;
        let begin = read.first()?.time.0;
        let samples: Vec<_> = read
            .iter()
            .map(|sample| {
                let seconds = sample.time.0.saturating_sub(begin) as f64 / 1000.0;
                (seconds, PerLeg(sample.loads().0.map(|load| load.0)))
            })
            .collect();
        let stance = stance(&samples);
        Some(Self { samples, stance })
    }

    /// The weight shifting of the front and of the rear pair; `None` where she stood too briefly.
    #[must_use]
    pub fn shifting(&self) -> [Option<ShiftSpectrum>; 2] {
        [Pair::Front, Pair::Rear].map(|pair| shift_spectrum(&self.samples[self.stance.clone()], pair))
    }
}

fn stance(samples: &[(f64, PerLeg<f32>)]) -> Range<usize> {
    let total = |loads: &PerLeg<f32>| loads.0.iter().sum::<f32>();
    let most = samples.iter().map(|(_, loads)| total(loads)).fold(0.0, f32::max);
    let stands = |loads: &PerLeg<f32>| {
        let sum = total(loads);
        sum > WHOLE_PART * most && loads.0.iter().all(|load| *load > EACH_PART * sum)
    };
    let (mut longest, mut from) = (0..0, 0);
    for (at, (_, loads)) in samples.iter().enumerate() {
        if !stands(loads) {
            from = at + 1;
        } else if at + 1 - from > longest.len() {
            longest = from..at + 1;
        }
    }
    longest
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use shared::plate::PerPlate;
    use shared::units::{Kilograms, Milliseconds};
    use shared::wire::{Sample, TraceEncoder};

    /// Ten seconds of standing at 100 Hz between two of walking on; the rear pair sways by 10 points once a second.
    pub(crate) fn walked_and_stood() -> Vec<u8> {
        let (mut encoder, mut bytes) = (TraceEncoder::new(), Vec::new());
        for i in 0..1200_u32 {
            let time = f64::from(i) / 100.0;
            let sway = 30.0 * (std::f64::consts::TAU * time).sin();
            #[allow(clippy::cast_possible_truncation)]
            let loads = if (200..1200).contains(&i) {
                [160.0, 160.0, (140.0 - sway / 2.0) as f32, (140.0 + sway / 2.0) as f32]
            } else {
                [300.0, 0.0, 0.0, 0.0]
            };
            let sample =
                Sample::of_loads(Milliseconds(u64::from(5000 + 10 * i)), &PerPlate(loads.map(Kilograms)));
            let mut out = [0; 64];
            let length = encoder.push(&sample, &mut out).unwrap();
            bytes.extend_from_slice(&out[..length]);
        }
        bytes
    }

    #[test]
    fn she_stands_from_the_fourth_foot_on_and_shifts_once_a_second() {
        let trace = Trace::read(&walked_and_stood()).unwrap();
        assert_eq!((trace.samples.len(), trace.stance.clone()), (1200, 200..1200));
        assert_eq!(trace.samples[100].0, 1.0);
        let [front, rear] = trace.shifting();
        assert!(front.unwrap().band_power < 1e-6);
        let rear = rear.unwrap();
        assert!((rear.dominant_hz.unwrap() - 1.0).abs() < 0.2, "{:?}", rear.dominant_hz);
        // The right share is 50 +- 100 * 15 / 280 points: a sine of that height has half its square as power.
        let height: f64 = 100.0 * 15.0 / 280.0;
        assert!((rear.band_power / (height * height / 2.0) - 1.0).abs() < 0.15, "{}", rear.band_power);
    }

    #[test]
    fn what_cannot_be_read_is_none() {
        assert_eq!(Trace::read(&[]), None);
        assert_eq!(Trace::read(&walked_and_stood()[..3]), None);
    }

    // A twentieth of 600 kg is 30 kg: a foot with 29 is on its way, one with 31 stands.
    #[test]
    fn a_foot_that_carries_less_than_a_twentieth_does_not_stand() {
        let with = |last: f32| {
            let loads = PerLeg([200.0, 200.0, 200.0 - last, last]);
            stance(&[(0.0, loads), (0.1, loads)])
        };
        assert_eq!(with(29.0), 0..0);
        assert_eq!(with(31.0), 0..2);
    }
}
