//! A herd at the level of passages for tests of the score: the second generator, apart from the demo's.
//!
//! Severity is a smooth course in points of load taken off a leg; everything else follows from it with noise.

use host::record::{AnimalId, HerdEntry, Passage};
use host::store::NewPassage;
use jiff::{Timestamp, ToSpan, civil::Date};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Poisson, StandardNormal, StudentT};
use shared::analysis::{LegContacts, PassageKind, PassageSummary, Quality, Reason, Standing};
use shared::plate::{Leg, PerLeg};
use shared::units::{Estimate, Milliseconds};

/// What a herd is like.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// Seed of the draws.
    pub seed: u64,
    /// Cows of the herd.
    pub cows: usize,
    /// Days it is watched.
    pub days: i64,
    /// Milkings a day.
    pub passages_a_day: usize,
    /// Chance that a milking is missed.
    pub missed: f64,
    /// SD of a stance's split, points.
    pub split_sd: f64,
    /// Degrees of freedom of its tails.
    pub tails: f64,
    /// SD between cows of the natural split, points.
    pub natural_sd: f64,
    /// SD of its drift in a day, points.
    pub natural_drift: f64,
    /// Points of load at true score 1, 2 and 3.
    pub points: [f64; 3],
    /// New cases per cow and day.
    pub onset: f64,
    /// Part of the passages that are walked straight through.
    pub walked: f64,
    /// Whether standard errors and walking contacts are in the table.
    pub full: bool,
    /// Gain of one plate: plate, first day, days of ramp, size.
    pub drift: Option<(usize, i64, i64, f64)>,
}

impl Default for Scenario {
    fn default() -> Self {
        Self {
            seed: 1,
            cows: 100,
            days: 120,
            passages_a_day: 2,
            missed: 0.05,
            split_sd: 4.0,
            tails: 5.0,
            natural_sd: 4.0,
            natural_drift: 0.05,
            points: [5.0, 13.0, 28.0],
            onset: 0.004,
            walked: 0.3,
            full: true,
            drift: None,
        }
    }
}

/// One cow's truth on one day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueDay {
    /// Day number from the first.
    pub day: i64,
    /// 0 to 3.
    pub score: u8,
    /// The leg.
    pub leg: Option<Leg>,
    /// Both legs of that leg's pair.
    pub both: bool,
    /// Whether it came slowly.
    pub slow: bool,
}

/// A herd with its truth by cow and day.
pub struct SimulatedHerd {
    /// As the lane gives them.
    pub passages: Vec<Passage>,
    /// Who is in milk.
    pub register: Vec<HerdEntry>,
    /// The true days of each cow.
    pub truth: Vec<Vec<TrueDay>>,
}

/// The first day.
pub const START: Date = jiff::civil::date(2024, 3, 1);
/// The same in days since 1970.
const START_DAY: i64 = 19_783;

/// The tag of a cow by number.
pub fn name(cow: usize) -> AnimalId {
    AnimalId(format!("cow-{cow:03}"))
}

struct SimulatedTrouble {
    leg: Leg,
    both: bool,
    slow: bool,
    peak: f64,
    rise: i64,
    hold: i64,
    fall: i64,
    begun: i64,
}

impl SimulatedTrouble {
    fn points(&self, day: i64) -> f64 {
        let since = day - self.begun + 1;
        if since <= self.rise {
            self.peak * since as f64 / self.rise as f64
        } else if since <= self.rise + self.hold {
            self.peak
        } else {
            let down = since - self.rise - self.hold;
            (self.peak * (1.0 - down as f64 / self.fall as f64)).max(0.0)
        }
    }

    fn over(&self, day: i64) -> bool {
        day - self.begun + 1 > self.rise + self.hold + self.fall
    }
}

fn new_case(random: &mut ChaCha8Rng, scenario: &Scenario, day: i64) -> SimulatedTrouble {
    let legs = [Leg::LF, Leg::RF, Leg::LR, Leg::LR, Leg::LR, Leg::LR, Leg::RR, Leg::RR, Leg::RR, Leg::RR];
    let slow = random.random::<f64>() < 0.5;
    let [_, two, three] = scenario.points;
    let bad = random.random::<f64>() < if slow { 0.2 } else { 0.4 };
    SimulatedTrouble {
        leg: legs[random.random_range(0..legs.len())],
        both: random.random::<f64>() < 0.06,
        slow,
        peak: if bad { three } else { two } * random.random_range(0.9..1.4),
        rise: if slow { random.random_range(14..28) } else { random.random_range(1..3) },
        hold: random.random_range(7..30),
        fall: random.random_range(7..21),
        begun: day,
    }
}

