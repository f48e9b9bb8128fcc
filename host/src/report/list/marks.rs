//! What the marks on the cows mean for a list: who is not in milk, and who rests until she gets worse.

use crate::arithmetic::dates::days_between;
use crate::record::mark::{Mark, Marked, state};
use crate::record::{AnimalId, CowDay, Flag, FootWork, Place};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// A cow that was looked at rests for so many days at most. Our choice: two weeks.
const LOOKED_DAYS: i32 = 14;
/// A cow that is booked rests for so many days at most, or until work on her feet is entered. Our choice: six weeks.
const BOOKED_DAYS: i32 = 42;

/// A cow that rests.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Resting {
    /// `Looked` or `Booked`.
    pub mark: Mark,
    /// The day of the mark.
    pub since: Date,
    /// Her flag and place on that day, where she had any.
    then: Option<(Flag, Option<Place>)>,
}

/// The marks of a farm on a day.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Marks {
    /// Cows that are not in milk: dry, lent, sold or dead.
    pub away: BTreeMap<AnimalId, Mark>,
    /// Cows that rest.
    pub resting: BTreeMap<AnimalId, Resting>,
    /// Whom another program told of as lame, and when.
    pub told: Vec<(AnimalId, Date)>,
}

impl Marks {
    /// By the marks up to `on` in order, the last day each was seen, the work done, and her row of a day.
    ///
    /// # Errors
    /// When a row cannot be had.
    pub fn on<E>(
        date: Date,
        marks: &[Marked],
        last_seen: &[(AnimalId, Date)],
        work: &[FootWork],
        row: impl Fn(&AnimalId, Date) -> Result<Option<CowDay>, E>,
    ) -> Result<Self, E> {
        let seen: BTreeMap<&AnimalId, Date> = last_seen.iter().map(|(animal, day)| (animal, *day)).collect();
        let mut hers: BTreeMap<&AnimalId, Vec<Marked>> = BTreeMap::new();
        for marked in marks.iter().filter(|marked| marked.date <= date) {
            hers.entry(&marked.animal).or_default().push(marked.clone());
        }
        let told = marks.iter().filter(|marked| marked.mark == Mark::Told && marked.date <= date);
        let told = told.map(|marked| (marked.animal.clone(), marked.date)).collect();
        let mut found = Self { told, ..Self::default() };
        for (animal, marks) in hers {
            let state = state(&marks, seen.get(animal).copied(), date);
            if state != Mark::Milking {
                found.away.insert(animal.clone(), state);
            }
            // What another program tells is for people to read; it wakes nobody and puts nobody to rest.
            let Some(last) = marks.iter().rev().find(|marked| marked.mark != Mark::Told) else { continue };
            let worked = || {
                let hers = |work: &&FootWork| work.animal == *animal && !work.look;
                work.iter().filter(hers).any(|work| (last.date..=date).contains(&work.date))
            };
            let rests = match last.mark {
                Mark::Looked => days_between(last.date, date) < LOOKED_DAYS,
                Mark::Booked => days_between(last.date, date) < BOOKED_DAYS && !worked(),
                _ => false,
            };
            if rests {
                let then = row(animal, last.date)?.map(|row| (row.flag, row.place));
                found.resting.insert(animal.clone(), Resting { mark: last.mark, since: last.date, then });
            }
        }
        Ok(found)
    }

    /// Whether she is there to be judged.
    #[must_use]
    pub fn there(&self, animal: &AnimalId) -> bool {
        !self.away.contains_key(animal)
    }

    /// Whether she is sold or dead: nothing is left to be done about her feet.
    #[must_use]
    pub fn gone(&self, animal: &AnimalId) -> bool {
        matches!(self.away.get(animal), Some(Mark::Sold | Mark::Died))
    }

    /// The cows that are booked for the trimmer.
    pub fn booked(&self) -> impl Iterator<Item = &AnimalId> {
        self.resting.iter().filter(|(_, resting)| resting.mark == Mark::Booked).map(|(animal, _)| animal)
    }

