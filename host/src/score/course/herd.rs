//! What is known of the herd and its lanes, and what a day of all its cows teaches.

use crate::record::ObserverPrior;
use crate::score::course::price::Price;
use crate::score::course::track::{DayFigures, Track};
use crate::score::evidence::anchor::Anchor;
use crate::score::evidence::index::{HOURS, IndexedPassage};
use crate::score::evidence::lane::LaneShift;
use crate::score::evidence::plates::Plates;
use crate::score::model::features::{CLASSES, MEASURES, Measured};
use crate::score::model::noise::Noise;
use crate::score::model::observer::Learner;
use crate::score::model::prior::HerdPrior;
use crate::score::model::rates::{HerdRate, Rate};
use serde::{Deserialize, Serialize};

/// How many passages make an hour's own middle count as much as none. Our choice.
const HOUR_WORTH: f64 = 60.0;
/// Passages over which it is remembered.
const HOUR_MEMORY: f64 = 3_000.0;
/// First guess of a cow's events a minute: rear steps of sound cows, 1.0 (Chapinal & Tucker 2012), for the shifts of each
/// pair; lifts of one leg, our choice.
const FIRST_RATES: [f64; 6] = [1.0, 1.0, 0.2, 0.2, 0.2, 0.2];
/// Days of the run during which the herd's middle is learned daily, then weekly.
const YOUNG_RUN: i64 = 30;
/// Events that make a herd's day count as much as an ordinary one.
const EVENTS_WORTH: f64 = 20.0;

/// The middle of what passages of an hour differ by.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub(super) struct Hour {
    mean: [f64; MEASURES + 1],
    seen: [f64; MEASURES + 1],
}

/// What is known of the herd and its lanes.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Herd {
    pub(super) noise: Noise,
    pub(super) prior: HerdPrior,
    pub(super) prior_known: bool,
    pub(super) rates: [HerdRate; 6],
    pub(super) hours: [Hour; HOURS],
    pub(super) lanes: Vec<LaneShift>,
    /// By lane.
    pub(super) plates: Vec<Plates>,
    pub(super) anchor: Anchor,
    pub(super) learner: Learner,
    pub(super) price: Price,
}

impl Herd {
    pub(super) fn new(prior: ObserverPrior) -> Self {
        let empty = Hour { mean: [0.0; MEASURES + 1], seen: [0.0; MEASURES + 1] };
        Self {
            noise: Noise::new(),
            prior: HerdPrior::new(),
            prior_known: false,
            rates: FIRST_RATES.map(HerdRate::new),
            hours: [empty; HOURS],
            lanes: Vec::new(),
            plates: Vec::new(),
            anchor: Anchor::default(),
            learner: Learner::new(prior),
            price: Price::default(),
        }
    }

    pub(super) fn hour_shift(&self, hour: usize) -> [f64; MEASURES + 1] {
        std::array::from_fn(|k| {
            let hours = &self.hours[hour];
            hours.mean[k] * hours.seen[k] / (hours.seen[k] + HOUR_WORTH)
        })
    }

    pub(super) fn new_rates(&self) -> [Rate; 6] {
        self.rates.map(|r| Rate::new(r.per_minute()))
    }

    pub(super) fn learn(&mut self, done: &[Option<DayFigures>], day_of_run: i64, tracks: &[Track]) {
        for done in done.iter().flatten() {
            for lesson in &done.lessons {
                self.noise.learn(lesson);
                let hour = &mut self.hours[lesson.hour];
                for k in 0..=MEASURES {
                    let (residual, variance) = if k < MEASURES {
                        (lesson.residual[k], self.noise.variance(lesson.class, k) + lesson.known[k])
                    } else {
                        (lesson.weight, self.noise.weight())
                    };
                    if residual.is_nan() {
                        continue;
                    }
                    let limit = 3.0 * variance.sqrt();
                    hour.seen[k] = (hour.seen[k] + 1.0).min(HOUR_MEMORY);
                    hour.mean[k] += residual.clamp(-limit, limit) / hour.seen[k];
                }
            }
            for (one, other) in &done.pairs {
                self.noise.learn_common(one, other);
            }
            if let Some((one, other)) = &done.neighbours {
                self.noise.learn_hang(one, other);
            }
            if let Some(lesson) = &done.swing {
                self.noise.learn_swing(lesson);
            }
        }
        self.centre_hours();
        if day_of_run < YOUNG_RUN || day_of_run % 7 == 0 {
            let known: Vec<_> = tracks.iter().filter_map(|t| t.known_baseline()).collect();
            if known.len() >= 3 {
                self.prior.learn(&known);
            }
        }
    }

    /// Hours only tell passages of one day apart: their common middle belongs to the cows.
    fn centre_hours(&mut self) {
        for k in 0..=MEASURES {
            let seen: f64 = self.hours.iter().map(|h| h.seen[k]).sum();
            if seen > 0.0 {
                let middle = self.hours.iter().map(|h| h.seen[k] * h.mean[k]).sum::<f64>() / seen;
                self.hours.iter_mut().filter(|h| h.seen[k] > 0.0).for_each(|h| h.mean[k] -= middle);
            }
        }
    }
}

/// On the first day nobody has a baseline: the herd's middle comes from the day itself.
pub(super) fn first_prior(
    state: &mut Herd,
    tracks: &[Track],
    by_cow: &[Vec<IndexedPassage>],
    day: i64,
    without_hour: &impl Fn(&IndexedPassage) -> Measured,
) {
    let mut cows = Vec::new();
    for (track, today) in tracks.iter().zip(by_cow).filter(|(_, today)| !today.is_empty()) {
        let mut value = [f64::NAN; MEASURES];
        let mut error = [0.0; MEASURES];
        for k in 0..MEASURES {
            let (mut sum, mut weight) = (0.0, 0.0);
            for ready in today {
                let measured = without_hour(ready);
                if !measured.value[k].is_nan() {
                    let w = 1.0 / (state.noise.variance(measured.class, k) + measured.stated[k]);
                    sum += w * measured.value[k];
                    weight += w;
                }
            }
            if weight > 0.0 {
                value[k] = sum / weight;
                error[k] = 1.0 / weight;
            }
        }
        cows.push((track.group(day), value, error));
    }
    if !cows.is_empty() {
        state.prior.learn(&cows);
        state.prior_known = true;
    }
}

/// How many more events than expected the whole herd shows today, by kind: flies and heat make every cow shift.
pub(super) fn herd_events(state: &mut Herd, tracks: &[Track], by_cow: &[Vec<IndexedPassage>]) -> [f64; 6] {
    let mut events = [0.0; 6];
    let mut expected = [0.0; 6];
    let mut minutes = 0.0;
    for (track, today) in tracks.iter().zip(by_cow) {
        for ready in today {
            let counts = &ready.measured.counts;
            if counts.minutes <= 0.0 {
                continue;
            }
            let [front, rear] = counts.shifts;
            let [lf, rf, lr, rr] = counts.lifts;
            minutes += counts.minutes;
            for (i, count) in [front, rear, lf, rf, lr, rr].into_iter().enumerate() {
                events[i] += count;
                expected[i] += counts.minutes * track.event_rate(i).unwrap_or(state.rates[i].per_minute());
            }
        }
    }
    std::array::from_fn(|i| {
        let factor = (events[i] + EVENTS_WORTH) / (expected[i] + EVENTS_WORTH);
        state.rates[i].learn(events[i], minutes);
        factor
    })
}

const _: () = assert!(CLASSES == 3, "noise is first guessed for three classes");

#[cfg(test)]
mod tests;