/// True score of a number of points: halfway between the scenario's sizes.
fn score(points: f64, scenario: &Scenario) -> u8 {
    let [one, two, three] = scenario.points;
    let limits = [0.5 * one, 0.5 * (one + two), 0.5 * (two + three)];
    limits.iter().filter(|&&limit| points >= limit).count() as u8
}

struct SimulatedCow {
    split: [f64; 2],
    front: f64,
    weight: f64,
    shifts: f64,
    case: Option<SimulatedTrouble>,
}

/// Makes a herd with its truth.
pub fn herd(scenario: &Scenario) -> SimulatedHerd {
    let mut random = ChaCha8Rng::seed_from_u64(scenario.seed);
    let normal = |random: &mut ChaCha8Rng, sd: f64| -> f64 {
        sd * Distribution::<f64>::sample(&StandardNormal, random)
    };
    let mut cows: Vec<SimulatedCow> = (0..scenario.cows)
        .map(|_| SimulatedCow {
            split: [normal(&mut random, 0.8 * scenario.natural_sd), normal(&mut random, scenario.natural_sd)],
            front: 54.0 + normal(&mut random, 1.5),
            weight: 640.0 + normal(&mut random, 60.0),
            shifts: (normal(&mut random, 0.35)).exp(),
            case: None,
        })
        .collect();
    let mut result = SimulatedHerd {
        passages: Vec::new(),
        register: (0..scenario.cows)
            .map(|i| HerdEntry { animal: name(i), parity: Some(1 + (i % 4) as u8), calving_date: None })
            .collect(),
        truth: vec![Vec::new(); scenario.cows],
    };
    for day in 0..scenario.days {
        for (i, cow) in cows.iter_mut().enumerate() {
            for split in &mut cow.split {
                *split += normal(&mut random, scenario.natural_drift);
            }
            if cow.case.as_ref().is_some_and(|c| c.over(day)) {
                cow.case = None;
            }
            if cow.case.is_none() && random.random::<f64>() < scenario.onset {
                cow.case = Some(new_case(&mut random, scenario, day));
            }
            let points = cow.case.as_ref().map_or(0.0, |c| c.points(day));
            let score = score(points, scenario);
            result.truth[i].push(TrueDay {
                day,
                score,
                leg: cow.case.as_ref().filter(|_| score > 0).map(|c| c.leg),
                both: cow.case.as_ref().is_some_and(|c| c.both),
                slow: cow.case.as_ref().is_some_and(|c| c.slow),
            });
            let day_split = [normal(&mut random, 1.0), normal(&mut random, 1.0)];
            for milking in 0..scenario.passages_a_day {
                if random.random::<f64>() < scenario.missed {
                    continue;
                }
                let passage = one(&mut random, scenario, cow, i, day, milking, points, day_split);
                result.passages.push(passage);
            }
        }
    }
    result.passages.sort_by_key(|p| p.time);
    for (id, passage) in result.passages.iter_mut().enumerate() {
        passage.id = id as i64 + 1;
    }
    result
}

