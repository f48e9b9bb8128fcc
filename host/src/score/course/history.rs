//! The smoothed history: what each day looks like in the light of all days, later ones too. Never the day table.

use crate::record::{AnimalId, Place};
use crate::score::model::cow::Filter;
use crate::score::model::hypotheses::{Hypotheses, PLACES, SOUND, STATES, parts};
use jiff::civil::Date;

/// A day of the filter, kept for the smoother.
#[derive(Clone, Debug)]
pub struct Recorded {
    date: Date,
    probability: [f32; STATES],
    seen: [f32; STATES],
    measured: bool,
}

impl Recorded {
    /// Of the filter's last day.
    #[must_use]
    pub fn of(date: Date, filter: &Filter, measured: bool) -> Self {
        let (probability, seen) =
            filter.chain_days.back().map_or(([0.0; STATES], [1.0; STATES]), |d| (d.probability, d.seen));
        Self { date, probability, seen, measured }
    }
}

/// One day of the smoothed history.
#[derive(Clone, Debug, PartialEq)]
pub struct HistoryDay {
    /// Which animal.
    pub animal: AnimalId,
    /// The local day.
    pub date: Date,
    /// Probability that an observer would have scored her 2 or more, before the farm's link.
    pub smoothed_probability: f64,
    /// Probability that she was lame at all, visibly or not.
    pub smoothed_lame: f64,
    /// Where, if she was.
    pub place: Option<Place>,
    /// Probability of that place, if she was.
    pub place_probability: Option<f64>,
    /// Whether she was measured that day.
    pub measured: bool,
}

/// Place and its probability given that she is lame; `None` where she hardly can be.
#[must_use]
pub fn likeliest_place(probability: impl Fn(usize) -> f64) -> Option<(Place, f64, [f64; PLACES])> {
    let mut places = [0.0; PLACES];
    for s in 0..STATES {
        if let Some((place, _)) = parts(s) {
            places[place] += probability(s);
        }
    }
    let lame: f64 = places.iter().sum();
    if lame < 1e-6 {
        return None;
    }
    places.iter_mut().for_each(|p| *p /= lame);
    let best = (0..PLACES).max_by(|&a, &b| places[a].total_cmp(&places[b]))?;
    Some((Place::ALL[best], places[best], places))
}

/// Smooths one cow's days.
#[must_use]
pub fn smooth(animal: &AnimalId, days: &[Recorded], hypotheses: &Hypotheses) -> Vec<HistoryDay> {
    let rows: Vec<_> = days.iter().map(|day| (&day.probability, &day.seen)).collect();
    let smoothed = hypotheses.alone.smooth(&rows);
    days.iter()
        .zip(smoothed)
        .map(|(day, p)| {
            let place = likeliest_place(|s| p[s]);
            HistoryDay {
                animal: animal.clone(),
                date: day.date,
                smoothed_probability: (0..STATES).map(|s| p[s] * hypotheses.scored[s]).sum(),
                smoothed_lame: 1.0 - p[SOUND],
                place: place.map(|p| p.0),
                place_probability: place.map(|p| p.1),
                measured: day.measured,
            }
        })
        .collect()
}
