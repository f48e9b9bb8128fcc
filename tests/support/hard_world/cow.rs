//! One cow of the hard herd: how she stands and walks, how she goes lame, and how she is treated.

use crate::hard_world::{Truth, Weather};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, LogNormal, Normal};

/// A trouble in one or two feet.
#[derive(Clone, Copy)]
struct Trouble {
    legs: [bool; 4],
    from: usize,
    /// Days until it is worst.
    ramp: f64,
    worst: f64,
    /// Points of body weight off the sore leg, and loss of its walking peak, at score 1.
    standing: f64,
    walking: f64,
    treated: Option<usize>,
    /// Days in which it halves after treatment.
    halving: f64,
    /// It does not heal, whatever was done.
    stays: bool,
    sudden: bool,
}

/// The cow.
pub struct Cow {
    /// First day in the herd, and the day after the last.
    pub from: usize,
    /// See `from`.
    pub until: usize,
    pub(super) weight: f64,
    usual: [f64; 4],
    peaks: [f64; 4],
    swing: [f64; 4],
    swing_sd: f64,
    pub(super) noise: f64,
    pub(super) stands: f64,
    pub(super) restless: f64,
    /// How much of a trouble she shows standing, and walking.
    shows: (f64, f64),
    trouble: Option<Trouble>,
    score: f64,
    work: Option<usize>,
    /// What a block shifts from the right hind leg to the left one, and the day it comes off.
    block: f64,
    block_off: usize,
    heat_day: bool,
    /// What the person with the knife wrote down, where the herd is one with records.
    pub(super) written: Option<Vec<Written>>,
}

/// A treatment as written down.
#[derive(Clone, Copy)]
pub(super) struct Written {
    pub day: usize,
    pub leg: usize,
}

/// Days a block stays on.
pub(super) const BLOCK_DAYS: usize = 30;
/// Treated feet that do not heal, in a herd with records.
const NOT_HEALING: f64 = 0.2;

fn normal(rng: &mut ChaCha8Rng, sd: f64) -> f64 {
    Normal::new(0.0, sd).expect("a width").sample(rng)
}

fn skewed(rng: &mut ChaCha8Rng, middle: f64, width: f64) -> f64 {
    LogNormal::new(middle.ln(), width).expect("a width").sample(rng)
}

impl Cow {
    pub(super) fn new(rng: &mut ChaCha8Rng, from: usize, until: usize) -> Self {
        let front = 53.0 + normal(rng, 1.6);
        let (f, r) = (normal(rng, 1.6), normal(rng, 1.6));
        let shows = match rng.random::<f64>() {
            p if p < 0.15 => (0.15, 1.0),
            p if p < 0.30 => (1.0, 0.15),
            _ => (1.0, 1.0),
        };
        Self {
            from,
            until,
            weight: 640.0 + normal(rng, 70.0),
            usual: [front / 2.0 - f, front / 2.0 + f, (100.0 - front) / 2.0 - r, (100.0 - front) / 2.0 + r],
            peaks: [56.0, 56.0, 49.0, 49.0].map(|peak| peak + normal(rng, 1.8)),
            swing: [0.0; 4],
            swing_sd: skewed(rng, 0.6, 0.4),
            noise: skewed(rng, 1.6, 0.3),
            stands: rng.random_range(0.15..0.9),
            restless: skewed(rng, 8.0, 0.5),
            shows,
            trouble: None,
            score: 0.0,
            work: None,
            block: 0.0,
            block_off: 0,
            heat_day: false,
            written: None,
        }
    }

    pub(super) fn live(&mut self, rng: &mut ChaCha8Rng, day: usize, weather: Weather) {
        let keep = 0.94_f64;
        for swing in &mut self.swing {
            *swing = keep * *swing + normal(rng, self.swing_sd * (1.0 - keep * keep).sqrt());
        }
        self.heat_day = rng.random::<f64>() < 1.0 / 45.0;
        if self.trouble.is_none() && rng.random::<f64>() < 0.0032 + weather.outbreak {
            self.trouble = Some(Self::fall_ill(rng, day, weather.outbreak > 0.0));
        }
        let Some(trouble) = &mut self.trouble else { return };
        let age = (day - trouble.from + 1) as f64;
        let grown = trouble.worst * (age / trouble.ramp).min(1.0);
        self.score = match trouble.treated {
            None => grown,
            Some(_) if trouble.stays => trouble.worst,
            Some(at) => trouble.worst * 0.5_f64.powf((day - at) as f64 / trouble.halving),
        };
        // Somebody sees the worst soon and the mild late.
        if trouble.treated.is_none() && self.score >= 1.8 && rng.random::<f64>() < 0.02 * self.score.powi(2) {
            trouble.treated = Some(day);
            trouble.worst = self.score;
            self.work = Some(day);
            let blocked = rng.random::<f64>() < 0.4 || self.written.is_some();
            self.block = if blocked { normal(rng, 4.0) } else { 0.0 };
            self.block_off = day + BLOCK_DAYS;
            if let Some(written) = &mut self.written {
                trouble.stays = rng.random::<f64>() < NOT_HEALING;
                let leg = (0..4).rev().find(|&leg| trouble.legs[leg]).unwrap_or(3);
                written.push(Written { day, leg });
            }
        }
        if day >= self.block_off {
            self.block = 0.0;
        }
        let over =
            trouble.treated.map_or(age > 90.0, |at| self.score < 0.25 || trouble.stays && day - at > 60);
        if over {
            self.trouble = None;
            self.score = 0.0;
        }
    }

