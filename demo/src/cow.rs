//! One invented cow: her build, her habits and how she carries herself from day to day.

use crate::course::Course;
use crate::random::Random;
use shared::plate::{Leg, PerLeg};

/// Days from one calving to the next, and days dry before it (common practice).
const CALVING_INTERVAL_DAYS: (f64, f64) = (385.0, 20.0);
const DRY_DAYS: i32 = 55;
/// What a cow loses at calving: calf, waters, afterbirth, kg (our choice).
const CALVING_LOSS_KG: f64 = 60.0;
/// Day-to-day gut and udder fill, kg, and its correlation from day to day; with the error of a passage it gives a
/// daily SD of 17 kg and a lag-1 correlation of 0.21: Alawneh 2011.
const FILL: (f64, f64) = (13.0, 0.35);
/// Day-to-day change of how she stands, points of symmetry index, and its correlation (our choice).
const DAY_SI: (f64, f64) = (4.0, 0.6);
/// Day-to-day change of her front share, points (our choice).
const DAY_FRONT: (f64, f64) = (0.5, 0.5);

/// One calving.
#[derive(Clone, Copy, Debug)]
pub struct Calving {
    /// Day it happened, from the start of the record; negative before it.
    pub day: i32,
    /// The lactation it began.
    pub parity: u8,
}

/// An invented cow.
#[derive(Clone, Debug)]
pub struct Cow {
    /// Her ear tag, in the 999 test range.
    pub id: String,
    /// Her calvings, by day; the last may lie after the end of the record.
    pub calvings: Vec<Calving>,
    /// Body weight at her first calving of the record, kg.
    pub mass_kg: f64,
    /// Share of her weight on the front pair, %.
    pub front_pct: f64,
    /// Her own natural symmetry index, % (right minus left), front and rear.
    pub si_pct: [f64; 2],
    /// Sound stride: length, m, and duration, s.
    pub stride: (f64, f64),
    /// Part of a stride that a foot is on the ground.
    pub duty: f64,
    /// Weight shifts a minute when sound, front and rear.
    pub shifts_per_min: [f64; 2],
    /// Lifts a minute of each leg when sound, front and rear.
    pub lifts_per_min: [f64; 2],
    /// How often she walks straight through, 0..1.
    pub walk_through: f64,
    /// Median time she stands on the plates, s.
    pub stance_s: f64,
    /// Where in the order of exit she likes to be, 0..1.
    pub rank: f64,
    /// Her feet.
    pub course: Course,
}

impl Cow {
    /// The cow of a number, with random build and story; `days` long.
    #[must_use]
    pub fn draw(seed: u64, number: u32, days: u32) -> Self {
        let random = &mut Random::new(seed, "cow", u64::from(number));
        let parity = match random.uniform(0.0, 1.0) {
            p if p < 0.32 => 1,
            p if p < 0.58 => 2,
            p if p < 0.78 => 3,
            p if p < 0.90 => 4,
            _ => 5,
        };
        let calvings = draw_calvings(random, parity, days);
        let usual = [580.0, 645.0, 690.0, 705.0, 710.0][usize::from(parity) - 1];
        let mass_kg: f64 = random.normal(usual, 45.0);
        let size = libm::cbrt(mass_kg / 660.0);
        let frailty = random.log_normal(0.9, 0.5) * [0.6, 0.9, 1.2, 1.4, 1.5][usize::from(parity) - 1];
        let course = Course::draw(
            &mut Random::new(seed, "course", u64::from(number)),
            frailty,
            -150.0,
            f64::from(days) + 1.0,
        );
        Self {
            id: tag(number),
            calvings,
            mass_kg: mass_kg.clamp(450.0, 880.0),
            // No source gives it for sound cows; about 52 to 56 % is general knowledge.
            front_pct: random.normal(54.0, 1.2),
            si_pct: [random.normal(0.0, 7.0), random.normal(0.0, 9.0)],
            // Flower 2005, sound: 139.5 +/- 2.1 cm and 1.26 +/- 0.03 s (SEM, n 17).
            stride: (random.normal(1.395 * size, 0.05), random.normal(1.26, 0.07)),
            // Flower 2005, sound: three feet down for 18 % of a stride, 4 x duty - 2.
            duty: random.normal(0.56, 0.012),
            shifts_per_min: [random.log_normal(1.2, 0.3), random.log_normal(1.9, 0.3)],
            // Chapinal & Tucker 2012: 1.0 rear steps a minute, both legs together.
            lifts_per_min: [random.log_normal(0.3, 0.3), random.log_normal(0.48, 0.25)],
            walk_through: random.uniform(0.08, 0.30),
            stance_s: random.log_normal(6.5, 0.3),
            rank: random.uniform(0.0, 1.0),
            course,
        }
    }

