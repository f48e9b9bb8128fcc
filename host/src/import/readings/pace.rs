//! How many readings come in a second.

use crate::import::readings::rows::Timed;

/// Readings from which the rate is measured. Our choice: a second at the fastest rate.
pub(super) const RATE_READINGS: usize = 1000;
/// How far the rate of the whole file may lie from the one measured first. Our choice.
pub(super) const RATE_DRIFT: f64 = 0.1;

/// The rate: the mean of the steps that are near their median, so that gaps do not count.
pub(super) fn rate_hz(readings: &[Timed]) -> Option<f64> {
    let mut steps: Vec<i64> =
        readings.windows(2).map(|pair| pair[1].0 - pair[0].0).filter(|step| *step > 0).collect();
    steps.sort_unstable();
    let median = *steps.get(steps.len() / 2)?;
    let near: Vec<_> = steps.into_iter().filter(|step| step * 2 > median && *step * 2 < median * 3).collect();
    let sum: i64 = near.iter().sum();
    #[allow(clippy::cast_precision_loss, reason = "a few seconds in µs")]
    Some(1e6 * near.len() as f64 / sum as f64)
}

/// The rate over the whole file, gaps left out.
pub(super) struct Pace {
    rate: f64,
    longest: i64,
    last: Option<i64>,
    steps: u64,
    micros: i64,
}

impl Pace {
    #[allow(clippy::cast_possible_truncation)]
    pub(super) fn new(rate: f64) -> Self {
        Self { rate, longest: (2e6 / rate.max(1.0)) as i64 * 10, last: None, steps: 0, micros: 0 }
    }

    #[inline]
    pub(super) fn push(&mut self, time: i64) {
        if let Some(last) = self.last
            && (1..self.longest).contains(&(time - last))
        {
            self.steps += 1;
            self.micros += time - last;
        }
        self.last = Some(time);
    }

    /// The rate that was seen, where it is another.
    #[allow(clippy::cast_precision_loss)]
    pub(super) fn differs(&self) -> Option<f64> {
        let seen = (self.micros > 0).then(|| 1e6 * self.steps as f64 / self.micros as f64)?;
        ((seen / self.rate - 1.0).abs() > RATE_DRIFT).then_some(seen)
    }
}
