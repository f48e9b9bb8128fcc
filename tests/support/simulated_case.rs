//! Simulated cases with their truth, in two makes: one as the model takes the world, one of other make.

use host::arithmetic::dates::days_between;
use host::case::before_after::series::{BlockDays, Plan};
use host::record::case::block::LONGEST_BLOCK_DAYS;
use host::record::{AnimalId, Passage};
use jiff::{Timestamp, ToSpan, civil::Date, civil::date};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal, StandardNormal, StudentT};
use shared::analysis::{
    PassageSummary, quality::Quality, summary::LegContacts, summary::PassageKind, summary::Standing,
};
use shared::plate::{Leg, PerLeg};
use shared::units::{Estimate, Milliseconds};

/// Day of the treatment.
pub const AT: Date = date(2026, 3, 2);
/// SD of what a cow-day shares between its passages, %.
pub const DAY_SD: f64 = 1.5;

/// How the cases are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Make {
    /// As the model takes the world: recovery by halves, normal draws, days on their own.
    Same,
    /// Of other make: recovery by a bent curve to a rest that stays, a ramp before, blocks that unload every cow
    /// but wear, heavy tails, precision told wrongly, days that hang together, a slow swing of the baseline.
    Other,
}

/// A simulated case; loads in % of a leg's usual load.
#[derive(Clone, Copy, Debug)]
pub struct SimulatedCase {
    /// Which world.
    pub make: Make,
    /// The leg.
    pub leg: Leg,
    /// Less load before the treatment.
    pub before: f64,
    /// Less load right after it.
    pub after: f64,
    /// Days until half of what can go is gone.
    pub half_time: f64,
    /// Part that never goes; 0 in cases of the same make.
    pub rest: f64,
    /// Effect of a block under `leg`, if one is put on.
    pub block: Option<f64>,
    /// First day without it, days after the treatment.
    pub block_off: i32,
    /// Day on which the other leg of the pair goes lame, and how much less it carries.
    pub other: Option<(i32, f64)>,
    /// Day on which the treated leg gets worse again, and by how much.
    pub relapse: Option<(i32, f64)>,
    /// Day the block is due off; nobody ever says that it is.
    pub block_due: i32,
    /// Whether she stands; otherwise she walks through only.
    pub standing: bool,
    /// Passages a day.
    pub per_day: i32,
    /// SD by which her usual load walks in a day, %.
    pub walk: f64,
}

/// The draws of one case: a stream of its own, so that neighbouring seeds share nothing.
pub fn draws(seed: u64, case: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(case);
    rng
}

impl SimulatedCase {
    /// Draws a case.
    pub fn draw(rng: &mut ChaCha8Rng, make: Make, blocked: bool, standing: bool) -> Self {
        let before = rng.random_range(0.0..30.0);
        let mut normal = |mean: f64, sd: f64| Normal::new(mean, sd).unwrap().sample(rng);
        // Half-times as wide as the trials are apart: 24 to 69 % sound at day 35 (Thomas 2015).
        let (gained, half_time, rest, block): (f64, f64, f64, f64) = match make {
            Make::Same => (normal(3.0, 8.0), normal(20.0_f64.ln(), 1.0).exp(), 0.0, normal(0.0, 10.0)),
            Make::Other => {
                let (log_time, log_block) = (normal(16.0_f64.ln(), 0.8), normal(7.0_f64.ln(), 0.6));
                let indifferent = rng.random_range(0.0..1.0) < 0.2;
                (
                    rng.random_range(-6.0..12.0),
                    log_time.exp(),
                    rng.random_range(0.0..0.3),
                    if indifferent { 0.5 } else { log_block.exp() },
                )
            }
        };
        Self {
            make,
            leg: Leg::ALL[rng.random_range(0..4)],
            before,
            after: before - gained,
            half_time,
            rest,
            block: blocked.then_some(block),
            block_off: 60,
            other: None,
            relapse: None,
            block_due: 60,
            standing,
            per_day: 1,
            walk: 0.0,
        }
    }