    fn fall_ill(rng: &mut ChaCha8Rng, day: usize, outbreak: bool) -> Trouble {
        let place = rng.random::<f64>();
        let legs = if place < 0.10 {
            [false, false, true, true]
        } else {
            let leg = match rng.random::<f64>() {
                p if p < 0.09 => 0,
                p if p < 0.18 => 1,
                p if p < 0.59 => 2,
                _ => 3,
            };
            std::array::from_fn(|i| i == leg)
        };
        let sudden = !outbreak && rng.random::<f64>() < 0.35;
        Trouble {
            legs,
            from: day,
            ramp: if sudden { 1.0 } else { rng.random_range(8.0..35.0) },
            worst: if outbreak { rng.random_range(1.0..2.6) } else { rng.random_range(1.3..3.0) },
            standing: skewed(rng, 1.9, 0.45),
            walking: skewed(rng, 2.6, 0.45),
            treated: None,
            halving: rng.random_range(6.0..22.0),
            stays: false,
            sudden,
        }
    }

    /// The whole herd is trimmed: sound feet too are unsure for some days.
    pub(super) fn trimmed(&mut self, rng: &mut ChaCha8Rng, day: usize) {
        self.work = Some(day);
        if let Some(trouble) = &mut self.trouble
            && rng.random::<f64>() < 0.7
        {
            trouble.treated = Some(day);
            trouble.worst = self.score;
        }
    }

    pub(super) fn truth(&self, day: usize) -> Truth {
        Truth {
            score: self.score,
            sudden: self.trouble.is_some_and(|trouble| trouble.sudden),
            both_hind: self.trouble.is_some_and(|trouble| trouble.legs[2] && trouble.legs[3]),
            treated: self.work.is_some_and(|work| day - work < 35),
            since_work: self.work.map(|work| day - work),
            present: true,
            lost: self.losses().into_iter().fold((0.0, 0.0), |a, b| (b.0.max(a.0), b.1.max(a.1))),
        }
    }

    /// Loads lost by each leg, standing and walking.
    fn losses(&self) -> [(f64, f64); 4] {
        std::array::from_fn(|leg| match &self.trouble {
            Some(trouble) if trouble.legs[leg] => {
                (self.shows.0 * trouble.standing * self.score, self.shows.1 * trouble.walking * self.score)
            }
            _ => (0.0, 0.0),
        })
    }

    /// Shares of the legs, standing, before the noise of a passage.
    pub(super) fn shares(&self) -> [f64; 4] {
        let mut shares: [f64; 4] = std::array::from_fn(|leg| self.usual[leg] + self.swing[leg]);
        for (leg, (lost, _)) in self.losses().into_iter().enumerate() {
            shares[leg] -= lost;
            // Most of it goes to the neighbour, some to the other pair.
            shares[leg ^ 1] += 0.65 * lost;
            shares[leg ^ 2] += 0.2 * lost;
            shares[(leg ^ 2) ^ 1] += 0.15 * lost;
        }
        shares[2] += self.block;
        shares[3] -= self.block;
        let sum: f64 = shares.iter().sum();
        shares.map(|share| 100.0 * share / sum)
    }

    /// Walking peaks, before the noise of a passage.
    pub(super) fn walking(&self) -> [f64; 4] {
        let losses = self.losses();
        std::array::from_fn(|leg| self.peaks[leg] + 0.6 * self.swing[leg] - losses[leg].1)
    }

    /// How much more she shifts and how much slower she walks.
    pub(super) fn unrest(&self) -> (f64, f64) {
        let heat = if self.heat_day { 1.0 } else { 0.0 };
        (1.0 + 0.35 * self.score + heat, 1.0 + 0.05 * self.score * self.shows.1 - 0.05 * heat)
    }
}
