//! A case as it was known on a day: later corrections undone, later follow-ups and a block's end to come not yet known.

use crate::record::case::KeptCase;
use crate::record::case::block;
use crate::record::case::history::CorrectedField;
use crate::record::{FootWork, VersionSpan};
use jiff::civil::Date;
use std::collections::BTreeSet;

/// The name under which a withdrawal stands among the corrections.
const WITHDRAWN: &str = "withdrawn";

/// The case as known by the end of `day`; `None` before its own day, or where a past value cannot be read.
/// `corrections` are by the day they were made, oldest first.
#[must_use]
pub fn known_on(kept: &KeptCase, corrections: &[(Date, CorrectedField)], day: Date) -> Option<KeptCase> {
    let mut then = kept.clone();
    for (_, change) in corrections.iter().rev().take_while(|(made, _)| *made > day) {
        if change.field == WITHDRAWN {
            then.withdrawn = Some(change.was.clone()).filter(|why| !why.is_empty());
        } else {
            then.case.set_field(&change.field, &change.was).ok()?;
        }
    }
    then.follow_ups.retain(|look| look.date <= day);
    if let Some(block) = &mut then.case.treatment.block {
        block.off = block.off.filter(|off| *off <= day);
    }
    (then.case.date <= day).then_some(then)
}

/// Every version of the case that the score should know of, each with the days on which it was the one known.
#[must_use]
pub fn versions(kept: &KeptCase, corrections: &[(Date, CorrectedField)]) -> Vec<FootWork> {
    let mut days: BTreeSet<Date> = corrections.iter().map(|(made, _)| *made).collect();
    days.extend(kept.follow_ups.iter().map(|look| look.date));
    days.insert(kept.case.date);
    days.extend(kept.case.treatment.block.as_ref().and_then(|block| block.off));
    for (_, change) in corrections.iter().filter(|(_, c)| matches!(c.field.as_str(), "date" | "block_off")) {
        days.extend(change.was.parse::<Date>());
        days.extend(change.is.parse::<Date>());
    }
    let mut found: Vec<FootWork> = Vec::new();
    for day in days {
        let now =
            known_on(kept, corrections, day).filter(|then| then.withdrawn.is_none()).map(|then| FootWork {
                look: false,
                date: then.case.date,
                animal: then.case.animal.clone(),
                leg: then.case.leg,
                lesion: then.case.lesion.is_some(),
                block_off: block::off(&then),
                block_due: block::due(&then),
                block: then.case.treatment.block.is_some(),
                known: VersionSpan { from: day, until: None },
            });
        let last = found.last_mut().filter(|work| work.known.until.is_none());
        match (last, now) {
            (Some(last), Some(now)) if (FootWork { known: last.known, ..now.clone() }) == *last => {}
            (Some(last), now) => {
                last.known.until = Some(day);
                found.extend(now);
            }
            (None, now) => found.extend(now),
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use crate::record::case::{BlockSeen, Case, FollowUp};
    use jiff::civil::date;
    use shared::plate::Leg;

    fn change(field: &str, was: &str, is: &str) -> CorrectedField {
        CorrectedField { field: field.into(), was: was.into(), is: is.into() }
    }

    fn kept() -> KeptCase {
        let mut case = Case::new(AnimalId("412".into()), date(2026, 3, 2));
        for (name, value) in [("leg", "LR"), ("lesion", "SU"), ("block_claw", "inner")] {
            case.set_field(name, value).unwrap();
        }
        KeptCase { id: 7, case, follow_ups: vec![], withdrawn: None }
    }

    #[test]
    fn a_case_nobody_touched_has_one_version() {
        let found = versions(&kept(), &[]);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].known, VersionSpan { from: date(2026, 3, 2), until: None });
        assert_eq!(
            (found[0].block_due, found[0].block_off),
            (Some(date(2026, 3, 30)), Some(date(2026, 5, 11)))
        );
    }

    #[test]
    fn a_correction_counts_from_the_day_it_was_made() {
        let corrections = [(date(2026, 3, 9), change("leg", "RR", "LR"))];
        let found = versions(&kept(), &corrections);
        assert_eq!(found.iter().map(|w| w.leg).collect::<Vec<_>>(), [Some(Leg::RR), Some(Leg::LR)]);
        assert_eq!(found[0].known.until, Some(date(2026, 3, 9)));
        assert!(found[1].known.on(date(2026, 3, 9)) && !found[1].known.on(date(2026, 3, 8)));
        let then = known_on(&kept(), &corrections, date(2026, 3, 8)).unwrap();
        assert_eq!(then.case.leg, Some(Leg::RR));
    }

    #[test]
    fn a_withdrawn_case_counted_until_then() {
        let mut kept = kept();
        kept.withdrawn = Some("wrong cow".into());
        let found = versions(&kept, &[(date(2026, 3, 9), change(WITHDRAWN, "", "wrong cow"))]);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].known, VersionSpan { from: date(2026, 3, 2), until: Some(date(2026, 3, 9)) });
    }

    #[test]
    fn a_case_that_was_put_back_counts_again_from_that_day() {
        let corrections = [
            (date(2026, 3, 9), change(WITHDRAWN, "", "wrong cow")),
            (date(2026, 3, 12), change(WITHDRAWN, "wrong cow", "")),
        ];
        let known: Vec<VersionSpan> = versions(&kept(), &corrections).iter().map(|work| work.known).collect();
        let [second, ninth, twelfth] = [2, 9, 12].map(|day| date(2026, 3, day));
        assert_eq!(
            known,
            [VersionSpan { from: second, until: Some(ninth) }, VersionSpan { from: twelfth, until: None }]
        );
    }

    #[test]
    fn a_block_seen_later_is_not_known_before() {
        let mut kept = kept();
        kept.follow_ups.push(FollowUp {
            date: date(2026, 4, 8),
            block: Some(BlockSeen::TakenOff),
            height_mm: None,
            course: None,
            note: None,
            who: None,
        });
        let found = versions(&kept, &[]);
        assert_eq!(
            found.iter().map(|w| (w.block_due, w.block_off)).collect::<Vec<_>>(),
            [(Some(date(2026, 3, 30)), Some(date(2026, 5, 11))), (None, Some(date(2026, 4, 8)))]
        );
        assert_eq!(found[1].known.from, date(2026, 4, 8));
    }
}
