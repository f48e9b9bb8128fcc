//! When to look again: the plan, and what moves it.

use crate::case::before_after::verdict::CaseAnswer;
use crate::case::rechecks::wear;
use crate::record::case::block;
use crate::record::case::{Course, KeptCase};
use crate::record::finding::{LookFor, RecheckReason, Verdict, codes, one_code};
use jiff::{ToSpan, civil::Date};
use serde::Serialize;

/// A foot that goes slower than expected is looked at this long after the last look, days (our choice).
const SLOWER_DAYS: i32 = 14;

/// A foot seen the same is looked at this long after, days (our choice).
const SAME_DAYS: i32 = 14;
/// A foot with a block is looked at from the first to the last of these days (Thomas 2015: blocked cows of the trial).
const EARLY_LOOK_DAYS: (i32, i32) = (5, 11);
/// What nobody did for so long is told of in one line, days (our choice).
pub const FADES_DAYS: i32 = 28;

/// One thing to do at one foot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Recheck {
    /// The day.
    pub date: Date,
    /// The cow.
    pub animal_id: String,
    /// The leg.
    pub leg: &'static str,
    /// The case.
    pub case: i64,
    /// What is to be done or looked for.
    #[serde(serialize_with = "codes")]
    pub look_for: Vec<LookFor>,
    /// Why that day.
    #[serde(serialize_with = "one_code")]
    pub reason: RecheckReason,
    /// The day it was planned for, where evidence moved it.
    pub planned: Option<Date>,
}

impl Recheck {
    /// Whether nobody did it for so long that it no longer stands with the others.
    #[must_use]
    pub fn faded(&self, today: Date) -> bool {
        self.date.saturating_add(FADES_DAYS.days()) < today
    }
}

/// The farm's usual times, days.
#[derive(Clone, Copy, Debug)]
pub struct UsualDays {
    /// From a treatment to its recheck.
    pub recheck: i32,
    /// From a treatment to the day its dressing comes off.
    pub dressing: i32,
}

