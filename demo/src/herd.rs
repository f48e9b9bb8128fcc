//! The herd, its calendar, and the order in which the cows come out of the parlour.

use crate::bearing::Bearing;
use crate::cow::{Condition, Cow};
use crate::plates::GainDrift;
use crate::random::Random;
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp, ToSpan};
use shared::plate::PerLeg;

/// What to invent.
#[derive(Clone, Debug)]
pub struct Settings {
    /// How many cows.
    pub cows: u32,
    /// How many days.
    pub days: u32,
    /// Everything follows from it.
    pub seed: u64,
    /// Readings a second.
    pub rate_hz: f64,
    /// Milkings a day, 2 or 3.
    pub milkings: u32,
    /// First day.
    pub first_day: Date,
    /// One plate that slowly reads wrong.
    pub drift: Option<GainDrift>,
    /// Whether readings of the empty deck are written throughout.
    pub continuous: bool,
    /// How much of the empty deck is written around each passage, s.
    pub margin_s: f64,
    /// How long the plates are hosed after each milking, s.
    pub hosing_s: f64,
    /// How often things go wrong in the lane, against usual (1).
    pub trouble: f64,
}

impl Settings {
    /// A herd with the usual lane.
    #[must_use]
    pub fn new(cows: u32, days: u32, seed: u64) -> Self {
        Self {
            cows,
            days,
            seed,
            rate_hz: 100.0,
            milkings: 2,
            first_day: jiff::civil::date(2025, 1, 6),
            drift: None,
            continuous: false,
            margin_s: 2.0,
            hosing_s: 60.0,
            trouble: 1.0,
        }
    }

    /// Hours of the day at which milkings begin, UTC.
    #[must_use]
    pub const fn hours(&self) -> &'static [f64] {
        if self.milkings >= 3 { &[5.0, 12.5, 19.5] } else { &[5.5, 16.5] }
    }

    /// The date of a day.
    #[must_use]
    pub fn date(&self, day: i32) -> Date {
        self.first_day.saturating_add(day.days())
    }

    /// The moment of a time, days from the start, to the millisecond.
    #[must_use]
    pub fn millis(&self, time: f64) -> i64 {
        let start = self.first_day.duration_since(jiff::civil::date(1970, 1, 1)).as_millis() as i64;
        start + libm::round(time * 86_400_000.0) as i64
    }
}

/// A moment in RFC 3339, UTC, with milliseconds.
#[must_use]
pub fn rfc3339(millis: i64) -> String {
    let moment = Timestamp::UNIX_EPOCH + SignedDuration::from_millis(millis);
    format!("{moment:.3}")
}

/// A cow with what changes in her from day to day.
pub struct Member {
    /// Herself.
    pub cow: Cow,
    /// Today.
    pub condition: Condition,
    random: Random,
}

/// The herd on a day.
pub struct Herd {
    /// What was asked for.
    pub settings: Settings,
    /// The cows, by number.
    pub members: Vec<Member>,
    /// The day, from 0.
    pub day: i32,
}

impl Herd {
    /// A random herd on its first day.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        let cows = (1..=settings.cows).map(|n| Cow::draw(settings.seed, n, settings.days)).collect();
        Self::of(settings, cows)
    }

    /// A herd of given cows on its first day.
    #[must_use]
    pub fn of(settings: Settings, cows: Vec<Cow>) -> Self {
        let member = |(number, cow)| {
            let mut random = Random::new(settings.seed, "condition", number as u64);
            Member { cow, condition: Condition::first(&mut random), random }
        };
        let members = cows.into_iter().enumerate().map(member).collect();
        Self { settings, members, day: 0 }
    }

    /// Moves on to the next day.
    pub fn next_day(&mut self) {
        self.day += 1;
        for member in &mut self.members {
            member.condition.next_day(&mut member.random);
        }
    }

    /// Which cows come out of a milking today, in their order.
    #[must_use]
    pub fn order(&self, milking: usize) -> Vec<usize> {
        let index = self.day as u64 * 8 + milking as u64;
        let random = &mut Random::new(self.settings.seed, "order", index);
        let milked = self.members.iter().enumerate().filter(|(_, m)| m.cow.lactation(self.day).is_some());
        let mut order: Vec<(f64, usize)> = milked
            .map(|(i, m)| {
                // A sore cow comes later.
                let sore = m.cow.course.severity(f64::from(self.day)).0.iter().copied().fold(0.0, f64::max);
                (m.cow.rank + 0.15 * sore + random.normal(0.0, 0.12), i)
            })
            .collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        order.into_iter().map(|(_, i)| i).collect()
    }

    /// The stream of random numbers of one passage.
    #[must_use]
    pub fn passage_random(&self, member: usize, milking: usize, purpose: &str) -> Random {
        let index = (member as u64 * 100_000 + self.day as u64) * 8 + milking as u64;
        Random::new(self.settings.seed, purpose, index)
    }

    /// How a cow carries herself at a time of today.
    #[must_use]
    pub fn bearing(&self, member: usize, time: f64, random: &mut Random) -> Bearing {
        let member = &self.members[member];
        Bearing::draw(&member.cow, &member.condition, time, random)
    }

    /// How sore each leg of a cow is at noon today.
    #[must_use]
    pub fn noon(&self, member: usize) -> PerLeg<f64> {
        self.members[member].cow.course.severity(f64::from(self.day) + 0.5)
    }
}
