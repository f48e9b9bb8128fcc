//! Scripted cows: the recorded herd of the demo and the cases of the trimmer's walkthrough.

use crate::course::{Block, Course, Episode, Lesion, Work};
use crate::cow::{Calving, Cow};
use crate::herd::{Herd, Settings};
use crate::lane::{Planned, Trouble};
use clap::ValueEnum;
use shared::plate::{Leg, PerLeg};

/// Hour of the day at which a trimmer works, as part of a day.
const TRIM_HOUR: f64 = 0.45;

/// What becomes of a case.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Story {
    /// A sole ulcer of the right hind heals under a block as it should.
    Healing,
    /// The block is lost on the ninth day and nobody notices until the recheck.
    BlockLost,
    /// The right hind heals, then the left hind gets an ulcer.
    OtherLeg,
    /// It heals, the block comes off, and it comes back.
    Relapse,
    /// It does not heal.
    Failing,
    /// A sound cow wears a block.
    SoundBlock,
    /// A white line abscess from one day to the next.
    Abscess,
    /// Both hind feet with digital dermatitis.
    BothHind,
}

/// Days of a case: first limp, treatment, block off.
pub const CASE_DAYS: (f64, f64, f64) = (30.0, 47.0, 75.0);

fn episode(lesion: Lesion, leg: Leg, onset: f64, rise_days: f64, peak: f64) -> Episode {
    let mut legs = PerLeg([0.0; 4]);
    legs[leg] = 1.0;
    Episode { lesion, legs, onset, rise_days, peak, heals_from: f64::INFINITY, half_days: 9.0 }
}

fn work(day: f64, leg: Leg, lesion: Option<Lesion>, block: Option<Block>) -> Work {
    Work { time: day + TRIM_HOUR, leg: Some(leg), lesion, block }
}

fn block(off: f64, recorded: f64, si_pct: f64) -> Option<Block> {
    Some(Block { off: off + TRIM_HOUR, off_recorded: recorded + TRIM_HOUR, si_pct })
}

impl Story {
    /// The course of the cow of this story.
    #[must_use]
    pub fn course(self) -> Course {
        let (limp, treated, off) = CASE_DAYS;
        let mut ulcer = episode(Lesion::SoleUlcer, Leg::RR, limp, 18.0, 2.3);
        ulcer.heals_from = treated + TRIM_HOUR;
        let usual = || work(treated, Leg::RR, Some(Lesion::SoleUlcer), block(off, off, 16.0));
        let mut course = Course::default();
        match self {
            Self::Healing => {
                course.work.push(usual());
                course.episodes.push(ulcer);
            }
            Self::BlockLost => {
                let lost = block(treated + 9.0, treated + 28.0, 22.0);
                course.work.push(work(treated, Leg::RR, Some(Lesion::SoleUlcer), lost));
                course.episodes.push(ulcer);
            }
            Self::OtherLeg => {
                course.work.push(usual());
                course.episodes.push(ulcer);
                course.episodes.push(episode(Lesion::SoleUlcer, Leg::LR, treated + 14.0, 14.0, 2.4));
            }
            Self::Relapse => {
                course.work.push(usual());
                course.episodes.push(ulcer);
                course.episodes.push(episode(Lesion::SoleUlcer, Leg::RR, off + 10.0, 14.0, 2.2));
            }
            Self::Failing => {
                ulcer.half_days = 120.0;
                course.work.push(usual());
                course.episodes.push(ulcer);
            }
            Self::SoundBlock => course.work.push(work(treated, Leg::RR, None, block(off, off, 17.0))),
            Self::Abscess => {
                let mut abscess = episode(Lesion::WhiteLine, Leg::LR, treated - 3.0, 1.0, 3.1);
                abscess.heals_from = treated + TRIM_HOUR;
                abscess.half_days = 4.0;
                course.work.push(work(treated, Leg::LR, Some(Lesion::WhiteLine), block(off, off, 16.0)));
                course.episodes.push(abscess);
            }
            Self::BothHind => {
                let mut both = episode(Lesion::DigitalDermatitis, Leg::LR, limp, 15.0, 2.3);
                both.legs[Leg::RR] = 0.9;
                both.heals_from = treated + TRIM_HOUR;
                course.work.push(work(treated, Leg::LR, Some(Lesion::DigitalDermatitis), None));
                course.episodes.push(both);
            }
        }
        course
    }
}

