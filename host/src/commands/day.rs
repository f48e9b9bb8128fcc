//! A day as given on the command line.

use crate::commands::trim::case::today;
use crate::record::day_words::{DayOrder, Direction, NoDay, day, last_day};
use crate::store::Store;
use jiff::civil::Date;
use std::str::FromStr;

/// A day as written: `2026-03-31`, `31.3.2026`, `yesterday`, `monday`, `3 days ago`.
#[derive(Clone, Debug)]
pub struct Day(String);

impl FromStr for Day {
    type Err = NoDay;

    /// Takes what one order of day and month or the other can read; which it is, the farm says later.
    fn from_str(text: &str) -> Result<Self, NoDay> {
        let any = Date::constant(2000, 1, 1);
        let read = |order| day(text, any, Direction::Past, Some(order));
        read(DayOrder::DayFirst).or_else(|_| read(DayOrder::MonthFirst))?;
        Ok(Self(text.to_owned()))
    }
}

impl Day {
    /// The day meant, counted from the farm's today.
    ///
    /// # Errors
    /// When two days fit, or the store cannot be read.
    pub fn on(&self, store: &Store) -> anyhow::Result<Date> {
        Ok(day(&self.0, today(store)?, Direction::Past, store.day_order()?)?)
    }

    /// The same for a day that need not be given.
    ///
    /// # Errors
    /// As [`Day::on`].
    pub fn maybe(given: Option<&Self>, store: &Store) -> anyhow::Result<Option<Date>> {
        given.map(|day| day.on(store)).transpose()
    }

    /// The same for a day that is to be scored: every day up to it is, so that one in a hundred years would take a while.
    ///
    /// # Errors
    /// As [`Day::on`], and for a day after tomorrow.
    pub fn been(given: Option<&Self>, store: &Store) -> anyhow::Result<Option<Date>> {
        let (day, last) = (Self::maybe(given, store)?, last_day(today(store)?));
        day.map(|day| if day > last { Err(NoDay::ToCome(day).into()) } else { Ok(day) }).transpose()
    }
}
