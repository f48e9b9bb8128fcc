//! Counted events: a cow's own rate as a gamma distribution, and what a day's count says about the states.

/// Most events that her own rate may be worth: more would deny that days differ. Our choice (a day's rate then varies
/// by 40 %).
const MOST_SHAPE: f64 = 6.0;
/// How many events the herd's rate is worth for a new cow.
const FIRST_SHAPE: f64 = 1.5;
/// Part of what is known that is kept from day to day.
const KEPT: f64 = 0.97;
/// Weight of the counts' evidence, against counts that come in bursts. Our choice.
const COUNT_WEIGHT: f64 = 0.5;

/// A rate: gamma with this shape and this exposure in minutes.
#[derive(Clone, Copy, Debug, serde::Serialize, serde::Deserialize)]
pub struct Rate {
    shape: f64,
    minutes: f64,
}

impl Rate {
    /// A new cow's rate, from the herd's events a minute.
    #[must_use]
    pub fn new(herd_per_minute: f64) -> Self {
        Self { shape: FIRST_SHAPE, minutes: FIRST_SHAPE / herd_per_minute.max(1e-3) }
    }

    /// Events a minute.
    #[must_use]
    pub fn per_minute(&self) -> f64 {
        self.shape / self.minutes
    }

    /// Logarithm of the likelihood of `count` events in `minutes` when the rate is `factor` times hers, against hers:
    /// negative binomial.
    #[must_use]
    pub fn evidence(&self, count: f64, minutes: f64, factor: f64) -> f64 {
        let bounded = self.shape.min(MOST_SHAPE);
        let own = self.minutes * bounded / self.shape;
        COUNT_WEIGHT
            * (count * factor.ln() - (bounded + count) * ((own + factor * minutes) / (own + minutes)).ln())
    }

    /// Learns from a day whose rate was `factor` times hers as far as is known.
    pub fn learn(&mut self, count: f64, minutes: f64, factor: f64) {
        self.shape = KEPT * self.shape + count;
        self.minutes = KEPT * self.minutes + minutes * factor;
        // A cow without events must not reach a rate of nothing.
        if self.shape < 0.3 {
            self.minutes *= 0.3 / self.shape;
            self.shape = 0.3;
        }
    }
}

/// The herd's events a minute, learned slowly.
#[derive(Clone, Copy, Debug, serde::Serialize, serde::Deserialize)]
pub struct HerdRate {
    events: f64,
    minutes: f64,
}

impl HerdRate {
    /// A first guess, worth ten minutes.
    #[must_use]
    pub const fn new(per_minute: f64) -> Self {
        Self { events: 10.0 * per_minute, minutes: 10.0 }
    }

    /// Events a minute.
    #[must_use]
    pub fn per_minute(&self) -> f64 {
        self.events / self.minutes
    }

    /// Learns from a day.
    pub fn learn(&mut self, events: f64, minutes: f64) {
        self.events = 0.99 * self.events + events;
        self.minutes = 0.99 * self.minutes + minutes;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_events_speak_for_the_higher_rate_and_none_against_it() {
        let rate = Rate { shape: 6.0, minutes: 6.0 };
        assert!(rate.evidence(5.0, 1.0, 2.0) > 0.5);
        assert!(rate.evidence(0.0, 1.0, 2.0) < 0.0);
        assert!(rate.evidence(3.0, 1.0, 1.0).abs() < 1e-12);
    }

    #[test]
    fn her_rate_moves_from_the_herds_to_hers() {
        let mut rate = Rate::new(1.0);
        for _ in 0..60 {
            rate.learn(3.0, 1.0, 1.0);
        }
        assert!((rate.per_minute() - 3.0).abs() < 0.05);
    }
}
