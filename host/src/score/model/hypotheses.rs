//! What may be the matter with her, and how each would show.

use crate::record::Place;
use crate::score::model::baseline::{LANES, Lanes, Shown, lanes};
use crate::score::model::chain::Chain;
use crate::score::model::features::{MEASURES, Measure, PerMeasure};
use crate::score::settings::{
    HALF_SCORED_POINTS, HALF_SCORED_WIDTH, LEFT_ALONE, LEVEL_POINTS, LevelRates, MOVED_PER_DAY, ONSET_LEVELS,
    PLACE_ONSET, PREVALENCE, SOUND_SCORED, STANDING_LEVELS, TAIL_FREEDOM, TREATED, UNSURE_EFFECT,
};
pub use shared::lane_score::{LEVELS, PLACES, STATES, states::parts};
use shared::lane_score::{MEASURES as LOADS, states};
use shared::plate::{Leg, Pair};

/// The state of a sound cow.
pub const SOUND: usize = 0;

/// The state of a place at a level.
#[must_use]
pub const fn state(place: usize, level: usize) -> usize {
    1 + place * LEVELS + level
}

/// The legs that are sore in a place.
#[must_use]
pub fn sore(place: usize, leg: Leg) -> bool {
    Place::ALL[place].holds(leg)
}

/// What every state predicts, and how states follow each other.
#[derive(Clone, Debug)]
pub struct Hypotheses {
    /// Variance of that effect between cows.
    pub spread: [PerMeasure; STATES],
    /// Mean effect on each measure, and what a day's readings show of it.
    pub shown: [Shown; STATES],
    /// By state and the state before: variance that the change adds to a baseline, how much this cow's effect differs from
    /// the usual one.
    pub unknown: Box<[[Lanes; STATES]; STATES]>,
    /// Factor on the rate of shifts, front and rear pair.
    pub shifts: [[f64; 2]; STATES],
    /// Factor on the rate of lifts of each leg.
    pub lifts: [[f64; 4]; STATES],
    /// Probability that an observer scores her 2 or more.
    pub scored: [f64; STATES],
    /// From day to day, left alone.
    pub alone: Chain<STATES>,
    /// From day to day, under treatment.
    pub treated: Chain<STATES>,
    /// At first sight.
    pub start: [f64; STATES],
}

/// Effect on a measure for each point of load moved, and the SD of that effect between cows.
type Signature = [(f64, f64); MEASURES];
/// What the lane's device does not look at: stance times of the front and the rear pair, sway of the front and the rear
/// pair, slowness.
type Rest = [(f64, f64); MEASURES - LOADS];

/// One hind leg. Stance time of the sore leg falls (Dyer 2011). Sway of both legs of the pair: SD 24.5 to 31.1 kg (Chapinal
/// 2010) at some 12 points. Slow: stride 1.26 to 1.48 s (Flower 2005) at some 15 points.
const HIND: Rest = [(0.0, 0.15), (0.3, 0.30), (0.005, 0.010), (0.015, 0.015), (0.008, 0.010)];
/// One front leg, likewise.
const FRONT: Rest = [(0.3, 0.30), (0.0, 0.15), (0.015, 0.015), (0.005, 0.010), (0.008, 0.010)];
/// Both hind legs: she shifts and sways more. Our choice of size.
const BOTH_HIND: Rest = [(0.0, 0.15), (0.0, 0.20), (0.005, 0.010), (0.025, 0.015), (0.015, 0.012)];
/// Both front legs, as the hind ones.
const BOTH_FRONT: Rest = [(0.0, 0.20), (0.0, 0.15), (0.025, 0.015), (0.005, 0.010), (0.015, 0.012)];
/// The rest of each place, in the order of [`Place::ALL`].
const REST: [Rest; Place::ALL.len()] = [FRONT, FRONT, HIND, HIND, BOTH_FRONT, BOTH_HIND];

/// Points beyond which sway, slowness and events grow no more: she then stands on three legs. Our choice.
const SATURATED_POINTS: f64 = 24.0;
/// Rear steps of lame cows: 1.6 instead of 1.0 a minute (Chapinal & Tucker 2012), taken at some 12 points.
const SHIFT_LOG_PER_POINT: f64 = 0.039;
/// The same for the lifts of a sore leg. Our choice.
const LIFT_LOG_PER_POINT: f64 = 0.08;

/// A place's effects, in the order of the measures, and 1 or, for the right leg of a pair, -1 for its splits.
fn signature(place: usize) -> (Signature, f64) {
    let (loads, side) = states::OF_PLACE[place];
    let mut all = [(0.0, 0.0); MEASURES];
    all[..LOADS].copy_from_slice(&loads);
    all[LOADS..].copy_from_slice(&REST[place]);
    (all, side)
}

fn mirrored(measure: Measure) -> bool {
    let load = states::MIRRORED.get(measure as usize).copied();
    load.unwrap_or(matches!(measure, Measure::FrontTime | Measure::RearTime))
}

/// Standing and walking load of the sore leg's own pair must change; all else often does.
fn must_show(place: usize, measure: Measure) -> bool {
    states::MUST_SHOW[place].get(measure as usize).copied().unwrap_or(false)
}

const fn saturates(measure: Measure) -> bool {
    matches!(measure, Measure::FrontSway | Measure::RearSway | Measure::Slow)
}

