//! Cows, lanes and passages by number, and the passages of each day.

use crate::arithmetic::dates::day_number;
use crate::record::Passage;
use crate::score::model::features::{Measured, measure};
use jiff::{civil::Date, tz::TimeZone};
use rayon::prelude::*;
use std::collections::HashMap;

/// Hour bins of a day: a cow before milking stands otherwise than after (the milk is carried behind, Chapinal 2009).
pub const HOURS: usize = 6;
/// Seconds of a day.
const DAY_S: i64 = 86_400;

/// One passage ready to be scored.
#[derive(Clone, Copy, Debug)]
pub struct IndexedPassage {
    /// Which lane.
    pub lane: usize,
    /// Hour bin.
    pub hour: usize,
    /// The measures, lane and hour not taken out.
    pub measured: Measured,
}

/// Numbers for names, in the order of their coming, so that a later name changes nothing before.
#[derive(Clone, Debug)]
pub struct Numbered<T>(HashMap<T, usize>);

impl<T: std::hash::Hash + Eq + Clone> Numbered<T> {
    /// Names that have their numbers already.
    pub fn new(known: impl IntoIterator<Item = T>) -> Self {
        Self(known.into_iter().enumerate().map(|(number, name)| (name, number)).collect())
    }

    /// The number of a name, where it has one.
    pub fn get<Q: ?Sized + std::hash::Hash + Eq>(&self, name: &Q) -> Option<usize>
    where
        T: std::borrow::Borrow<Q>,
    {
        self.0.get(name).copied()
    }

    /// The number of a name, and whether it is new.
    pub fn number<Q: ?Sized + std::hash::Hash + Eq + ToOwned<Owned = T>>(&mut self, name: &Q) -> (usize, bool)
    where
        T: std::borrow::Borrow<Q>,
    {
        if let Some(number) = self.get(name) {
            return (number, false);
        }
        let number = self.0.len();
        self.0.insert(name.to_owned(), number);
        (number, true)
    }
}

/// The passages of each day up to `last`, in the order of their times: day number and passages.
#[must_use]
pub fn by_day(passages: &[Passage], last: Option<i64>) -> Vec<(i64, Vec<&Passage>)> {
    let mut order: Vec<&Passage> = passages.iter().collect();
    order.sort_by_key(|p| (p.date, p.time, p.id));
    order
        .chunk_by(|a, b| a.date == b.date)
        .map(|today| (day_number(today[0].date), today.to_vec()))
        .take_while(|(day, _)| last.is_none_or(|last| *day <= last))
        .collect()
}

/// What the named and trusted passages of a day measured, in their order; `None` for the others.
#[must_use]
pub fn measured(today: &[&Passage]) -> Vec<Option<Measured>> {
    today.par_iter().map(|p| p.animal.as_ref().and_then(|_| measure(&p.summary))).collect()
}

/// The hour bins of a farm's day.
#[derive(Clone, Copy, Debug)]
pub struct FarmDay {
    begin_s: i64,
}

impl FarmDay {
    /// Of a local day.
    #[must_use]
    pub fn new(date: Date, zone: &TimeZone) -> Self {
        let begin_s = date.to_zoned_datetime(zone.clone()).map_or(0, |zoned| zoned.timestamp().as_second());
        Self { begin_s }
    }

    /// The bin of a passage of that day. On the two days a year whose clock changes it is an hour off.
    #[must_use]
    pub fn hour(self, passage: &Passage) -> usize {
        let since = (passage.time.as_second() - self.begin_s).clamp(0, DAY_S - 1);
        usize::try_from(since).unwrap_or(0) * HOURS / DAY_S as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::stance;

    #[test]
    fn hours_are_those_of_the_farm() {
        let date = jiff::civil::date(2026, 7, 1);
        let zone = TimeZone::fixed(jiff::tz::offset(9));
        let mut passage = stance("1", date, [25.0; 4]);
        passage.time = "2026-06-30T20:30:00Z".parse().unwrap();
        assert_eq!(FarmDay::new(date, &zone).hour(&passage), 1);
        assert_eq!(FarmDay::new(date, &TimeZone::UTC).hour(&passage), 0);
    }

    #[test]
    fn names_keep_their_numbers() {
        let mut names = Numbered::new(["a".to_owned()]);
        assert_eq!(
            [names.number("b"), names.number("a"), names.number("b")],
            [(1, true), (0, false), (1, false)]
        );
        assert_eq!(names.get("c"), None);
    }
}
