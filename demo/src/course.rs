//! How sore each leg is over the days: lesions that come, are treated, heal, come back or change sides.
//!
//! Severity is a number from 0 (sound) to about 3.5; the true mobility score follows from it by [`SCORE_LIMITS`].

use crate::random::Random;
use shared::plate::{Leg, PerLeg};

/// Severities from which an observer who never errs would score 1, 2 and 3 (our choice).
pub const SCORE_LIMITS: [f64; 3] = [0.6, 1.5, 2.6];
/// Largest severity (our choice).
pub const MAX_SEVERITY: f64 = 3.6;
/// Extra soreness right after a trim, and how fast it goes, days. Source of the direction: Van Hertem 2014, scores
/// of 3 or more in 14 % before, 34 % directly after; Cutler 2015, higher on days 1 to 3 after a block. Size: our
/// choice.
const UNSETTLED: (f64, f64) = (0.35, 1.6);
/// Block on a sound claw: points of symmetry index moved off the leg that wears it, mean and SD between cows.
/// Chosen so that the between-limb difference of sound cows goes from 8.5 to 20.7 %: Pluss 2021.
const BLOCK_SI: (f64, f64) = (17.0, 13.0);
/// What is left of a sore leg's severity while a block rests the sore claw (our choice).
const BLOCK_RELIEF: f64 = 0.75;
/// Days from treatment to taking the block off. Source: Thomas 2015, days 25 to 31.
const BLOCK_DAYS: (f64, f64) = (25.0, 31.0);
/// Share of blocks lost before their day, and the days on which that happens (our choice; low-density blocks were
/// analysable only to day 11 in Ranjbar 2021).
const BLOCK_LOST: (f64, f64, f64) = (0.15, 5.0, 20.0);
/// Median days from first being lame to treatment where nobody looks often. Source: Leach 2012, 65 days; here
/// shorter, as the invented farm scores once a month.
const SLOW_DELAY_DAYS: (f64, f64) = (50.0, 0.6);
/// Share of treated claw horn lesions that get a block (our choice).
const BLOCK_SHARE: f64 = 0.6;

/// What is wrong with a foot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lesion {
    /// White line lesion; sudden where it is an abscess.
    WhiteLine,
    /// Sole ulcer.
    SoleUlcer,
    /// Digital dermatitis.
    DigitalDermatitis,
    /// Sole haemorrhage.
    SoleHaemorrhage,
}

impl Lesion {
    /// Its short code as used in public claw health work, and the zone of the foot map where it is drawn.
    #[must_use]
    pub const fn code_and_zone(self) -> (&'static str, u8) {
        match self {
            Self::WhiteLine => ("WL", 3),
            Self::SoleUlcer => ("SU", 4),
            Self::DigitalDermatitis => ("DD", 10),
            Self::SoleHaemorrhage => ("SH", 4),
        }
    }
}

/// One bout of soreness.
#[derive(Clone, Debug)]
pub struct Episode {
    /// What it is.
    pub lesion: Lesion,
    /// How much of the severity each leg has, 0..1.
    pub legs: PerLeg<f64>,
    /// First day of it, days from the start of the herd's record, with fraction.
    pub onset: f64,
    /// Days from onset to the full severity.
    pub rise_days: f64,
    /// Full severity.
    pub peak: f64,
    /// When it begins to heal.
    pub heals_from: f64,
    /// Half-time of healing, days.
    pub half_days: f64,
}

impl Episode {
    /// Severity of the worst leg at a time.
    #[must_use]
    pub fn severity(&self, time: f64) -> f64 {
        let risen = |t: f64| {
            let u = ((t - self.onset) / self.rise_days).clamp(0.0, 1.0);
            self.peak * u * u * (3.0 - 2.0 * u)
        };
        if time <= self.heals_from {
            return risen(time);
        }
        let left = risen(self.heals_from) * libm::exp2(-(time - self.heals_from) / self.half_days);
        if left < 0.12 { 0.0 } else { left }
    }

    /// When it is gone, as far as anyone could see.
    #[must_use]
    pub fn end(&self) -> f64 {
        self.heals_from + self.half_days * libm::log2((self.peak / 0.12).max(1.0))
    }
}

/// A block on the sound claw of a foot.
#[derive(Clone, Debug)]
pub struct Block {
    /// When it truly came off.
    pub off: f64,
    /// Day it was recorded as off.
    pub off_recorded: f64,
    /// Points of symmetry index it moves off the leg.
    pub si_pct: f64,
}

/// One trim or treatment.
#[derive(Clone, Debug)]
pub struct Work {
    /// When.
    pub time: f64,
    /// The foot; `None` for a routine trim of all four.
    pub leg: Option<Leg>,
    /// What was found.
    pub lesion: Option<Lesion>,
    /// The block, if one was put on.
    pub block: Option<Block>,
}

