//! A herd made to be hard: it shares no code and no number with the model or with the demo, and breaks what the model
//! assumes. Effects differ widely between cows, some show only standing or only walking, usual loads swing slowly, heat
//! and a wet floor move whole days, names are swapped now and then, cows are bought and sold, both hind feet go at once,
//! digital dermatitis runs through the herd, and feet are treated without the lane being told. All numbers are ours.

mod cow;
mod passage;

use crate::hard_world::cow::Cow;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use std::fmt::Write;

/// Cows at a time.
pub const COWS: usize = 120;
/// Days.
pub const DAYS: usize = 240;

/// Keeps the draws apart from those of other generators with the same seed.
const SALT: u64 = 0x4841_5244;

/// What is true of a cow on a day.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Truth {
    /// 0 to 3, not rounded.
    pub score: f64,
    /// She began to be lame on one day.
    pub sudden: bool,
    /// Both hind feet are sore.
    pub both_hind: bool,
    /// A foot was treated in the last weeks.
    pub treated: bool,
    /// Days since a foot of hers was worked on.
    pub since_work: Option<usize>,
    /// She is in the herd.
    pub present: bool,
    /// Load that her sorest leg has lost by her trouble, standing, % of body weight, and walking, % of its peak.
    pub lost: (f64, f64),
}

/// A herd's passages as a table, and the truth by cow and day.
pub struct World {
    /// The passage table.
    pub passages: String,
    /// By cow, then by day.
    pub truth: Vec<Vec<Truth>>,
    /// The trims file; no row where nobody writes anything down.
    pub trims: String,
    /// Mobility scores of the whole herd every other week, by a person who is often a score off.
    pub scores: String,
}

/// What moves the whole herd on a day.
#[derive(Clone, Copy, Default)]
struct Weather {
    /// Shifts more and stands worse.
    heat: f64,
    /// Walks slower.
    wet: f64,
    /// Chance of catching digital dermatitis.
    outbreak: f64,
}

/// The name of a cow in the table.
#[must_use]
pub fn name(cow: usize) -> String {
    format!("H{cow:03}")
}

impl World {
    /// Makes a herd of which nobody writes anything down.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self::made(seed, false)
    }

    /// The same kind of herd where every treatment is written down, every treated foot has a block for 30 days, and a
    /// fifth of the feet does not heal.
    #[must_use]
    pub fn with_records(seed: u64) -> Self {
        Self::made(seed, true)
    }

    fn made(seed: u64, records: bool) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ SALT);
        let mut cows: Vec<Cow> = (0..COWS).map(|_| Cow::new(&mut rng, 0, DAYS)).collect();
        for place in 0..COWS / 6 {
            let sold = rng.random_range(40..DAYS - 40);
            cows[place * 6].until = sold;
            cows.push(Cow::new(&mut rng, sold + 3, DAYS));
        }
        if records {
            cows.iter_mut().for_each(|cow| cow.written = Some(Vec::new()));
        }
        let outbreak = rng.random_range(60..DAYS - 60);
        let herd_trim = rng.random_range(90..DAYS - 30);
        let (mut wet, mut heat) = (0.0_f64, 0.0_f64);
        let mut passages = passage::HEADER.to_owned() + "\n";
        let mut truth = vec![vec![Truth::default(); DAYS]; cows.len()];
        #[allow(clippy::needless_range_loop, reason = "the day is more than an index")]
        for day in 0..DAYS {
            wet = (0.8 * wet + if rng.random::<f64>() < 0.05 { 1.0 } else { 0.0 }).min(1.0);
            heat = 0.7 * heat + if rng.random::<f64>() < 0.06 { 0.8 } else { 0.0 };
            let spread = if (outbreak..outbreak + 21).contains(&day) { 0.012 } else { 0.0 };
            let weather = Weather { heat, wet, outbreak: spread };
            for (number, cow) in cows.iter_mut().enumerate() {
                if day < cow.from || day >= cow.until {
                    continue;
                }
                cow.live(&mut rng, day, weather);
                if day == herd_trim {
                    cow.trimmed(&mut rng, day);
                }
                truth[number][day] = cow.truth(day);
            }
            for milking in 0..2 {
                one_milking(&mut rng, &cows, day, milking, weather, &mut passages);
            }
        }
        let scores = scores(seed, &truth);
        Self { passages, truth, trims: trims(&cows), scores }
    }
}

/// The SD of a person's mobility score. Two such persons agree on four scores with a kappa of about .4, in the middle of
/// what is published (.28 to .84).
const SCORING_SD: f64 = 0.5;

fn first_day() -> jiff::civil::Date {
    jiff::civil::date(2025, 1, 1)
}

fn scores(seed: u64, truth: &[Vec<Truth>]) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ SALT.rotate_left(8));
    let seen = Normal::new(0.0, SCORING_SD).expect("a width");
    let mut file = "date,animal_id,score\n".to_owned();
    for day in (13..DAYS).step_by(14) {
        let date = first_day().saturating_add(jiff::Span::new().days(day as i64));
        for (cow, days) in truth.iter().enumerate().filter(|(_, days)| days[day].present) {
            let score = (days[day].score + seen.sample(&mut rng)).round().clamp(0.0, 3.0) as u8;
            let _ = writeln!(file, "{date},{},{score}", name(cow));
        }
    }
    file
}

fn trims(cows: &[Cow]) -> String {
    let mut file = "date,animal_id,leg,claw,lesion,treatment,block_claw,block_off\n".to_owned();
    let day = |day: usize| first_day().saturating_add(jiff::Span::new().days(day as i64));
    for (cow, of) in cows.iter().enumerate() {
        for work in of.written.iter().flatten() {
            let leg = ["LF", "RF", "LR", "RR"][work.leg];
            let (on, off) = (day(work.day), day(work.day + cow::BLOCK_DAYS));
            let _ = writeln!(file, "{on},{},{leg},outer,WL,trim;block,inner,{off}", name(cow));
        }
    }
    file
}

fn one_milking(
    rng: &mut ChaCha8Rng,
    cows: &[Cow],
    day: usize,
    milking: usize,
    weather: Weather,
    table: &mut String,
) {
    let mut order: Vec<usize> =
        (0..cows.len()).filter(|&cow| day >= cows[cow].from && day < cows[cow].until).collect();
    for last in (1..order.len()).rev() {
        order.swap(last, rng.random_range(0..=last));
    }
    let mut names = order.clone();
    for place in 1..names.len() {
        if rng.random::<f64>() < 0.004 {
            names.swap(place - 1, place);
        }
    }
    let start = 1_735_689_600 + 86_400 * day as i64 + 3600 * (5 + 11 * milking as i64);
    for (place, (&cow, &named)) in order.iter().zip(&names).enumerate() {
        if rng.random::<f64>() < 0.07 {
            continue;
        }
        let row = passage::row(rng, &cows[cow], weather);
        let _ = writeln!(table, "{},{}.5,{row}", name(named), start + 24 * place as i64);
    }
}
