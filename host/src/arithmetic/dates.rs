//! Days as numbers.

use jiff::{ToSpan, Unit, civil::Date};

const EPOCH: Date = jiff::civil::date(1970, 1, 1);

/// Days since the first of January 1970.
#[must_use]
pub fn day_number(date: Date) -> i64 {
    EPOCH.until((Unit::Day, date)).map_or(0, |span| i64::from(span.get_days()))
}

/// The date of a day number.
#[must_use]
pub fn date_of_number(day: i64) -> Date {
    EPOCH.saturating_add(day.days())
}

/// Days from `a` to `b`.
#[must_use]
pub fn days_between(a: Date, b: Date) -> i32 {
    a.until(b).map_or(0, |span| span.get_days())
}