    /// The mark that keeps her off the list, unless she is urgent, or worse than when it was set: a higher flag, another
    /// leg, or lame anew since.
    #[must_use]
    pub fn rests(&self, row: &CowDay) -> Option<&Resting> {
        let resting = self.resting.get(&row.animal)?;
        // What she was flagged with when somebody looked is no news.
        let (flag, place) = resting.then.unwrap_or((Flag::Check, row.place));
        let worse = row.flag == Flag::Urgent
            || row.flag == Flag::Check
                && (row.flag > flag
                    || place.is_some() && row.place != place
                    || row.since.is_some_and(|since| since.1 > resting.since));
        (!worse).then_some(resting)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::cow_day;
    use jiff::civil::date;
    use shared::plate::Leg;

    fn day(day: i8) -> Date {
        date(2026, 3, day)
    }

    fn row(on: i8, flag: Flag, leg: Leg) -> CowDay {
        let since = Some((day(1), day(2), day(3)));
        CowDay { place: Some(Place::One(leg)), since, ..cow_day("98", day(on), flag) }
    }

    fn marks(mark: Mark, on: i8, work: &[FootWork]) -> Marks {
        let animal = AnimalId("98".into());
        let marked = [Marked { date: day(5), animal, mark, who: String::new() }];
        let then = |_: &AnimalId, on| {
            assert_eq!(on, day(5));
            Ok::<_, ()>(Some(row(5, Flag::Check, Leg::RR)))
        };
        Marks::on(day(on), &marked, &[(AnimalId("98".into()), day(4))], work, then).unwrap()
    }

    #[test]
    fn a_look_rests_her_until_she_is_worse() {
        let marks = |on| marks(Mark::Looked, on, &[]);
        let rests = |row: &CowDay| marks(6).rests(row).is_some();
        assert!(rests(&row(6, Flag::Check, Leg::RR)));
        assert!(rests(&row(6, Flag::Watch, Leg::LR)));
        assert!(!rests(&row(6, Flag::Urgent, Leg::RR)), "urgent");
        assert!(!rests(&row(6, Flag::Check, Leg::LR)), "another leg");
        let anew = CowDay { since: Some((day(5), day(6), day(6))), ..row(6, Flag::Check, Leg::RR) };
        assert!(!rests(&anew), "lame anew since");
        assert!(marks(18).rests(&row(18, Flag::Check, Leg::RR)).is_some());
        assert!(marks(19).rests(&row(19, Flag::Check, Leg::RR)).is_none(), "two weeks are over");
    }

    #[test]
    fn a_booking_ends_with_the_work() {
        let mut work = crate::report::invented::farm().work[0].clone();
        (work.animal, work.date) = (AnimalId("98".into()), day(7));
        let rests = |on, work: &[FootWork]| {
            marks(Mark::Booked, on, work).rests(&row(on, Flag::Check, Leg::RR)).is_some()
        };
        assert!(rests(8, &[]));
        assert!(!rests(8, &[work.clone()]));
        assert!(rests(6, &[work.clone()]), "not done yet");
        work.look = true;
        assert!(rests(8, &[work]), "a look is no work");
    }

    #[test]
    fn a_dry_cow_is_away_until_seen() {
        assert!(!marks(Mark::Dry, 6, &[]).there(&AnimalId("98".into())));
        assert!(marks(Mark::Milking, 6, &[]).there(&AnimalId("98".into())));
        let marked =
            [Marked { date: day(5), animal: AnimalId("98".into()), mark: Mark::Sold, who: String::new() }];
        let seen = [(AnimalId("98".into()), day(6))];
        let none = |_: &AnimalId, _| Ok::<_, ()>(None);
        assert!(Marks::on(day(7), &marked, &seen, &[], none).unwrap().there(&AnimalId("98".into())));
        assert!(!Marks::on(day(7), &marked, &[], &[], none).unwrap().there(&AnimalId("98".into())));
    }
}