/// What is to be done about a case. `answer` is the verdict of today, if there is one; `closed` the day of a later case
/// at the same foot, which takes the place of this one.
#[must_use]
pub fn plan(
    kept: &KeptCase,
    today: Date,
    usual: UsualDays,
    closed: Option<Date>,
    answer: Option<&CaseAnswer>,
) -> Vec<Recheck> {
    if kept.withdrawn.is_some() || closed.is_some_and(|day| day <= today) {
        return vec![];
    }
    [
        dressing(kept, usual.dressing),
        early_block_look(kept, today),
        main_look(kept, today, usual.recheck, answer),
        block_off(kept, today),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn entry(
    kept: &KeptCase,
    date: Date,
    look_for: Vec<LookFor>,
    reason: RecheckReason,
    planned: Option<Date>,
) -> Recheck {
    let vet = (kept.case.for_the_veterinarian() && !looked_at(kept)).then_some(LookFor::Veterinarian);
    let look_for = vet.into_iter().chain(look_for).collect();
    Recheck {
        date,
        animal_id: kept.case.animal.0.clone(),
        leg: kept.case.leg.map_or("", shared::plate::Leg::name),
        case: kept.id,
        look_for,
        reason,
        planned,
    }
}

/// Any look after the day of the work.
fn looked_at(kept: &KeptCase) -> bool {
    kept.follow_ups.iter().any(|look| look.date > kept.case.date)
}

/// A dressing comes off in a day or two (D. Doepfer, in Hoard's Dairyman); any later look has seen to it.
fn dressing(kept: &KeptCase, days: i32) -> Option<Recheck> {
    let open = kept.case.treatment.dressing && !looked_at(kept);
    let date = kept.case.date.saturating_add(days.days());
    open.then(|| entry(kept, date, vec![LookFor::DressingOff], RecheckReason::DressingTime { days }, None))
}

/// Lost blocks are found, and worse feet, while there is time to act.
fn early_block_look(kept: &KeptCase, today: Date) -> Option<Recheck> {
    let day = |days: i32| kept.case.date.saturating_add(days.days());
    let open = block::known_off(kept).is_none() && kept.case.treatment.block.is_some() && !looked_at(kept);
    let (from, to) = EARLY_LOOK_DAYS;
    (open && today <= day(to)).then(|| {
        entry(kept, day(from), vec![LookFor::BlockHeight], RecheckReason::EarlyBlockLook { from, to }, None)
    })
}

/// The look at the foot itself: by the plan, by what the last look saw, or sooner by what the lane sees.
fn main_look(kept: &KeptCase, today: Date, usual_days: i32, answer: Option<&CaseAnswer>) -> Option<Recheck> {
    let case = &kept.case;
    let needed = case.lesion.is_some() || case.treatment.block.is_some() || case.recheck.is_some();
    let healed = kept.follow_ups.iter().any(|look| look.course == Some(Course::Healed));
    if !needed || healed {
        return None;
    }
    let planned = case.recheck.unwrap_or(case.date.saturating_add(usual_days.days()));
    let usual = if case.recheck.is_some() {
        RecheckReason::Planned
    } else {
        RecheckReason::UsualTime { days: usual_days }
    };
    let last = kept.follow_ups.iter().max_by_key(|look| look.date);
    let (date, reason) = match last.map(|look| (look.date, look.course)) {
        Some((date, Some(Course::Worse))) => (date, RecheckReason::SeenWorse { date }),
        Some((date, Some(Course::Same))) => {
            (date.saturating_add(SAME_DAYS.days()), RecheckReason::SeenSame { date })
        }
        Some((date, _)) if date >= planned => return None,
        _ => (planned, usual),
    };
    let sooner = answer
        .and_then(|answer| soonest(kept, answer, today, last.map(|look| look.date)))
        .filter(|(day, _)| *day < date);
    Some(match sooner {
        Some((day, reason)) => entry(kept, day, look_for(kept), reason, Some(date)),
        None => entry(kept, date, look_for(kept), reason, None),
    })
}

fn block_off(kept: &KeptCase, today: Date) -> Option<Recheck> {
    let off = block::due(kept).filter(|_| block::off(kept).is_some_and(|gone| today < gone))?;
    let due = kept.case.treatment.block.as_ref().and_then(|block| block.due);
    let reason = if due.is_some() {
        RecheckReason::Planned
    } else {
        RecheckReason::BlockTime { days: block::DEFAULT_BLOCK_DAYS }
    };
    let worn = wear::forecast(kept).filter(|worn| worn.day < off);
    Some(match worn {
        Some(worn) => {
            let reason = RecheckReason::BlockWear { earliest: worn.earliest, latest: worn.latest };
            entry(kept, worn.day, vec![LookFor::BlockWorn], reason, Some(off))
        }
        None => {
            let ask = if off <= today { LookFor::BlockStillOn } else { LookFor::BlockOff };
            entry(kept, off, vec![ask], reason, None)
        }
    })
}

/// The day that the evidence asks for, and why: a lost block, a worse foot or another sore leg at once (our choice, as
/// soon as practical for a lame cow).
fn soonest(
    kept: &KeptCase,
    answer: &CaseAnswer,
    today: Date,
    looked_at: Option<Date>,
) -> Option<(Date, RecheckReason)> {
    if looked_at == Some(today) {
        return None;
    }
    let day = match answer.verdict {
        Verdict::BlockProbablyLost | Verdict::Worse | Verdict::AnotherLegNow => today,
        Verdict::SlowerThanExpected => {
            looked_at.unwrap_or(kept.case.date).saturating_add(SLOWER_DAYS.days()).max(today)
        }
        Verdict::AsExpected | Verdict::CannotTellYet => return None,
    };
    Some((day, RecheckReason::Course { verdict: answer.verdict, reason: answer.reason.clone() }))
}

fn look_for(kept: &KeptCase) -> Vec<LookFor> {
    let case = &kept.case;
    let lesion = case.lesion.as_ref().map(|lesion| LookFor::Lesion {
        lesion: lesion.as_str().to_owned(),
        claw: case.claw,
        zone: case.zone.map(|zone| zone.number()),
    });
    let block = case.treatment.block.is_some() && block::known_off(kept).is_none();
    let more = [block.then_some(LookFor::BlockHeight), Some(LookFor::OtherFoot)];
    lesion.into_iter().chain(more.into_iter().flatten()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_for_the_veterinarian_is_said_until_somebody_looked() {
        let mut kept = crate::record::case::KeptCase {
            id: 1,
            case: Case::new(AnimalId("412".into()), date(2026, 3, 2)),
            follow_ups: Vec::new(),
            withdrawn: None,
        };
        kept.case.treatment.dressing = true;
        let said =
            |kept: &KeptCase| dressing(kept, 2).is_some_and(|one| one.look_for[0] == LookFor::Veterinarian);
        for (field, value, vet) in
            [("lesion", "WL", false), ("lesion", "IP", true), ("lesion", "SW", true), ("severity", "3", true)]
        {
            kept.case.lesion = None;
            kept.case.set_field(field, value).unwrap();
            assert_eq!(said(&kept), vet, "{field} {value}");
        }
        kept.case.set_field("severity", "2").unwrap();
        assert!(!said(&kept));
    }
    use crate::record::AnimalId;
    use crate::record::case::{BlockSeen, Case, FollowUp};
    use crate::record::finding::CourseReason;
    use jiff::civil::date;

    const USUAL: UsualDays = UsualDays { recheck: 35, dressing: 2 };

    fn look(day: Date, course: Course) -> FollowUp {
        FollowUp { date: day, block: None, height_mm: None, course: Some(course), note: None, who: None }
    }

    fn kept() -> KeptCase {
        let mut case = Case::new(AnimalId("412".into()), date(2026, 3, 2));
        for (name, value) in
            [("leg", "RR"), ("claw", "outer"), ("lesion", "SU"), ("zone", "4"), ("block_claw", "inner")]
        {
            case.set_field(name, value).unwrap();
        }
        KeptCase { id: 7, case, follow_ups: vec![], withdrawn: None }
    }

    fn answer(verdict: Verdict) -> CaseAnswer {
        CaseAnswer {
            verdict,
            reason: CourseReason::SuddenStep { leg: shared::plate::Leg::RR, since: date(2026, 3, 9) },
            leg: "RR",
            ask_again: None,
        }
    }

    #[test]
    fn five_weeks_and_the_block_by_its_own_date() {
        let entries = plan(&kept(), date(2026, 3, 10), USUAL, None, Some(&answer(Verdict::AsExpected)));
        let dates = [date(2026, 3, 7), date(2026, 4, 6), date(2026, 3, 30)];
        assert_eq!(entries.iter().map(|e| e.date).collect::<Vec<_>>(), dates);
    }

    #[test]
    fn evidence_moves_it_sooner_with_the_reason() {
        let mut entries =
            plan(&kept(), date(2026, 3, 10), USUAL, None, Some(&answer(Verdict::BlockProbablyLost)));
        entries.remove(0);
        assert_eq!(entries[0].date, date(2026, 3, 10));
        assert_eq!(entries[0].planned, Some(date(2026, 4, 6)));
        assert!(matches!(
            entries[0].reason,
            RecheckReason::Course {
                verdict: Verdict::BlockProbablyLost,
                reason: CourseReason::SuddenStep { .. }
            }
        ));
    }

    #[test]
    fn a_slow_foot_is_due_two_weeks_after_the_last_look_and_stays_due() {
        let slow = answer(Verdict::SlowerThanExpected);
        let on = |day| main_look(&kept(), date(2026, 3, day), 35, Some(&slow)).unwrap().date;
        assert_eq!((on(12), on(16), on(18)), (date(2026, 3, 16), date(2026, 3, 16), date(2026, 3, 18)));
        let mut seen = kept();
        let look = FollowUp {
            date: date(2026, 3, 17),
            block: Some(BlockSeen::On),
            height_mm: None,
            course: Some(Course::Improving),
            note: None,
            who: None,
        };
        seen.follow_ups.push(look);
        assert_eq!(main_look(&seen, date(2026, 3, 18), 35, Some(&slow)).unwrap().date, date(2026, 3, 31));
    }

    #[test]
    fn what_is_done_is_not_asked_for_again() {
        let mut kept = kept();
        kept.follow_ups.push(FollowUp {
            date: date(2026, 4, 6),
            block: Some(BlockSeen::TakenOff),
            height_mm: None,
            course: Some(Course::Healed),
            note: None,
            who: None,
        });
        assert_eq!(plan(&kept, date(2026, 4, 7), USUAL, None, None), []);
    }

    #[test]
    fn what_the_last_look_saw_moves_the_next() {
        let main = |looks: &[FollowUp]| {
            let seen = KeptCase { follow_ups: looks.to_vec(), ..kept() };
            main_look(&seen, date(2026, 3, 20), 35, None).map(|entry| (entry.date, entry.reason))
        };
        let tenth = date(2026, 3, 10);
        let usual = (date(2026, 4, 6), RecheckReason::UsualTime { days: 35 });
        assert_eq!(
            main(&[look(tenth, Course::Worse)]),
            Some((tenth, RecheckReason::SeenWorse { date: tenth }))
        );
        let same = RecheckReason::SeenSame { date: tenth };
        assert_eq!(main(&[look(tenth, Course::Same)]), Some((date(2026, 3, 24), same)));
        assert_eq!(main(&[look(tenth, Course::Improving)]), Some(usual.clone()));
        assert_eq!(main(&[look(tenth, Course::Healed)]), None);
        let later = look(date(2026, 3, 12), Course::Improving);
        assert_eq!(main(&[look(tenth, Course::Worse), later]), Some(usual), "the last look counts");
        assert_eq!(main(&[look(date(2026, 4, 6), Course::Improving)]), None);
        assert!(main(&[look(date(2026, 4, 6), Course::Same)]).is_some(), "still not healed");
    }

    #[test]
    fn a_dressing_is_due_off_in_two_days_until_somebody_looks() {
        let mut with = kept();
        with.case.treatment.dressing = true;
        let first = |kept: &KeptCase| plan(kept, date(2026, 3, 2), USUAL, None, None)[0].clone();
        assert_eq!(
            (first(&with).date, &first(&with).look_for[..]),
            (date(2026, 3, 4), &[LookFor::DressingOff][..])
        );
        with.follow_ups.push(look(date(2026, 3, 3), Course::Improving));
        assert!(!first(&with).look_for.contains(&LookFor::DressingOff));
    }

    #[test]
    fn a_block_is_looked_at_early_and_not_asked_for_after() {
        let early = |today| early_block_look(&kept(), today).map(|entry| entry.date);
        assert_eq!(early(date(2026, 3, 13)), Some(date(2026, 3, 7)));
        assert_eq!(early(date(2026, 3, 14)), None);
        let mut seen = kept();
        seen.follow_ups.push(look(date(2026, 3, 8), Course::Improving));
        assert_eq!(early_block_look(&seen, date(2026, 3, 9)), None);
    }

    #[test]
    fn a_later_case_at_the_foot_takes_its_place_from_its_day() {
        let on = |today| plan(&kept(), today, USUAL, Some(date(2026, 3, 20)), None).len();
        assert_eq!((on(date(2026, 3, 19)), on(date(2026, 3, 20))), (2, 0));
    }

    #[test]
    fn what_nobody_did_fades_after_four_weeks() {
        let entry = main_look(&kept(), date(2026, 4, 6), 35, None).unwrap();
        assert!(!entry.faded(date(2026, 5, 4)));
        assert!(entry.faded(date(2026, 5, 5)));
    }

    #[test]
    fn the_height_of_a_block_is_looked_at_while_it_may_be_on() {
        let asked = |kept: &KeptCase| look_for(kept).contains(&LookFor::BlockHeight);
        assert!(asked(&kept()));
        let mut off = kept();
        off.case.set_field("block_off", "2026-03-20").expect("a day");
        assert!(!asked(&off));
        let mut without = kept();
        without.case.treatment.block = None;
        assert!(!asked(&without));
    }
}
