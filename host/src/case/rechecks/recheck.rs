//! When to look again: the plan, and what moves it.

use crate::case::before_after::verdict::Answer;
use crate::case::rechecks::wear;
use crate::record::case::block;
use crate::record::case::{Course, KeptCase};
use crate::record::finding::{LookFor, RecheckReason, Verdict, codes, one_code};
use jiff::{ToSpan, civil::Date};
use serde::Serialize;

/// A foot that goes slower than expected is looked at this long after the last look, days (our choice).
const SLOWER_DAYS: i32 = 14;

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

/// What is to be done about a case. `answer` is the verdict of today, if there is one.
#[must_use]
pub fn plan(kept: &KeptCase, today: Date, recheck_days: i32, answer: Option<&Answer>) -> Vec<Recheck> {
    let case = &kept.case;
    let healed = kept.follow_ups.iter().any(|f| f.course == Some(Course::Healed));
    let entry = |date, look_for, reason, planned| Recheck {
        date,
        animal_id: case.animal.0.clone(),
        leg: case.leg.map_or("", shared::plate::Leg::name),
        case: kept.id,
        look_for,
        reason,
        planned,
    };
    if kept.withdrawn.is_some() {
        return vec![];
    }
    let mut entries = Vec::new();
    let default = case.date.saturating_add(recheck_days.days());
    let looked_at = kept.follow_ups.iter().map(|f| f.date).max();
    let planned = case.recheck.unwrap_or(default);
    let needed = case.lesion.is_some() || case.treatment.block.is_some() || case.recheck.is_some();
    if needed && !healed && looked_at.is_none_or(|day| day < planned) {
        let usual = if case.recheck.is_some() {
            RecheckReason::Planned
        } else {
            RecheckReason::UsualTime { days: recheck_days }
        };
        let sooner =
            answer.and_then(|a| soonest(kept, a, today, looked_at)).filter(|(day, _)| *day < planned);
        entries.push(match sooner {
            Some((day, reason)) => entry(day, look_for(kept), reason, Some(planned)),
            None => entry(planned, look_for(kept), usual, None),
        });
    }
    if let Some(off) = block::due(kept).filter(|_| block::off(kept).is_some_and(|gone| today < gone)) {
        let due = case.treatment.block.as_ref().and_then(|b| b.due);
        let reason = if due.is_some() {
            RecheckReason::Planned
        } else {
            RecheckReason::BlockTime { days: block::DEFAULT_BLOCK_DAYS }
        };
        let worn = wear::forecast(kept).filter(|worn| worn.day < off);
        entries.push(match worn {
            Some(worn) => entry(
                worn.day,
                vec![LookFor::BlockWorn],
                RecheckReason::BlockWear { earliest: worn.earliest, latest: worn.latest },
                Some(off),
            ),
            None => {
                let ask = if off <= today { LookFor::BlockStillOn } else { LookFor::BlockOff };
                entry(off, vec![ask], reason, None)
            }
        });
    }
    entries
}

/// The day that the evidence asks for, and why: a lost block, a worse foot or another sore leg at once (our choice, as
/// soon as practical for a lame cow).
fn soonest(
    kept: &KeptCase,
    answer: &Answer,
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
    let more = [
        block.then_some(LookFor::BlockHeight),
        case.treatment.dressing.then_some(LookFor::DressingOff),
        Some(LookFor::OtherFoot),
    ];
    lesion.into_iter().chain(more.into_iter().flatten()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use crate::record::case::{BlockSeen, Case, FollowUp};
    use crate::record::finding::CourseReason;
    use jiff::civil::date;

    fn kept() -> KeptCase {
        let mut case = Case::new(AnimalId("412".into()), date(2026, 3, 2));
        for (name, value) in
            [("leg", "RR"), ("claw", "outer"), ("lesion", "SU"), ("zone", "4"), ("block_claw", "inner")]
        {
            case.set_field(name, value).unwrap();
        }
        KeptCase { id: 7, case, follow_ups: vec![], withdrawn: None }
    }

    fn answer(verdict: Verdict) -> Answer {
        Answer {
            verdict,
            reason: CourseReason::SuddenStep { leg: shared::plate::Leg::RR, since: date(2026, 3, 9) },
            leg: "RR",
            ask_again: None,
        }
    }

    #[test]
    fn five_weeks_and_the_block_by_its_own_date() {
        let entries = plan(&kept(), date(2026, 3, 10), 35, Some(&answer(Verdict::AsExpected)));
        assert_eq!(entries.iter().map(|e| e.date).collect::<Vec<_>>(), [date(2026, 4, 6), date(2026, 3, 30)]);
    }

    #[test]
    fn evidence_moves_it_sooner_with_the_reason() {
        let entries = plan(&kept(), date(2026, 3, 10), 35, Some(&answer(Verdict::BlockProbablyLost)));
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
        let on = |day| plan(&kept(), date(2026, 3, day), 35, Some(&slow))[0].date;
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
        assert_eq!(plan(&seen, date(2026, 3, 18), 35, Some(&slow))[0].date, date(2026, 3, 31));
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
        assert_eq!(plan(&kept, date(2026, 4, 7), 35, None), []);
    }
}