/// A cow's whole story.
#[derive(Clone, Debug, Default)]
pub struct Course {
    /// Bouts of soreness, by onset.
    pub episodes: Vec<Episode>,
    /// Trims and treatments, by time.
    pub work: Vec<Work>,
}

impl Course {
    /// Severity of each leg at a time, days from the start.
    #[must_use]
    pub fn severity(&self, time: f64) -> PerLeg<f64> {
        let mut sore = PerLeg([0.0; 4]);
        for episode in &self.episodes {
            let severity = episode.severity(time);
            for leg in Leg::ALL {
                sore[leg] = f64::max(sore[leg], severity * episode.legs[leg]);
            }
        }
        for work in self.work.iter().filter(|w| w.time <= time) {
            let unsettled = UNSETTLED.0 * libm::exp(-(time - work.time) / UNSETTLED.1);
            for leg in Leg::ALL {
                if work.leg.is_none_or(|l| l == leg) {
                    let share = if work.leg.is_some() { 1.0 } else { 0.5 };
                    if unsettled > 0.05 {
                        sore[leg] += share * unsettled;
                    }
                }
            }
            if let (Some(leg), Some(block)) = (work.leg, &work.block)
                && time < block.off
            {
                sore[leg] *= BLOCK_RELIEF;
            }
        }
        sore.0.iter_mut().for_each(|s| *s = s.min(MAX_SEVERITY));
        sore
    }

    /// Points of symmetry index that blocks move off each leg.
    #[must_use]
    pub fn block_si_pct(&self, time: f64) -> PerLeg<f64> {
        let mut moved = PerLeg([0.0; 4]);
        for work in &self.work {
            if let (Some(leg), Some(block)) = (work.leg, &work.block)
                && (work.time..block.off).contains(&time)
            {
                moved[leg] += block.si_pct;
            }
        }
        moved
    }

    /// A random story from `from` to `to`, days, for a cow with the given risk (1 = the herd's mean).
    #[must_use]
    pub fn draw(random: &mut Random, risk: f64, from: f64, to: f64) -> Self {
        let mut course = Self::default();
        let mean_gap = 190.0 / risk;
        let mut time = from + random.exponential(mean_gap);
        while time < to {
            let (episode, work) = draw_episode(random, time);
            let leg = Leg::ALL.into_iter().find(|l| episode.legs[*l] >= 1.0);
            let end = episode.end();
            let slow = episode.rise_days > 5.0;
            let treated = work.as_ref().map(|w| w.time);
            course.episodes.push(episode);
            course.work.extend(work);
            time = end + 5.0 + random.exponential(mean_gap);
            if let (Some(leg), Some(treated), true) = (leg, treated, slow) {
                time = follow_on(random, &mut course, leg, treated, end, time);
            }
        }
        course.routine_trims(random, from, to);
        course
    }

    fn routine_trims(&mut self, random: &mut Random, from: f64, to: f64) {
        let mut time = from + random.uniform(0.0, 160.0);
        while time < to {
            let day = time.floor() + 0.45;
            let near = |w: &Work| (w.time - day).abs() < 40.0;
            if !self.work.iter().any(near) {
                self.work.push(Work { time: day, leg: None, lesion: None, block: None });
            }
            time += random.uniform(140.0, 190.0);
        }
        self.work.sort_by(|a, b| a.time.total_cmp(&b.time));
        self.episodes.sort_by(|a, b| a.onset.total_cmp(&b.onset));
    }
}

/// A relapse in the same leg or a lesion in the other leg of the pair; gives when the next new story may begin.
fn follow_on(random: &mut Random, course: &mut Course, leg: Leg, treated: f64, end: f64, next: f64) -> f64 {
    // Thomas 2016: of cows lame for more than two weeks, 38 % were lame on the other limb at day 42.
    let (other, again) = (random.chance(0.2), random.chance(0.15));
    let onset = if other {
        treated + random.uniform(10.0, 40.0)
    } else if again {
        end + random.uniform(5.0, 40.0)
    } else {
        return next;
    };
    let mut follow = slow_episode(random, onset, if other { leg.opposite() } else { leg });
    let work = treat(random, &mut follow);
    let end = follow.end();
    course.episodes.push(follow);
    course.work.extend(work);
    next.max(end + 10.0)
}

fn draw_leg(random: &mut Random) -> Leg {
    // Most lesions are in hind feet; 85 % is our choice.
    match (random.chance(0.85), random.chance(0.5)) {
        (true, true) => Leg::LR,
        (true, false) => Leg::RR,
        (false, true) => Leg::LF,
        (false, false) => Leg::RF,
    }
}

fn one_leg(leg: Leg) -> PerLeg<f64> {
    let mut legs = PerLeg([0.0; 4]);
    legs[leg] = 1.0;
    legs
}

