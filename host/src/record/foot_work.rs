//! Trims and treatments as the score needs them, each with the days on which it was known.

use crate::record::AnimalId;
use jiff::civil::Date;
use shared::plate::Leg;

/// What the score needs to know of one trim or treatment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FootWork {
    /// Day of the work.
    pub date: Date,
    /// Which animal.
    pub animal: AnimalId,
    /// The leg, where one was named.
    pub leg: Option<Leg>,
    /// Whether a lesion was found.
    pub lesion: bool,
    /// First day surely without the block; `None` with `block` = still on.
    pub block_off: Option<Date>,
    /// The day the block is due to come off, while nobody has said that it did.
    pub block_due: Option<Date>,
    /// Whether a block was put on.
    pub block: bool,
    /// Nothing was done: she was looked at, and nothing found.
    pub look: bool,
    /// When this version of the record was the one known.
    pub known: VersionSpan,
}

/// The days on which one version of a record was the one known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VersionSpan {
    /// The first of them.
    pub from: Date,
    /// The first day on which another version was; `None` for the latest version.
    pub until: Option<Date>,
}

impl VersionSpan {
    /// A record with one version.
    pub const ALWAYS: Self = Self { from: Date::MIN, until: None };

    /// Whether this version was the one known at the end of that day.
    #[must_use]
    pub fn on(self, day: Date) -> bool {
        self.from <= day && self.until.is_none_or(|until| day < until)
    }
}

/// What was known of the foot work by the end of `day`: versions that came later are left out.
pub fn known_by(work: &mut Vec<FootWork>, day: Date) {
    work.retain(|work| work.date <= day && work.known.from <= day);
    for work in work {
        work.known.until = work.known.until.filter(|until| *until <= day);
    }
}

/// Takes what became known after `day` as known on that day already: for a list of the last day, read later.
pub fn known_at_last(work: &mut Vec<FootWork>, day: Date) {
    for work in work.iter_mut() {
        work.known.from = work.known.from.min(day);
        work.known.until = work.known.until.map(|until| until.min(day));
    }
    work.retain(|work| work.date <= day && work.known.until.is_none_or(|until| work.known.from < until));
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// Work of a day of March whose version was known from a day on until another.
    fn work(day: i8, from: i8, until: Option<i8>) -> FootWork {
        FootWork {
            date: date(2026, 3, day),
            animal: AnimalId("412".into()),
            leg: Some(Leg::RR),
            lesion: true,
            block_off: None,
            block_due: None,
            block: false,
            look: false,
            known: VersionSpan { from: date(2026, 3, from), until: until.map(|day| date(2026, 3, day)) },
        }
    }

    #[test]
    fn what_became_known_after_the_last_day_counts_as_known_on_it() {
        let on_the_tenth = |of: FootWork| {
            let mut all = vec![of];
            known_at_last(&mut all, date(2026, 3, 10));
            all.pop().map(|left| left.known)
        };
        let span = |from: i8, until: Option<i8>| {
            Some(VersionSpan { from: date(2026, 3, from), until: until.map(|day| date(2026, 3, day)) })
        };
        // Entered on the 12th of work of the 5th: taken as entered on the 10th.
        assert_eq!(on_the_tenth(work(5, 12, None)), span(10, None));
        // Of the 5th, corrected on the 15th: the correction is taken as of the 10th.
        assert_eq!(on_the_tenth(work(5, 5, Some(15))), span(5, Some(10)));
        // Entered on the 12th and corrected on the 15th: the correction alone is left, both are of the 10th then.
        assert_eq!(on_the_tenth(work(5, 12, Some(15))), None);
        // Work of the day itself is left, work of the day after is not, whenever it was entered.
        assert_eq!(on_the_tenth(work(10, 10, None)), span(10, None));
        assert_eq!(on_the_tenth(work(11, 11, None)), None);
        assert_eq!(on_the_tenth(work(11, 9, None)), None);
    }
}
