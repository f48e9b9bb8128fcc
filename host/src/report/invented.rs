//! Small invented rows for tests.

use crate::record::case::withdrawal::Withdrawal;
use crate::record::finding::{Advice, Confidence, FlagReason};
use crate::record::names::Names;
use crate::record::{
    AnimalId, CowDay, Flag, FootWork, HerdEntry, LaneCause, LaneDay, MobilityScore, Passage, Place,
};
use crate::report::farm::Farm;
use crate::report::list::MorningInput;
use crate::report::list::marks::Marks;
use jiff::civil::Date;
use shared::analysis::{LegContacts, PassageKind, PassageSummary, Quality, Standing};
use shared::plate::{Leg, PerLeg};
use shared::units::{Estimate, Milliseconds};
use std::collections::BTreeMap;

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
        confidence: Confidence::Fair,
        advice: None,
        passages: 2,
        block_on: false,
        days_since_trim: None,
    }
}

/// A day of a lane of which nothing is said.
#[must_use]
pub fn lane_day(lane: &str, date: Date) -> LaneDay {
    LaneDay {
        lane: lane.into(),
        date,
        cows: 80,
        cause: LaneCause::Steady,
        plate: None,
        plate_error_pct: None,
        front_split_points: 0.0,
        rear_split_points: 0.0,
        front_share_pct: 0.0,
        body_weight_pct: None,
        stance_time_pct: 0.0,
        sway_pct: 0.0,
        remark: None,
    }
}

/// A passage of which only the weight is known.
#[must_use]
pub fn passage(animal: &str, date: Date) -> Passage {
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

/// The last day of each animal.
#[must_use]
pub fn last_seen(passages: &[Passage]) -> Vec<(AnimalId, Date)> {
    let mut last = std::collections::BTreeMap::new();
    for passage in passages {
        if let Some(animal) = &passage.animal {
            let day = last.entry(animal.clone()).or_insert(passage.date);
            *day = (*day).max(passage.date);
        }
    }
    last.into_iter().collect()
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
pub fn morning_input(date: Date) -> MorningInput<'static> {
    static NAMES: Names = Names(BTreeMap::new());
    static MARKS: Marks = Marks { away: BTreeMap::new(), resting: BTreeMap::new(), told: Vec::new() };
    MorningInput {
        names: &NAMES,
        marks: &MARKS,
        unknown: &[],
        date,
        days: &[],
        passages: &[],
        last_seen: &[],
        herd: &[],
        rechecks: &[],
        withdrawals: &[],
        rechecks_faded: 0,
        lane_remarks: &[],
        capacity: 6,
    }
}

fn flagged(animal: &str, date: Date, flag: Flag, leg: Leg, since: (i8, i8, i8)) -> CowDay {
    let day = |d| jiff::civil::date(2026, 11, d);
    CowDay {
        place: Some(Place::One(leg)),
        place_probability: Some(0.93),
        since: Some((day(since.0), day(since.1), day(since.2))),
        confidence: Confidence::High,
        ..cow_day(animal, date, flag)
    }
}

/// A farm on 24 November 2026: an urgent cow, checks, a watch, a blocked cow, thin data and a hostile number.
#[must_use]
pub fn farm() -> Farm {
    let today = jiff::civil::date(2026, 11, 24);
    let day = |d: i8| jiff::civil::date(2026, 11, d);
    let mut passages = Vec::new();
    let mut days = Vec::new();
    for d in 1..=24 {
        let saving = f32::from((d - 17).clamp(0, 7));
        if d != 20 {
            passages.push(stance("1042", day(d), [27.4, 27.1, 21.0 + saving, 24.5 - saving]));
        }
        passages.push(stance("276000312345678", day(d), [29.0 - saving, 26.0 + saving, 22.0, 23.0]));
        passages.push(walk("77", day(d), [60.0, 59.0, 50.0 - saving / 2.0, 51.0]));
        if d < 24 {
            days.push(cow_day("1042", day(d), if d < 20 { Flag::Clear } else { Flag::Check }));
        }
    }
    for animal in ["8", "9", "310"] {
        passages.push(stance(animal, today, [27.0, 27.0, 23.0, 23.0]));
    }
    passages.push(stance("411", day(19), [27.0, 27.0, 23.0, 23.0]));
    let mut urgent = flagged("1042", today, Flag::Urgent, Leg::RR, (16, 18, 19));
    urgent.reasons = vec![
        FlagReason::ShareLow { leg: Leg::RR, now_pct: 17.5, usual_pct: 24.5, sd: 5.1 },
        FlagReason::Shifts { now_per_minute: 4.2, usual_per_minute: 1.1 },
        FlagReason::TimeShort { leg: Leg::RR, other: Leg::LR, now_pct: -12.6, usual_pct: 0.4, sd: 3.2 },
    ];
    let mut check = flagged("276000312345678", today, Flag::Check, Leg::LF, (15, 19, 22));
    check.reasons = vec![FlagReason::ShareLow { leg: Leg::LF, now_pct: 22.0, usual_pct: 29.0, sd: 4.0 }];
    let mut low = flagged("77", today, Flag::Check, Leg::LR, (20, 24, 24));
    low.confidence = Confidence::Low;
    low.probability = Some(0.61);
    low.place = Some(Place::BothRear);
    low.place_probability = Some(0.55);
    low.advice = Some(Advice::MorePassages { passages: 3 });
    low.reasons = vec![FlagReason::FrontPeaks { now_pct: 57.0, usual_pct: 54.0, sd: 2.4 }];
    let mut blocked = cow_day("310", today, Flag::CannotTell);
    (blocked.block_on, blocked.days_since_trim) = (true, Some(3));
    let mut watch = flagged("9", today, Flag::Watch, Leg::RF, (23, 24, 24));
    watch.confidence = Confidence::Fair;
    let mut thin = cow_day("8", today, Flag::CannotTell);
    thin.advice = Some(Advice::MorePassages { passages: 2 });
    let hostile = cow_day("<script>alert(1)</script>", today, Flag::Check);
    days.extend([urgent, check, low, blocked, watch, thin, hostile, cow_day("12", today, Flag::Clear)]);
    let herd = [("1042", 3), ("411", 2), ("999", 1)].map(|(animal, parity)| HerdEntry {
        animal: AnimalId(animal.into()),
        parity: Some(parity),
        calving_date: Some(jiff::civil::date(2026, 9, 10)),
    });
    let scores = vec![MobilityScore { date: day(22), animal: AnimalId("1042".into()), score: 2 }];
    let work = vec![FootWork {
        look: false,
        date: day(3),
        animal: AnimalId("1042".into()),
        leg: Some(Leg::LR),
        lesion: false,
        block_off: None,
        block_due: None,
        block: false,
        known: crate::record::VersionSpan::ALWAYS,
    }];
    Farm {
        name: "Invented & Daughters".into(),
        capacity: 3,
        date: today,
        last_seen: last_seen(&passages),
        passages,
        herd: herd.into(),
        scores,
        work,
        days,
        withdrawals: vec![Withdrawal {
            animal_id: AnimalId("310".into()),
            milk_end: Some(day(26)),
            meat_end: Some(day(30)),
        }],
        ..Farm::empty(today)
    }
}
