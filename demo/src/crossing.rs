//! One animal on the plates: the force of each foot at each moment, and what of it each plate carries.

use crate::bearing::{Bearing, Gait};
use crate::cow::per_leg;
use crate::gait::{DECK_M, Footfall, Plan, front_curve, hind_curve, plan};
use crate::random::Random;
use crate::standing::Standing;
use shared::plate::{Leg, PerLeg, PerPlate, Plate};
use std::sync::LazyLock;

/// From so long before she stands to so long after, in strides, feet come and go out of step: what the feet carry is
/// then held to her weight; in step it varies about it within a stride, as her trunk rises and falls.
const OUT_OF_STEP: (f64, f64, f64) = (0.65, 0.35, 0.2);
/// Time in which she settles into standing and gets going again, in strides (our choice).
const SETTLE_STRIDES: f64 = 0.35;

/// How a crossing ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// In at the rear, out at the front.
    Through,
    /// Turned round at this time, s, and went out the way she came.
    BackedOut(f64),
}

/// An animal, or a person, crossing.
pub struct Crossing {
    bearing: Bearing,
    plan: Plan,
    standing: Standing,
    way: Way,
    shares: PerLeg<f64>,
    scale: f64,
}

impl Crossing {
    /// A cow's crossing; `across` puts one foot on the seam between the rows.
    #[must_use]
    pub fn new(bearing: Bearing, across: bool, way: Way, mut random: Random) -> Self {
        let stance = if way == Way::Through { bearing.stance_s } else { None };
        let plan = plan(&bearing.gait, stance, across, &mut random);
        let standing = Standing::new(random, &bearing);
        let shares = bearing.share_pct;
        let scale = scale(&bearing, &plan);
        Self { bearing, plan, standing, way, shares, scale }
    }

    /// A calf with the cows.
    #[must_use]
    pub fn calf(mut bearing: Bearing, mut random: Random) -> Self {
        bearing.body_weight_kg = random.uniform(80.0, 160.0);
        bearing.gait.stride_m = 0.95;
        bearing.gait.stride_s = random.uniform(0.7, 0.9);
        Self::new(bearing, false, Way::Through, random)
    }

    /// A person walking over the plates.
    #[must_use]
    pub fn person(mut bearing: Bearing, mut random: Random) -> Self {
        bearing.body_weight_kg = random.uniform(60.0, 100.0);
        bearing.stance_s = None;
        let step_s = random.uniform(0.5, 0.65);
        let mut footfalls = Vec::new();
        for n in -2..=5 {
            let on = f64::from(n) * step_s;
            let leg = if n % 2 == 0 { Leg::LF } else { Leg::RF };
            let walking_s = 1.25 * step_s;
            footfalls.push(Footfall { leg, on, off: on + walking_s, x: 0.2 + 0.7 * f64::from(n), walking_s });
        }
        let on_deck = |f: &&Footfall| f.x > -0.05 && f.x < DECK_M + 0.05;
        let end = footfalls.iter().filter(on_deck).map(|f| f.off).fold(0.0, f64::max);
        bearing.gait = Gait { stride_s: 2.0 * step_s, ..bearing.gait };
        let standing = Standing::new(random, &bearing);
        let shares = bearing.share_pct;
        let plan = Plan { footfalls, stance: None, span: (0.0, end) };
        let scale = scale(&bearing, &plan);
        Self { bearing, plan, standing, way: Way::Through, shares, scale }
    }

    /// First foot on and last foot off, s.
    #[must_use]
    pub fn span(&self) -> (f64, f64) {
        match self.way {
            Way::Through => self.plan.span,
            Way::BackedOut(turn) => (self.plan.span.0, 2.0 * turn - self.plan.span.0),
        }
    }

    /// When she stands on four plates, s.
    #[must_use]
    pub fn stance(&self) -> Option<(f64, f64)> {
        self.plan.stance
    }

    /// Whether her feet can be told and measured.
    #[must_use]
    pub fn clean(&self) -> bool {
        self.plan.clean()
    }

    /// Her bearing.
    #[must_use]
    pub fn bearing(&self) -> &Bearing {
        &self.bearing
    }

    /// Every footfall of hers, in her own time, also those off the deck.
    #[must_use]
    pub fn footfalls(&self) -> &[Footfall] {
        &self.plan.footfalls
    }

