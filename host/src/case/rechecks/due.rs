//! Rechecks of the whole farm on a day, moved by what the lane saw.

use crate::arithmetic::dates::days_between;
use crate::case::before_after::compare::{courses, verdict};
use crate::case::before_after::verdict::CaseAnswer;
use crate::case::book::{CowBook, Learned, WINDOW_DAYS};
use crate::case::rechecks::recheck::{Recheck, UsualDays, plan};
use crate::record::case::KeptCase;
use crate::store::{PassageFilter, Store, StoreError};
use jiff::{ToSpan, civil::Date};
use rayon::prelude::*;
use shared::plate::Leg;
use std::collections::BTreeMap;

/// Cases older than this are no longer looked at for a recheck, days (our choice).
const OPEN_DAYS: i32 = 120;
/// Days of passages read before a case.
pub const READ_DAYS: i32 = 250;

impl Store {
    /// What is to be done about every open case, as seen on a day; `cases` as they were known then.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn rechecks(&self, cases: Vec<KeptCase>, date: Date) -> Result<Vec<Recheck>, StoreError> {
        let days = |key| Ok::<_, StoreError>(self.setting(key)?.and_then(|days| days.parse().ok()));
        let usual = UsualDays {
            recheck: days("recheck_days")?.unwrap_or(35),
            dressing: days("dressing_days")?.unwrap_or(2),
        };
        let closed = later_cases(&cases);
        let learned = self.learned()?;
        let mut open: Vec<(KeptCase, Option<Date>, Option<CowBook>)> = Vec::new();
        for mut kept in cases {
            if !(0..=OPEN_DAYS).contains(&days_between(kept.case.date, date)) || kept.withdrawn.is_some() {
                continue;
            }
            kept.follow_ups.retain(|look| look.date <= date);
            let closed = closed.get(&kept.id).copied();
            let cow = if wants_evidence(&kept, date, usual, closed) {
                let animal = &kept.case.animal;
                let from = Some(kept.case.date.saturating_sub(READ_DAYS.days()));
                let filter = PassageFilter { animal: Some(animal.clone()), from, to: Some(date) };
                Some(self.cow(animal, self.passages(&filter)?)?)
            } else {
                None
            };
            open.push((kept, closed, cow));
        }
        Ok(open
            .par_iter()
            .flat_map_iter(|(kept, closed, cow)| {
                let answer = cow.as_ref().map(|cow| answer(kept, cow, date, &learned));
                plan(kept, date, usual, *closed, answer.as_ref())
            })
            .collect())
    }
}

/// For each case, the day of the next case at the same foot.
fn later_cases(cases: &[KeptCase]) -> BTreeMap<i64, Date> {
    let at_foot = |kept: &&KeptCase| kept.withdrawn.is_none() && kept.case.leg.is_some();
    let mut by_foot: BTreeMap<_, Vec<(Date, i64)>> = BTreeMap::new();
    for kept in cases.iter().filter(at_foot) {
        let foot = (&kept.case.animal, kept.case.leg.map(Leg::name));
        by_foot.entry(foot).or_default().push((kept.case.date, kept.id));
    }
    let mut next = BTreeMap::new();
    for days in by_foot.values_mut() {
        days.sort_unstable();
        // Two cases of one day at one foot, one a claw, stand side by side.
        for (index, (date, id)) in days.iter().enumerate() {
            next.extend(days[index..].iter().find(|(later, _)| later > date).map(|(later, _)| (*id, *later)));
        }
    }
    next
}

/// Whether what the lane saw could bring the case forward: only a foot that is not due already.
fn wants_evidence(kept: &KeptCase, date: Date, usual: UsualDays, closed: Option<Date>) -> bool {
    kept.case.leg.is_some() && plan(kept, date, usual, closed, None).iter().any(|r| r.date > date)
}

fn answer(kept: &KeptCase, cow: &CowBook, date: Date, learned: &BTreeMap<String, Learned>) -> CaseAnswer {
    let question = cow.question(kept.case.date, date, WINDOW_DAYS, learned);
    let (legs, all) = courses(&question);
    verdict(&question, &legs, &all).1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use crate::record::case::Case;
    use jiff::civil::date;

    #[test]
    fn only_a_later_case_at_the_same_foot_closes_one() {
        let case = |id, animal: &str, day, leg: &str| {
            let mut case = Case::new(AnimalId(animal.into()), date(2026, 3, day));
            case.set_field("leg", leg).unwrap();
            KeptCase { id, case, follow_ups: vec![], withdrawn: None }
        };
        let gone = KeptCase { withdrawn: Some("wrong cow".into()), ..case(6, "1", 4, "LR") };
        let cases = [
            case(1, "1", 2, "LR"),
            case(2, "1", 2, "LR"),
            case(3, "1", 9, "LR"),
            case(4, "1", 5, "RR"),
            case(5, "2", 6, "LR"),
            gone,
        ];
        let ninth = date(2026, 3, 9);
        assert_eq!(later_cases(&cases), BTreeMap::from([(1, ninth), (2, ninth)]));
    }
}