/// An invented cow with a course of her own and 80 days in milk at the start.
#[must_use]
pub fn scripted(seed: u64, number: u32, days: u32, course: Course) -> Cow {
    let mut cow = Cow::draw(seed, number, days);
    let parity = cow.calvings[0].parity;
    cow.calvings = vec![Calving { day: -80, parity }];
    cow.course = course;
    cow
}

/// The herd of a case: the cow of the story first, and sound herd mates.
#[must_use]
pub fn case_herd(settings: Settings, story: Story) -> Herd {
    let mut cows = vec![scripted(settings.seed, 12, settings.days, story.course())];
    let mates = settings.cows.saturating_sub(1);
    cows.extend((0..mates).map(|n| scripted(settings.seed, 13 + n, settings.days, Course::default())));
    Herd::of(settings, cows)
}

/// Cows of the recorded herd.
pub const RECORDED_COWS: u32 = 8;
/// Days of the recorded herd.
pub const RECORDED_DAYS: u32 = 14;
/// The day from which the recorded herd comes as CSV; before it comes as a capture.
pub const RECORDED_CSV_FROM: i32 = 10;
/// Days of the planted tag swap and of the two cows at once in the recorded herd.
const SWAP_DAY: i32 = 6;
const TWO_DAY: i32 = 8;

/// The herd of `demo/recorded`: two that go lame, two that were treated, four sound ones.
#[must_use]
pub fn recorded_herd(settings: Settings) -> Herd {
    let seed = settings.seed;
    let days = settings.days;
    let sudden =
        Course { episodes: vec![episode(Lesion::WhiteLine, Leg::RR, 9.0, 1.2, 2.9)], work: Vec::new() };
    let slow =
        Course { episodes: vec![episode(Lesion::SoleUlcer, Leg::LR, 3.0, 12.0, 2.3)], work: Vec::new() };
    let mut ulcer = episode(Lesion::SoleUlcer, Leg::LR, -12.0, 12.0, 2.5);
    ulcer.heals_from = 6.0 + TRIM_HOUR;
    ulcer.half_days = 5.0;
    let blocked = Course {
        episodes: vec![ulcer],
        work: vec![work(6.0, Leg::LR, Some(Lesion::SoleUlcer), block(34.0, 34.0, 15.0))],
    };
    let mut infected = episode(Lesion::DigitalDermatitis, Leg::RR, -6.0, 8.0, 1.9);
    infected.heals_from = 4.0 + TRIM_HOUR;
    infected.half_days = 4.0;
    let dressed = Course {
        episodes: vec![infected],
        work: vec![work(4.0, Leg::RR, Some(Lesion::DigitalDermatitis), None)],
    };
    let mut courses = vec![sudden, slow, blocked, dressed];
    courses.resize(settings.cows as usize, Course::default());
    let cows = courses.into_iter().zip(12..).map(|(course, number)| scripted(seed, number, days, course));
    let cows = cows.collect();
    Herd::of(settings, cows)
}

/// What goes wrong on purpose in the recorded herd.
#[must_use]
pub fn recorded_trouble(herd: &Herd, member: usize, milking: usize) -> Planned {
    match (herd.day, member, milking) {
        (SWAP_DAY, 5, 0) => Some(Some(Trouble::TagSwapped)),
        (TWO_DAY, 6, 1) => Some(Some(Trouble::TwoCows)),
        _ => None,
    }
}