    /// The force of each leg at her time `t`, kg, `dt` seconds after the moment asked for before.
    pub fn forces(&mut self, t: f64, dt: f64) -> PerLeg<f64> {
        let t = self.own_time(t);
        let settled = self.settled(t);
        if settled > 0.0 {
            self.shares = self.standing.step(&self.bearing, dt);
        }
        let walk = per_leg(|leg| {
            let force: f64 = self.active(leg, t).map(|(_, u)| curve(leg, u)).sum();
            self.scale * force * push(&self.bearing, leg)
        });
        let held = per_leg(|leg| (1.0 - settled) * walk[leg] + settled * self.shares[leg]);
        let total: f64 = held.0.iter().sum();
        let out_of_step = if total > 0.0 { self.out_of_step(t) } else { 0.0 };
        let weight = self.bearing.body_weight_kg;
        per_leg(|leg| {
            let held = if total > 0.0 { held[leg] / total } else { 0.0 };
            weight * ((1.0 - out_of_step) * walk[leg] / 100.0 + out_of_step * held)
        })
    }

    /// What each plate carries at her time `t`, kg.
    pub fn loads(&mut self, t: f64, dt: f64) -> PerPlate<f64> {
        let forces = self.forces(t, dt);
        let own = self.own_time(t);
        let mut loads = PerPlate([0.0; 4]);
        for leg in Leg::ALL {
            let Some((footfall, _)) = self.active(leg, own).next() else { continue };
            let (rear, front) = footfall.parts();
            let (front_plate, rear_plate) = match leg {
                Leg::LF | Leg::LR => (Plate::LF, Plate::LR),
                Leg::RF | Leg::RR => (Plate::RF, Plate::RR),
            };
            loads[rear_plate] += rear * forces[leg];
            loads[front_plate] += front * forces[leg];
        }
        loads
    }

    fn own_time(&self, t: f64) -> f64 {
        match self.way {
            Way::BackedOut(turn) if t > turn => 2.0 * turn - t,
            _ => t,
        }
    }

    fn active(&self, leg: Leg, t: f64) -> impl Iterator<Item = (&Footfall, f64)> {
        self.plan
            .footfalls
            .iter()
            .filter(move |f| f.leg == leg)
            .filter_map(move |f| Some((f, f.progress(t)?)))
    }

    /// How much her feet are out of step, 0..1.
    fn out_of_step(&self, t: f64) -> f64 {
        let Some((from, to)) = self.plan.stance else { return 0.0 };
        let strides = |time: f64| time / self.bearing.gait.stride_s;
        let (before, after, ramp) = OUT_OF_STEP;
        let rise = (strides(t - from) + before + ramp) / ramp;
        let fall = (strides(to - t) + after + ramp) / ramp;
        rise.min(fall).clamp(0.0, 1.0)
    }

    /// How far she has settled into standing, 0..1.
    fn settled(&self, t: f64) -> f64 {
        let Some((from, to)) = self.plan.stance else { return 0.0 };
        let settle = SETTLE_STRIDES * self.bearing.gait.stride_s;
        let rise = ((t - (from - settle)) / settle).clamp(0.0, 1.0);
        let fall = ((to - t) / settle).clamp(0.0, 1.0);
        let u = rise.min(fall);
        u * u * (3.0 - 2.0 * u)
    }
}

/// Force of a leg through its contact, of mean 1.
fn curve(leg: Leg, u: f64) -> f64 {
    static MEANS: LazyLock<(f64, f64)> = LazyLock::new(|| {
        let mean = |f: fn(f64) -> f64| (0..400).map(|i| f((f64::from(i) + 0.5) / 400.0)).sum::<f64>() / 400.0;
        (mean(front_curve), mean(hind_curve))
    });
    match leg {
        Leg::LF | Leg::RF => front_curve(u) / MEANS.0,
        Leg::LR | Leg::RR => hind_curve(u) / MEANS.1,
    }
}

/// How hard a leg pushes while it is down, relative.
fn push(bearing: &Bearing, leg: Leg) -> f64 {
    (bearing.share_pct[leg] + bearing.share_pct[leg.opposite()]) * bearing.gait.strength[leg]
}

/// What brings the mean force over a stride to body weight, %.
fn scale(bearing: &Bearing, plan: &Plan) -> f64 {
    let down = |leg: Leg| plan.footfalls.iter().find(|f| f.leg == leg).map_or(0.0, |f| f.walking_s);
    let sum: f64 = Leg::ALL.into_iter().map(|leg| push(bearing, leg) * down(leg)).sum();
    100.0 * bearing.gait.stride_s / sum
}
