//! Sums over the blocks of standing, and what they give.
//!
//! The standard error of a mean share comes from batch means: blocks are summed into at most [`BATCHES`] batches
//! of equal length, which are merged in pairs when all are used. Batches of a short stance are still correlated,
//! so their lag-one correlation widens the error as for a first-order autoregression.

use super::summary::Standing;
use crate::{plate::PerLeg, units::Estimate};

/// Batches kept.
const BATCHES: usize = 16;
/// Fewest batches to estimate their correlation from; with fewer the prior correlation is taken. Our choice.
const FEWEST_BATCHES: f32 = 4.0;
/// Correlation time assumed before the batches say otherwise, s: cows sway and shift over about a second. Our
/// choice; common practice gives no figure.
const PRIOR_CORRELATION_S: f32 = 0.5;
/// What the prior weighs, in batches; our choice.
const PRIOR_BATCHES: f32 = 4.0;
/// Largest correlation of neighbouring batches that is believed; our choice.
const MAX_CORRELATION: f32 = 0.75;
/// Least share of the true spread that is taken to be left about the sample's own mean; our choice.
const LEAST_LEFT: f32 = 0.4;

/// Running sums of one passage's standing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    origin: [f32; 4],
    count: f32,
    sum: [f32; 4],
    squares: [f32; 4],
    seconds: f32,
    batches: [[f32; 4]; BATCHES],
    full: usize,
    per_batch: u32,
    in_batch: u32,
}

impl Tally {
    /// Adds one block of `seconds` with its mean loads, kg.
    pub fn add(&mut self, loads: [f32; 4], seconds: f32) {
        if self.count == 0.0 {
            self.origin = loads;
            self.per_batch = 1;
        }
        self.count += 1.0;
        self.seconds += seconds;
        for (((sum, square), x), origin) in
            self.sum.iter_mut().zip(&mut self.squares).zip(loads).zip(self.origin)
        {
            let d = x - origin;
            *sum += d;
            *square += d * d;
        }
        if self.full == BATCHES {
            self.merge();
        }
        if let Some(batch) = self.batches.get_mut(self.full) {
            for (batch, x) in batch.iter_mut().zip(loads) {
                *batch += x;
            }
        }
        self.in_batch += 1;
        if self.in_batch == self.per_batch {
            self.in_batch = 0;
            self.full += 1;
        }
    }

    fn merge(&mut self) {
        merge(&mut self.batches, |[[a, b, c, d], [e, f, g, h]]| [a + e, b + f, c + g, d + h]);
        self.full = BATCHES / 2;
        self.per_batch *= 2;
    }

    /// Time added, s.
    #[must_use]
    pub const fn seconds(&self) -> f32 {
        self.seconds
    }

    fn means(&self) -> [f32; 4] {
        let mut mean = self.origin;
        for (mean, sum) in mean.iter_mut().zip(self.sum) {
            *mean += sum / self.count;
        }
        mean
    }

    /// Body weight, kg, from the mean of the total.
    #[must_use]
    pub fn body_weight(&self) -> Option<Estimate> {
        if self.count == 0.0 {
            return None;
        }
        let value = total(self.means());
        #[allow(clippy::cast_precision_loss)]
        let per_batch = self.per_batch as f32;
        let se = self.standard_error(|loads| total(loads) / per_batch);
        Some(Estimate { value, se })
    }

    /// Shares, their SD and their standard errors; counts of shifts and lifts are left at zero.
    #[must_use]
    pub fn standing(&self) -> Option<Standing> {
        if self.count == 0.0 {
            return None;
        }
        let mean = self.means();
        let weight = total(mean);
        if weight <= 0.0 {
            return None;
        }
        let percent = 100.0 / weight;
        let mut sd = [0.0; 4];
        for ((sd, square), sum) in sd.iter_mut().zip(self.squares).zip(self.sum) {
            let shift = sum / self.count;
            let variance = (square / self.count - shift * shift).max(0.0);
            *sd = percent * libm::sqrtf(variance * self.count / (self.count - 1.0).max(1.0));
        }
        let mut se = [0.0; 4];
        for (leg, se) in se.iter_mut().enumerate() {
            *se = self.standard_error(|loads| {
                let all = total(loads);
                if all > 0.0 { 100.0 * loads.get(leg).copied().unwrap_or(0.0) / all } else { 0.0 }
            });
        }
        Some(Standing {
            seconds: self.seconds,
            share_pct: PerLeg(mean.map(|x| x * percent)),
            share_sd_pct: PerLeg(sd),
            share_se_pct: PerLeg(se),
            ..Standing::default()
        })
    }