    /// A case that does not heal.
    pub fn failing(rng: &mut ChaCha8Rng, make: Make, blocked: bool) -> Self {
        let before = rng.random_range(10.0..30.0);
        Self { before, after: before, half_time: 1e6, ..Self::draw(rng, make, blocked, true) }
    }

    /// A case that heals as it should.
    pub fn healing(rng: &mut ChaCha8Rng, make: Make, blocked: bool) -> Self {
        let before = rng.random_range(10.0..30.0);
        let drawn = Self::draw(rng, make, blocked, true);
        Self { before, after: before * 0.8, half_time: 8.0, rest: drawn.rest.min(0.1), ..drawn }
    }

    /// A case whose other leg goes lame.
    pub fn other_leg(rng: &mut ChaCha8Rng, make: Make, blocked: bool) -> Self {
        let before = rng.random_range(12.0..28.0);
        let after = before * 0.8;
        let other = Some((rng.random_range(6..14), rng.random_range(15.0..30.0) + after));
        Self { before, after, other, ..Self::draw(rng, make, blocked, true) }
    }

    /// Deviation of `leg` on a day, without the block.
    pub fn deviation(&self, day: i32) -> f64 {
        let since = f64::from(day);
        match (day, self.make) {
            (..-20, _) => 0.0,
            (-20..0, Make::Same) => -self.before,
            (-20..0, Make::Other) => -self.before * ((since + 21.0) / 8.0).min(1.0),
            (_, Make::Same) => -self.after * (-since / self.half_time).exp2(),
            (_, Make::Other) => {
                let left = 1.0 / (1.0 + (since / self.half_time).powf(2.5));
                -self.after * (self.rest + (1.0 - self.rest) * left)
            }
        }
    }

    /// Effect of the block on a day.
    pub fn block_on(&self, day: i32) -> f64 {
        let worn = if self.make == Make::Other { (1.0 - f64::from(day) / 70.0).max(0.3) } else { 1.0 };
        self.block.filter(|_| (0..self.block_off).contains(&day)).map_or(0.0, |effect| effect * worn)
    }

    /// Load of a leg, % above or below usual.
    fn load(&self, leg: Leg, day: i32) -> f64 {
        let mut load = 0.0;
        // Where the load goes: to the other leg of the pair, in part to the other pair.
        let beside = if self.make == Make::Other { 0.8 } else { 1.0 };
        let mut act = |sore: Leg, by: f64| {
            if leg == sore {
                load += by;
            } else if leg == sore.opposite() {
                load -= beside * by;
            } else {
                load -= 0.5 * (1.0 - beside) * by;
            }
        };
        act(self.leg, self.deviation(day) - self.block_on(day));
        if let Some((from, by)) = self.relapse
            && day >= from
        {
            act(self.leg, -by);
        }
        if let Some((from, by)) = self.other
            && day >= from
        {
            act(self.leg.opposite(), -by);
        }
        load
    }

    /// Loads without noise, as parts of the usual, as they are measured: shares add up to 100 %.
    pub fn expected(&self, own: &PerLeg<f64>, day: i32) -> PerLeg<f64> {
        self.measured(PerLeg(Leg::ALL.map(|leg| 1.0 + (own[leg] + self.load(leg, day)) / 100.0)))
    }

    fn measured(&self, loads: PerLeg<f64>) -> PerLeg<f64> {
        if !self.standing {
            return loads;
        }
        let sum: f64 = Leg::ALL.iter().map(|&leg| usual(leg, (27.0, 23.0)) * loads[leg]).sum();
        PerLeg(loads.0.map(|load| load * 100.0 / sum))
    }