fn transitions(course: LevelRates) -> [[f64; STATES]; STATES] {
    let mut rows = [[0.0; STATES]; STATES];
    rows[SOUND][SOUND] = 1.0 - course.onset;
    for (place, &share) in PLACE_ONSET.iter().enumerate() {
        for level in 0..LEVELS {
            rows[SOUND][state(place, level)] = course.onset * share * ONSET_LEVELS[level];
            let row = &mut rows[state(place, level)];
            row[SOUND] += course.cured;
            if level == 0 {
                row[SOUND] += course.better;
            } else {
                row[state(place, level - 1)] += course.better;
            }
            if level + 1 < LEVELS {
                row[state(place, level + 1)] += course.worse;
            }
            for (other, &weight) in PLACE_ONSET.iter().enumerate() {
                if other != place {
                    row[state(other, level)] += MOVED_PER_DAY * weight;
                }
            }
            let left: f64 = 1.0 - row.iter().sum::<f64>();
            row[state(place, level)] += left;
        }
    }
    rows
}

/// Without an effect yet. A measure that need not show it, as when sound, does not speak against a state.
fn shown(state: usize) -> Shown {
    let need_not = |measure: &Measure| parts(state).is_some_and(|(place, _)| !must_show(place, *measure));
    let mut shown = Shown { cost: [1.0; LANES], ..Shown::default() };
    for measure in Measure::ALL.iter().filter(|measure| need_not(measure)) {
        shown.cost[*measure as usize] = UNSURE_EFFECT as f32;
        // Densities are compared: (tail off / tail with)^(freedom + 1) < cost.
        shown.hidden[*measure as usize] = UNSURE_EFFECT.powf(1.0 / f64::from(TAIL_FREEDOM + 1)) as f32;
    }
    shown
}

fn unknown(spread: &[PerMeasure; STATES], from: usize, to: usize) -> Lanes {
    let same_place = parts(from).zip(parts(to)).is_some_and(|((one, _), (other, _))| one == other);
    let of = |k: usize| {
        let [from, to] = [spread[from][k], spread[to][k]];
        if same_place { (from.sqrt() - to.sqrt()).powi(2) } else { from + to }
    };
    lanes(&std::array::from_fn(of), 0.0)
}

impl Hypotheses {
    /// Factor of a state on the rate of a counted event: shifts front and rear, then lifts by leg.
    #[must_use]
    pub const fn count_factor(&self, state: usize, event: usize) -> f64 {
        if event < 2 { self.shifts[state][event] } else { self.lifts[state][event - 2] }
    }

    /// Builds them from the constants.
    #[must_use]
    pub fn new() -> Self {
        let mut all = Self {
            spread: [[0.0; MEASURES]; STATES],
            shown: std::array::from_fn(shown),
            unknown: Box::new([[Lanes::default(); STATES]; STATES]),
            shifts: [[1.0; 2]; STATES],
            lifts: [[1.0; 4]; STATES],
            scored: [SOUND_SCORED; STATES],
            alone: Chain::new(transitions(LEFT_ALONE)),
            treated: Chain::new(transitions(TREATED)),
            start: [0.0; STATES],
        };
        for (place, &share) in PLACE_ONSET.iter().enumerate() {
            let (effects, side) = signature(place);
            for (level, &points) in LEVEL_POINTS.iter().enumerate() {
                let s = state(place, level);
                for (measure, (mean, sd)) in Measure::ALL.into_iter().zip(effects) {
                    let size = if saturates(measure) { points.min(SATURATED_POINTS) } else { points };
                    let side = if mirrored(measure) { side } else { 1.0 };
                    all.shown[s].effect[measure as usize] = (side * mean * size) as f32;
                    all.spread[s][measure as usize] = (sd * size).powi(2);
                }
                let bounded = points.min(SATURATED_POINTS);
                for leg in Leg::ALL {
                    if sore(place, leg) {
                        all.shifts[s][usize::from(leg.pair() == Pair::Rear)] =
                            (SHIFT_LOG_PER_POINT * bounded).exp();
                        all.lifts[s][leg as usize] = (LIFT_LOG_PER_POINT * bounded).exp();
                    }
                }
                let z = (points.ln() - HALF_SCORED_POINTS.ln()) / HALF_SCORED_WIDTH;
                all.scored[s] = 1.0 / (1.0 + (-z).exp());
                all.start[s] = share * STANDING_LEVELS[level];
            }
        }
        for to in 0..STATES {
            for from in 0..STATES {
                all.unknown[to][from] = unknown(&all.spread, from, to);
            }
        }
        let seen: f64 = (1..STATES).map(|s| all.start[s] * all.scored[s]).sum();
        let lame = PREVALENCE / seen;
        for s in 1..STATES {
            all.start[s] *= lame;
        }
        all.start[SOUND] = 1.0 - all.start[1..].iter().sum::<f64>();
        all
    }
}

impl Default for Hypotheses {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_the_chain_add_up_and_the_start_is_the_published_prevalence() {
        for row in transitions(LEFT_ALONE).into_iter().chain(transitions(TREATED)) {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-12);
            assert!(row.iter().all(|&p| (0.0..=1.0).contains(&p)));
        }
        let all = Hypotheses::new();
        assert!((all.start.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        let scored: f64 = (1..STATES).map(|s| all.start[s] * all.scored[s]).sum();
        assert!((scored - PREVALENCE).abs() < 1e-12);
    }

    // Neveux 2006: load under a sore hind foot goes to the other hind foot; under a sore front foot also to the hind
    // foot of the same side.
    #[test]
    fn load_moves_to_the_other_leg_of_the_pair() {
        let all = Hypotheses::new();
        let left_hind = &all.shown[state(2, 2)].effect;
        assert!(left_hind[Measure::RearSplit as usize] > 10.0);
        assert!(left_hind[Measure::FrontSplit as usize].abs() < 1e-12);
        let right_front = &all.shown[state(1, 2)].effect;
        assert!(right_front[Measure::FrontSplit as usize] < -10.0);
        assert!(right_front[Measure::RearSplit as usize] > 0.0);
    }
}