    /// Standard error of the mean of `measure`, which is taken of each batch.
    fn standard_error(&self, measure: impl Fn([f32; 4]) -> f32) -> f32 {
        let (mut n, mut sum, mut squares, mut products) = (0.0_f32, 0.0, 0.0, 0.0);
        let first = self.batches.first().map_or(0.0, |b| measure(*b));
        let mut last = None;
        for batch in self.batches.iter().take(self.full) {
            let d = measure(*batch) - first;
            n += 1.0;
            sum += d;
            squares += d * d;
            if let Some(last) = last {
                products += d * last;
            }
            last = Some(d);
        }
        if n < 2.0 {
            return 0.0;
        }
        let mean = sum / n;
        let within = (squares - n * mean * mean).max(0.0);
        if within <= f32::EPSILON * squares.max(1.0) {
            return 0.0;
        }
        // Sum of (d[i] - mean)(d[i+1] - mean); the first d is 0, the last is `last`.
        let end = last.unwrap_or(0.0);
        let lagged = products - mean * (2.0 * sum - end) + (n - 1.0) * mean * mean;
        let raw = lagged / within;
        // The lag-one correlation of a short series about its own mean comes out low, by some 1/n.
        let unbiased = raw + (1.0 + raw) / n;
        let batch_s = self.seconds / n;
        let prior = libm::expf(-batch_s / PRIOR_CORRELATION_S);
        let weight = if n >= FEWEST_BATCHES { n } else { 0.0 };
        let correlation = ((weight * unbiased + PRIOR_BATCHES * prior) / (weight + PRIOR_BATCHES))
            .clamp(0.0, MAX_CORRELATION);
        let inflation = (1.0 + correlation) / (1.0 - correlation);
        // The spread about the sample's own mean is too small by the part that the mean has taken up.
        let taken = (1.0 - inflation / n).max(LEAST_LEFT);
        libm::sqrtf(within / (n * taken) * inflation / n)
    }
}

/// Puts one entry in the place of each two, at the start, in place: the rest is nothing.
pub fn merge<T: Copy + Default>(entries: &mut [T], one_of: impl Fn([T; 2]) -> T) {
    let half = entries.len() / 2;
    for to in 0..half {
        if let Some(&[a, b]) = entries.get(2 * to..).and_then(<[T]>::first_chunk)
            && let Some(entry) = entries.get_mut(to)
        {
            *entry = one_of([a, b]);
        }
    }
    entries.iter_mut().skip(half).for_each(|entry| *entry = T::default());
}

/// Sum over the plates.
#[must_use]
pub fn total(loads: [f32; 4]) -> f32 {
    let [a, b, c, d] = loads;
    a + b + c + d
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: [f32; 4], wanted: [f32; 4]) {
        assert!(found.iter().zip(wanted).all(|(f, w)| (f - w).abs() < 1e-4), "{found:?} {wanted:?}");
    }

    // By hand: means of 105, 95, 100 and 100 kg of 400; 100 and 110 have an SD of 7.0711 kg, 1.767_77 % of 400.
    #[test]
    fn shares_and_their_spread_are_parts_of_the_mean_total() {
        let mut tally = Tally::default();
        assert!(tally.standing().is_none() && tally.body_weight().is_none());
        tally.add([100.0; 4], 0.1);
        tally.add([110.0, 90.0, 100.0, 100.0], 0.3);
        let standing = tally.standing().unwrap();
        assert!((standing.seconds - 0.4).abs() < 1e-6);
        near(standing.share_pct.0, [26.25, 23.75, 25.0, 25.0]);
        near(standing.share_sd_pct.0, [1.767_77, 1.767_77, 0.0, 0.0]);
        // Two batches, 2.5 % apart, of .2 s each: correlation e^-.4 = .670_32, inflation 5.066_49, .4 of the spread left;
        // sqrt(3.125 / .8 * 5.066_49 / 2).
        near(standing.share_se_pct.0, [3.145_71, 3.145_71, 0.0, 0.0]);
        assert_eq!(tally.body_weight().unwrap().value, 400.0);
    }

    #[test]
    fn nobody_on_the_deck_has_no_shares() {
        let mut tally = Tally::default();
        tally.add([0.0; 4], 0.1);
        assert!(tally.standing().is_none());
    }
}