    /// Her passages to day `last`, and how uneven she is by herself, %.
    pub fn passages(&self, rng: &mut ChaCha8Rng, last: i32) -> (Vec<Passage>, PerLeg<f64>) {
        let own = PerLeg(Leg::ALL.map(|_| 2.0 * rng.sample::<f64, _>(StandardNormal)));
        let (hangs, tails) = match self.make {
            Make::Same => (0.0, None),
            // Of four degrees of freedom, brought to an SD of 1.
            Make::Other => (0.6, Some((StudentT::new(4.0).unwrap(), 0.5_f64.sqrt()))),
        };
        let phase = rng.random_range(0.0..std::f64::consts::TAU);
        let mut shared: f64 = DAY_SD * rng.sample::<f64, _>(StandardNormal);
        let mut passages = Vec::new();
        let mut walked = 0.0;
        for day in -90..=last {
            if self.walk > 0.0 {
                walked += self.walk * rng.sample::<f64, _>(StandardNormal);
            }
            let fresh: f64 = DAY_SD * rng.sample::<f64, _>(StandardNormal);
            shared = hangs * shared + f64::sqrt(1.0 - hangs * hangs) * fresh;
            let swing = if self.make == Make::Other { (f64::from(day) / 10.0 + phase).sin() } else { 0.0 };
            for visit in 0..self.per_day {
                if rng.random_range(0.0..1.0) < 0.1 {
                    continue;
                }
                let se: f64 = rng.random_range(1.0..4.0);
                let told = if self.make == Make::Other { se * rng.random_range(0.7..1.4) } else { se };
                let mut load = |leg: Leg| {
                    let side = if matches!(leg, Leg::LF | Leg::LR) { 1.0 } else { -1.0 };
                    let noise: f64 = match &tails {
                        Some((t, scale)) => t.sample(rng) * scale,
                        None => rng.sample(StandardNormal),
                    };
                    1.0 + (own[leg] + self.load(leg, day) + side * (shared + swing + walked) + se * noise)
                        / 100.0
                };
                let loads = self.measured(PerLeg(Leg::ALL.map(&mut load)));
                passages.push(self.passage(passages.len() as i64, day, visit, &loads, told));
            }
        }
        (passages, own)
    }

    fn passage(&self, id: i64, day: i32, visit: i32, loads: &PerLeg<f64>, se: f64) -> Passage {
        let share = |leg: Leg, part: f64| (usual(leg, (27.0, 23.0)) * part) as f32;
        let standing = self.standing.then(|| Standing {
            seconds: 8.0,
            share_pct: PerLeg(Leg::ALL.map(|leg| share(leg, loads[leg]))),
            share_se_pct: PerLeg(Leg::ALL.map(|leg| share(leg, se / 100.0))),
            ..Standing::default()
        });
        let walking = PerLeg(Leg::ALL.map(|leg| LegContacts {
            count: u8::from(!self.standing),
            peak_pct: (usual(leg, (60.0, 50.0)) * loads[leg]) as f32,
            stance_s: 0.8,
            impulse_pct_s: 30.0 * loads[leg] as f32,
            step_s: 0.6,
        }));
        let on = AT.saturating_add(day.days());
        let second =
            i64::from(days_between(date(1970, 1, 1), on)) * 86_400 + (6 + 10 * i64::from(visit)) * 3600;
        Passage {
            id,
            lane: "lane".into(),
            time: Timestamp::from_second(second).unwrap(),
            date: on,
            animal: Some(AnimalId("1".into())),
            summary: PassageSummary {
                start: Milliseconds(0),
                duration: Milliseconds(9000),
                kind: if self.standing { PassageKind::Stance } else { PassageKind::WalkThrough },
                quality: Quality::default(),
                readings: 900,
                lost_readings: 0,
                body_weight: Some(Estimate { value: 640.0, se: 3.0 }),
                standing,
                walking,
            },
        }
    }

    /// The comparison's windows on day `last`; that a block was lost is not known.
    pub fn plan(&self, last: i32) -> Plan {
        let after = |days: i32| Some(AT.saturating_add(days.days()));
        let (due, off) = (after(self.block_due), after(LONGEST_BLOCK_DAYS));
        Plan {
            at: AT,
            until: AT.saturating_add(last.days()),
            before_days: 20,
            after_days: 42,
            blocks: self.block.map(|_| BlockDays { leg: self.leg, from: AT, due, off }).into_iter().collect(),
            unsound: vec![],
        }
    }
}

fn usual(leg: Leg, (front, rear): (f64, f64)) -> f64 {
    if matches!(leg, Leg::LF | Leg::RF) { front } else { rear }
}