fn draw_episode(random: &mut Random, onset: f64) -> (Episode, Option<Work>) {
    let leg = draw_leg(random);
    let pick = random.uniform(0.0, 1.0);
    let mut episode = if pick < 0.22 {
        Episode {
            lesion: Lesion::WhiteLine,
            legs: one_leg(leg),
            onset,
            rise_days: random.uniform(0.1, 2.0),
            peak: random.uniform(2.0, 3.5),
            heals_from: f64::INFINITY,
            half_days: random.uniform(2.5, 6.0),
        }
    } else if pick < 0.57 {
        slow_episode(random, onset, leg)
    } else if pick < 0.75 {
        let (left, right) = if random.chance(0.5) { (1.0, 0.8) } else { (0.8, 1.0) };
        Episode {
            lesion: Lesion::DigitalDermatitis,
            legs: PerLeg([0.0, 0.0, left, right]),
            onset,
            rise_days: random.uniform(8.0, 25.0),
            peak: random.uniform(1.3, 2.6),
            heals_from: f64::INFINITY,
            half_days: random.uniform(5.0, 12.0),
        }
    } else {
        let rise_days = random.uniform(3.0, 20.0);
        Episode {
            lesion: Lesion::SoleHaemorrhage,
            legs: one_leg(leg),
            onset,
            rise_days,
            peak: random.uniform(0.5, 1.45),
            heals_from: onset + rise_days + random.exponential(12.0),
            half_days: random.uniform(6.0, 15.0),
        }
    };
    let work = treat(random, &mut episode);
    (episode, work)
}

fn slow_episode(random: &mut Random, onset: f64, leg: Leg) -> Episode {
    Episode {
        lesion: if random.chance(0.65) { Lesion::SoleUlcer } else { Lesion::WhiteLine },
        legs: one_leg(leg),
        onset,
        rise_days: random.uniform(14.0, 42.0),
        peak: random.uniform(1.6, 3.2),
        heals_from: f64::INFINITY,
        half_days: random.uniform(7.0, 18.0),
    }
}

/// Decides when the farm treats an episode, if it does, and lets it heal from then.
fn treat(random: &mut Random, episode: &mut Episode) -> Option<Work> {
    if episode.heals_from.is_finite() {
        return None;
    }
    let lame_after = episode.rise_days * (SCORE_LIMITS[1] / episode.peak).min(1.0);
    let delay = if episode.rise_days < 5.0 {
        1.0 + random.exponential(4.0)
    } else {
        random.log_normal(SLOW_DELAY_DAYS.0, SLOW_DELAY_DAYS.1).min(120.0)
    };
    let time = (episode.onset + lame_after + delay).floor() + 0.45;
    episode.heals_from = time;
    let leg = Leg::ALL.into_iter().find(|l| episode.legs[*l] >= 1.0)?;
    let horn = episode.lesion != Lesion::DigitalDermatitis;
    let block = (horn && random.chance(BLOCK_SHARE)).then(|| draw_block(random, time));
    Some(Work { time, leg: Some(leg), lesion: Some(episode.lesion), block })
}

/// A block put on at `time`.
pub fn draw_block(random: &mut Random, time: f64) -> Block {
    let off_recorded = (time + random.uniform(BLOCK_DAYS.0, BLOCK_DAYS.1)).floor() + 0.45;
    let lost = random.chance(BLOCK_LOST.0);
    let lost_on = time + random.uniform(BLOCK_LOST.1, BLOCK_LOST.2);
    Block {
        off: if lost { lost_on } else { off_recorded },
        off_recorded,
        si_pct: random.normal(BLOCK_SI.0, BLOCK_SI.1),
    }
}

/// The score an observer who never errs would give, 0 to 3, for the worst leg's severity.
#[must_use]
pub fn true_score(sore: &PerLeg<f64>) -> u8 {
    let worst = sore.0.iter().copied().fold(0.0, f64::max);
    SCORE_LIMITS.iter().filter(|limit| worst >= **limit).count() as u8
}

/// The sore leg's name as the day table writes it; empty for a cow that walks evenly.
#[must_use]
pub fn true_leg(sore: &PerLeg<f64>) -> &'static str {
    let even = |a: Leg, b: Leg| sore[a].min(sore[b]) >= SCORE_LIMITS[1];
    let worst = Leg::ALL.into_iter().max_by(|a, b| sore[*a].total_cmp(&sore[*b])).unwrap_or(Leg::LF);
    if sore[worst] < SCORE_LIMITS[0] {
        ""
    } else if even(Leg::LR, Leg::RR) {
        "both rear"
    } else if even(Leg::LF, Leg::RF) {
        "both front"
    } else {
        worst.name()
    }
}