    /// Days in milk on a day and days to the next calving; `None` where she is dry.
    #[must_use]
    pub fn lactation(&self, day: i32) -> Option<(i32, Option<i32>)> {
        let last = self.calvings.iter().rev().find(|c| c.day <= day)?;
        let next = self.calvings.iter().find(|c| c.day > day).map(|c| c.day - day);
        if next.is_some_and(|d| d <= DRY_DAYS) { None } else { Some((day - last.day, next)) }
    }

    /// Body weight on a day before day-to-day fill, kg.
    #[must_use]
    pub fn mass_on(&self, day: i32) -> f64 {
        let last = self.calvings.iter().rev().find(|c| c.day <= day);
        let in_milk = f64::from(last.map_or(0, |c| day - c.day));
        let next = self.calvings.iter().find(|c| c.day > day).map(|c| f64::from(c.day - day));
        let early = -30.0 * (in_milk / 60.0) * libm::exp(1.0 - in_milk / 60.0);
        let regained = 25.0 * (in_milk / 305.0).min(1.2);
        let calf = next.map_or(0.0, |d| CALVING_LOSS_KG * libm::exp(-d / 45.0));
        self.mass_kg + early + regained + calf
    }
}

fn draw_calvings(random: &mut Random, parity: u8, days: u32) -> Vec<Calving> {
    // At the start she is somewhere in milk, not yet dry.
    let interval = random.normal(CALVING_INTERVAL_DAYS.0, CALVING_INTERVAL_DAYS.1);
    let mut day = -(random.uniform(5.0, interval - f64::from(DRY_DAYS) - 3.0) as i32);
    let mut calvings = vec![Calving { day, parity }];
    let mut interval = interval;
    while day < days as i32 {
        day += interval as i32;
        let parity = calvings.last().map_or(1, |c| c.parity).saturating_add(1);
        calvings.push(Calving { day, parity });
        interval = random.normal(CALVING_INTERVAL_DAYS.0, CALVING_INTERVAL_DAYS.1);
    }
    calvings
}

/// The ear tag of a cow's number: country 999, the test range.
#[must_use]
pub fn tag(number: u32) -> String {
    format!("999{:012}", 400 + number)
}

/// What changes in a cow from day to day.
#[derive(Clone, Debug)]
pub struct Condition {
    /// Gut and udder fill against her mean, kg.
    pub fill_kg: f64,
    /// Points of symmetry index, front and rear.
    pub si_pct: [f64; 2],
    /// Points of front share.
    pub front_pct: f64,
}

impl Condition {
    /// A first day.
    pub fn first(random: &mut Random) -> Self {
        Self {
            fill_kg: random.normal(0.0, FILL.0),
            si_pct: [random.normal(0.0, DAY_SI.0), random.normal(0.0, DAY_SI.0)],
            front_pct: random.normal(0.0, DAY_FRONT.0),
        }
    }

    /// Moves on to the next day.
    pub fn next_day(&mut self, random: &mut Random) {
        let mut step = |value: &mut f64, (sd, keep): (f64, f64)| {
            *value = keep * *value + random.normal(0.0, sd * libm::sqrt(1.0 - keep * keep));
        };
        step(&mut self.fill_kg, FILL);
        step(&mut self.si_pct[0], DAY_SI);
        step(&mut self.si_pct[1], DAY_SI);
        step(&mut self.front_pct, DAY_FRONT);
    }
}

/// Whether a leg is a hind leg, as an index into pairs.
#[must_use]
pub const fn pair_index(leg: Leg) -> usize {
    match leg {
        Leg::LF | Leg::RF => 0,
        Leg::LR | Leg::RR => 1,
    }
}

/// A value for each leg.
pub fn per_leg(f: impl Fn(Leg) -> f64) -> PerLeg<f64> {
    PerLeg(Leg::ALL.map(f))
}
