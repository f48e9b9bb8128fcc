//! What a day of hers teaches: about the herd's noise, her own, and how her usual values swing.

use crate::score::course::track::{Context, DayFigures, Track};
use crate::score::model::cow::{DayMeasure, Expected, Filter};
use crate::score::model::features::{MEASURES, Measured, PerMeasure};
use crate::score::model::noise::{SWING_LAGS, SwingLesson};

impl Track {
    pub(super) fn teach(
        &mut self,
        filter: &mut Filter,
        hers: &[(Measured, usize)],
        expected: &Expected,
        day: &DayMeasure,
        context: &Context<'_>,
        done: &mut DayFigures,
    ) {
        let noise = context.noise;
        for (passage, hour) in hers {
            let weight = self.identity.weight_off(passage, noise.weight()).map_or(f64::NAN, |o| o.0);
            done.lessons.push(filter.lesson(passage, expected, *hour, weight));
        }
        let in_sd = |value: f64, variance: f64, k: usize| {
            (value - expected.mean[k]) / (variance + expected.variance[k]).sqrt()
        };
        if let [one, other, ..] = hers {
            let standard = |passage: &Measured| -> PerMeasure {
                std::array::from_fn(|k| {
                    in_sd(passage.value[k], filter.passage_variance(noise, passage, k), k)
                })
            };
            done.pairs.push((standard(&one.0), standard(&other.0)));
        }
        let (long, short) = SWING_LAGS;
        while self.days.front().is_some_and(|d| d.0 < context.day - long) {
            self.days.pop_front();
        }
        filter.learn_scale(day, &self.lately());
        let now: PerMeasure = std::array::from_fn(|k| in_sd(day.value[k], day.variance[k], k));
        if let Some((_, before)) = self.taught.filter(|taught| taught.0 == context.day - 1) {
            done.neighbours = Some((before, now));
        }
        self.taught = Some((context.day, now));
        let before = |days: i64| self.days.iter().find(|d| d.0 == context.day - days);
        done.swing = before(long).zip(before(short)).map(|(long, short)| SwingLesson {
            long: std::array::from_fn(|k| day.value[k] - long.1[k]),
            short: std::array::from_fn(|k| day.value[k] - short.1[k]),
            variance: std::array::from_fn(|k| day.variance[k] + long.2[k]),
        });
        self.days.push_back((context.day, day.value, day.variance));
    }

    /// What she showed last in the fortnight before, and its error variance; NaN where nothing of a measure was seen.
    fn lately(&self) -> (PerMeasure, PerMeasure) {
        let mut lately = ([f64::NAN; MEASURES], [0.0; MEASURES]);
        for (_, value, variance) in &self.days {
            for k in (0..MEASURES).filter(|&k| !value[k].is_nan()) {
                (lately.0[k], lately.1[k]) = (value[k], variance[k]);
            }
        }
        lately
    }
}
