//! What a standing cow does: she sways, shifts weight from leg to leg, and lifts a leg now and then.

use crate::bearing::{Bearing, SWAY_S};
use crate::random::Random;
use shared::plate::{Leg, PerLeg};
use std::f64::consts::PI;

/// Sway between front and rear pair, points of body weight (our choice).
const FORE_AFT_SD_PCT: f64 = 0.6;
/// How fast a weight shift goes over, s, and how long she stays there, s (our choice).
const SHIFT_RISE_S: f64 = 0.25;
const SHIFT_STAY_S: (f64, f64) = (0.8, 2.5);
/// How far beyond even a shift goes, points of body weight (our choice).
const SHIFT_BEYOND_PCT: (f64, f64) = (2.5, 6.0);
/// A pair more uneven than this is not fully shifted over, points of body weight (our choice).
const SHIFT_LIMIT_PCT: f64 = 14.0;
/// Length of a leg lift, s (our choice).
const LIFT_S: (f64, f64) = (0.5, 1.4);
/// Part of a lifted leg's load that the other leg of its pair takes. Direction: Neveux 2006.
const LIFT_TO_OPPOSITE: f64 = 0.9;

#[derive(Clone, Copy, Debug, Default)]
struct PairState {
    sway: f64,
    shift: f64,
    shift_target: f64,
    shift_left_s: f64,
}

/// A leg held up.
#[derive(Clone, Copy, Debug)]
struct Lift {
    leg: Leg,
    age_s: f64,
    length_s: f64,
    depth: f64,
}

/// The state of a standing cow.
pub struct Standing {
    random: Random,
    pairs: [PairState; 2],
    fore_aft: f64,
    lift: Option<Lift>,
}

impl Standing {
    /// Starts somewhere in her sway.
    #[must_use]
    pub fn new(mut random: Random, bearing: &Bearing) -> Self {
        let mut pair =
            |leg| PairState { sway: random.normal(0.0, bearing.sway_pct[leg]), ..PairState::default() };
        let pairs = [pair(Leg::LF), pair(Leg::LR)];
        Self { random, pairs, fore_aft: 0.0, lift: None }
    }

    /// Moves on by `dt` seconds and gives the share of each leg, % of body weight; they add up to 100.
    pub fn step(&mut self, bearing: &Bearing, dt: f64) -> PerLeg<f64> {
        let mut share = bearing.share_pct;
        let keep = libm::exp(-dt / SWAY_S);
        let fresh = libm::sqrt(1.0 - keep * keep);
        for pair in [0, 1] {
            let (left, right) = (Leg::ALL[2 * pair], Leg::ALL[2 * pair + 1]);
            let uneven = bearing.share_pct[left] - bearing.share_pct[right];
            self.shift(pair, uneven, bearing.shifts_per_min[pair], dt);
            let state = &mut self.pairs[pair];
            state.sway = keep * state.sway + self.random.normal(0.0, fresh * bearing.sway_pct[left]);
            state.shift += (state.shift_target - state.shift) * (dt / SHIFT_RISE_S).min(1.0);
            let moved = state.sway + state.shift;
            let moved = moved.clamp(-0.9 * share[left], 0.9 * share[right]);
            share[left] += moved;
            share[right] -= moved;
        }
        self.fore_aft = keep * self.fore_aft + self.random.normal(0.0, fresh * FORE_AFT_SD_PCT);
        for leg in Leg::ALL {
            let sign = if matches!(leg, Leg::LF | Leg::RF) { 0.5 } else { -0.5 };
            share[leg] = (share[leg] + sign * self.fore_aft).max(0.3);
        }
        self.lifted(bearing, dt, &mut share);
        let total: f64 = share.0.iter().sum();
        share.0.iter_mut().for_each(|s| *s *= 100.0 / total);
        share
    }

    /// Begins or ends a weight shift; each goes over and comes back, so a rate of crossings is twice that of shifts.
    fn shift(&mut self, pair: usize, uneven: f64, crossings_per_min: f64, dt: f64) {
        let state = &mut self.pairs[pair];
        if state.shift_left_s > 0.0 {
            state.shift_left_s -= dt;
            if state.shift_left_s <= 0.0 {
                state.shift_target = 0.0;
            }
        } else if self.random.chance(crossings_per_min / 120.0 * dt) {
            let beyond = self.random.uniform(SHIFT_BEYOND_PCT.0, SHIFT_BEYOND_PCT.1);
            let over =
                if uneven.abs() > SHIFT_LIMIT_PCT { 0.3 * uneven.abs() } else { 0.5 * uneven.abs() + beyond };
            state.shift_target = -over * uneven.signum();
            state.shift_left_s = SHIFT_STAY_S.0 + self.random.exponential(SHIFT_STAY_S.1);
        }
    }

    fn lifted(&mut self, bearing: &Bearing, dt: f64, share: &mut PerLeg<f64>) {
        if self.lift.is_none() {
            for leg in Leg::ALL {
                if self.lift.is_none() && self.random.chance(bearing.lifts_per_min[leg] / 60.0 * dt) {
                    self.lift = Some(Lift {
                        leg,
                        age_s: 0.0,
                        length_s: self.random.uniform(LIFT_S.0, LIFT_S.1),
                        depth: self.random.uniform(0.85, 1.0),
                    });
                }
            }
        }
        if let Some(lift) = &mut self.lift {
            lift.age_s += dt;
            let u = (lift.age_s / lift.length_s).min(1.0);
            let lost = share[lift.leg] * lift.depth * libm::pow(libm::sin(PI * u).max(0.0), 0.5);
            share[lift.leg] -= lost;
            share[lift.leg.opposite()] += LIFT_TO_OPPOSITE * lost;
            for other in Leg::ALL.into_iter().filter(|l| l.pair() != lift.leg.pair()) {
                share[other] += 0.5 * (1.0 - LIFT_TO_OPPOSITE) * lost;
            }
            if u >= 1.0 {
                self.lift = None;
            }
        }
    }
}