#[allow(clippy::too_many_arguments)]
fn one(
    random: &mut ChaCha8Rng,
    scenario: &Scenario,
    cow: &SimulatedCow,
    index: usize,
    day: i64,
    milking: usize,
    points: f64,
    day_split: [f64; 2],
) -> Passage {
    let tails = StudentT::new(scenario.tails).expect("degrees of freedom");
    let noise = |random: &mut ChaCha8Rng, sd: f64| -> f64 { sd * tails.sample(random) };
    let (leg, both) = cow.case.as_ref().map_or((Leg::LF, false), |c| (c.leg, c.both));
    let side = if matches!(leg, Leg::LF | Leg::LR) { 1.0 } else { -1.0 };
    let rear = usize::from(matches!(leg, Leg::LR | Leg::RR));
    let mut true_split = [cow.split[0] + day_split[0], cow.split[1] + day_split[1]];
    let mut front = cow.front;
    if both {
        front += if rear == 1 { 0.35 } else { -0.35 } * points;
    } else {
        true_split[rear] += side * points;
        if rear == 0 {
            true_split[1] -= 0.25 * side * points;
        }
    }
    let seconds = random.random_range(3.0..25.0);
    let longer = (10.0f64 / seconds).sqrt().clamp(0.7, 1.6);
    let mut split = [0.0; 2];
    for i in 0..2 {
        split[i] = (true_split[i] + noise(random, scenario.split_sd * longer)).clamp(-95.0, 95.0);
    }
    front = (front + noise(random, 1.2 * longer)).clamp(20.0, 80.0);
    let (f, r) = (front / 2.0, (100.0 - front) / 2.0);
    let mut share = [
        f * (1.0 - split[0] / 100.0),
        f * (1.0 + split[0] / 100.0),
        r * (1.0 - split[1] / 100.0),
        r * (1.0 + split[1] / 100.0),
    ];
    let mut weight = cow.weight + noise(random, 12.0);
    if let Some((plate, from, ramp, size)) = scenario.drift {
        let gain = 1.0 + size * ((day - from) as f64 / ramp as f64).clamp(0.0, 1.0);
        share[plate] *= gain;
        let sum: f64 = share.iter().sum();
        weight *= sum / 100.0;
        share = share.map(|s| 100.0 * s / sum);
    }
    let walked = random.random::<f64>() < scenario.walked;
    let sore = |l: Leg| points > 0.0 && (l == leg || (both && l.pair() == leg.pair()));
    let count = |random: &mut ChaCha8Rng, rate: f64| {
        Poisson::new((rate * seconds / 60.0).max(1e-6)).expect("a rate").sample(random) as u16
    };
    let busier = |on: bool| if on { 1.0 + 0.05 * points } else { 1.0 };
    let standing = (!walked).then(|| Standing {
        seconds: seconds as f32,
        share_pct: PerLeg(share.map(|s| s as f32)),
        share_sd_pct: PerLeg(if scenario.full {
            Leg::ALL.map(|l| {
                (3.0 * (0.02 * points * f64::from(u8::from(l.pair() == leg.pair()))).exp()
                    * noise(random, 0.15).exp()) as f32
            })
        } else {
            [0.0; 4]
        }),
        share_se_pct: PerLeg(if scenario.full {
            [(0.15 * scenario.split_sd * longer) as f32; 4]
        } else {
            [0.0; 4]
        }),
        front_shifts: count(random, 2.0 * cow.shifts * busier(rear == 0)),
        rear_shifts: count(random, 3.0 * cow.shifts * busier(rear == 1)),
        lifts: PerLeg(Leg::ALL.map(|l| count(random, 0.3 * if sore(l) { 1.0 + 0.1 * points } else { 1.0 }))),
    });
    let mut walking = PerLeg([LegContacts::default(); 4]);
    if scenario.full || walked {
        for l in Leg::ALL {
            let pain = if sore(l) { points / 100.0 } else { 0.0 };
            let base = if matches!(l, Leg::LF | Leg::RF) { 58.0 } else { 49.0 };
            let lean = if matches!(l, Leg::RF | Leg::RR) { 1.0 } else { -1.0 };
            let own = cow.split[usize::from(matches!(l, Leg::LR | Leg::RR))];
            walking[l] = LegContacts {
                count: 1,
                peak_pct: (base * (1.0 - 0.8 * pain + lean * own / 400.0) + noise(random, 2.5)) as f32,
                stance_s: (0.75 * (1.0 - 0.5 * pain) * (1.0 + 0.006 * points) + noise(random, 0.04)).max(0.2)
                    as f32,
                impulse_pct_s: 30.0,
                step_s: 0.6,
            };
        }
    }
    let mut quality = Quality::default();
    if walked {
        quality.add(Reason::NoStance);
    }
    let date = START.saturating_add(day.days());
    let seconds_of_day = 5 * 3600 + (milking as i64) * 11 * 3600 + index as i64 * 20;
    Passage {
        id: 0,
        lane: "lane".to_owned(),
        time: Timestamp::from_second((START_DAY + day) * 86_400 + seconds_of_day).expect("in range"),
        date,
        animal: Some(name(index)),
        summary: PassageSummary {
            start: Milliseconds(0),
            duration: Milliseconds((seconds * 1000.0) as u64 + 3000),
            kind: if walked { PassageKind::WalkThrough } else { PassageKind::Stance },
            quality,
            readings: 1000,
            lost_readings: 0,
            body_weight: Some(Estimate { value: weight as f32, se: 3.0 }),
            standing,
            walking,
        },
    }
}

/// A passage as a table brings it.
pub fn listed(passage: &Passage) -> NewPassage {
    NewPassage {
        lane: passage.lane.clone(),
        time: passage.time,
        animal: passage.animal.clone(),
        evidence: "listed".to_owned(),
        summary: passage.summary,
        trace: None,
    }
}
