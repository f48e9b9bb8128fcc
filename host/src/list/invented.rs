//! Small invented rows for tests.

use crate::herd::{AnimalId, CowDay, Flag, Passage};
use crate::list::MorningInput;
use jiff::civil::Date;
use shared::analysis::{LegContacts, PassageKind, PassageSummary, Quality, Standing};
use shared::plate::PerLeg;
use shared::units::{Estimate, Milliseconds};

/// A row with a flag and nothing else worth saying.
#[must_use]
pub fn cow_day(animal: &str, date: Date, flag: Flag) -> CowDay {
    let probability = match flag {
        Flag::NoData | Flag::CannotTell => None,
        Flag::Clear => Some(0.02),
        Flag::Watch => Some(0.3),
        Flag::Check => Some(0.8),
        Flag::Urgent => Some(0.98),
    };
    CowDay {
        animal: AnimalId(animal.into()),
        date,
        flag,
        probability,
        place: None,
        place_probability: None,
        leg_probability: PerLeg([0.0; 4]),
        since: None,
        reasons: Vec::new(),
        confidence: "fair",
        would_settle: String::new(),
        passages: 2,
        block_on: false,
        days_since_trim: None,
    }
}

fn passage(animal: &str, date: Date) -> Passage {
    let time = jiff::tz::TimeZone::UTC.to_timestamp(date.at(6, 0, 0, 0)).unwrap();
    let summary = PassageSummary {
        start: Milliseconds(0),
        duration: Milliseconds(8000),
        kind: PassageKind::Unclear,
        quality: Quality::default(),
        readings: 800,
        lost_readings: 0,
        body_weight: Some(Estimate { value: 640.0, se: 2.0 }),
        standing: None,
        walking: PerLeg::default(),
    };
    Passage { id: 0, lane: "lane".into(), time, date, animal: Some(AnimalId(animal.into())), summary }
}

/// A trusted stance with these leg shares.
#[must_use]
pub fn stance(animal: &str, date: Date, shares: [f32; 4]) -> Passage {
    let mut passage = passage(animal, date);
    passage.summary.kind = PassageKind::Stance;
    passage.summary.standing =
        Some(Standing { seconds: 5.0, share_pct: PerLeg(shares), ..Standing::default() });
    passage
}

/// A trusted walk-through with these peak forces.
#[must_use]
pub fn walk(animal: &str, date: Date, peaks: [f32; 4]) -> Passage {
    let mut passage = passage(animal, date);
    passage.summary.kind = PassageKind::WalkThrough;
    passage.summary.walking =
        PerLeg(peaks.map(|peak_pct| LegContacts { count: 1, peak_pct, ..LegContacts::default() }));
    passage
}

/// An empty input of a day.
#[must_use]
pub const fn morning_input(date: Date) -> MorningInput<'static> {
    MorningInput { date, days: &[], passages: &[], herd: &[], rechecks: &[], lane_notes: &[], capacity: 6 }
}
