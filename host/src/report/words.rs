//! Flags, legs, dates and shares in a farmer's words.

use crate::arithmetic::dates::days_between;
use crate::record::{Flag, Place};
use jiff::civil::Date;
use shared::plate::Leg;

/// A flag in words.
#[must_use]
pub const fn flag(flag: Flag) -> &'static str {
    match flag {
        Flag::NoData => "no data",
        Flag::CannotTell => "cannot tell",
        Flag::Clear => "clear",
        Flag::Watch => "watch",
        Flag::Check => "check",
        Flag::Urgent => "URGENT",
    }
}

/// A flag as it is written in tables.
#[must_use]
pub const fn flag_name(flag: Flag) -> &'static str {
    match flag {
        Flag::NoData => "no_data",
        Flag::CannotTell => "cannot_tell",
        Flag::Clear => "clear",
        Flag::Watch => "watch",
        Flag::Check => "check",
        Flag::Urgent => "urgent",
    }
}

/// A leg in words.
#[must_use]
pub const fn leg(leg: Leg) -> &'static str {
    match leg {
        Leg::LF => "left front",
        Leg::RF => "right front",
        Leg::LR => "left rear",
        Leg::RR => "right rear",
    }
}

/// A place: "RR, right rear" or "both rear legs".
#[must_use]
pub fn place(place: Option<Place>) -> String {
    match place {
        Some(Place::One(one)) => format!("{}, {}", one.name(), leg(one)),
        Some(Place::BothFront) => "both front legs".to_owned(),
        Some(Place::BothRear) => "both rear legs".to_owned(),
        None => "leg not clear".to_owned(),
    }
}

/// A probability as a whole percentage; never 0 or 100 %, which nobody can know.
#[must_use]
pub fn percent(probability: f64) -> String {
    match (100.0 * probability).round() {
        low if low < 1.0 => "under 1 %".to_owned(),
        high if high > 99.0 => "over 99 %".to_owned(),
        middle => format!("{middle:.0} %"),
    }
}

/// A day such as `22 Nov`.
#[must_use]
pub fn day(date: Date) -> String {
    date.strftime("%-d %b").to_string()
}

/// A day such as `Sun 22 Nov 2026`.
#[must_use]
pub fn long_day(date: Date) -> String {
    date.strftime("%a %-d %b %Y").to_string()
}

/// Since when: `since 22 Nov (20 to 23 Nov), 3 days`.
#[must_use]
pub fn since(since: Option<(Date, Date, Date)>, today: Date) -> String {
    let Some((earliest, likeliest, latest)) = since else { return "since when is not clear".to_owned() };
    let span = if earliest == latest {
        String::new()
    } else if (earliest.year(), earliest.month()) == (latest.year(), latest.month()) {
        format!(" ({} to {})", earliest.day(), day(latest))
    } else {
        format!(" ({} to {})", day(earliest), day(latest))
    };
    let length = match days_between(likeliest, today) {
        0 => "today".to_owned(),
        1 => "1 day".to_owned(),
        days => format!("{days} days"),
    };
    format!("since {}{span}, {length}", day(likeliest))
}

/// `1 cow`, `2 cows`.
#[must_use]
pub fn count(number: usize, one: &str, many: &str) -> String {
    format!("{} {}", thousands(number), if number == 1 { one } else { many })
}

/// A whole number with commas between thousands.
#[must_use]
pub fn thousands(number: usize) -> String {
    let digits = number.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn since_when() {
        let today = date(2026, 11, 24);
        let at = |d| date(2026, 11, d);
        assert_eq!(since(Some((at(20), at(22), at(23))), today), "since 22 Nov (20 to 23 Nov), 2 days");
        assert_eq!(since(Some((at(24), at(24), at(24))), today), "since 24 Nov, today");
        let early = date(2026, 10, 30);
        assert_eq!(since(Some((early, at(1), at(2))), today), "since 1 Nov (30 Oct to 2 Nov), 23 days");
        assert_eq!(since(None, today), "since when is not clear");
    }

    #[test]
    fn nobody_is_ever_certain() {
        assert_eq!(percent(0.0), "under 1 %");
        assert_eq!(percent(0.996), "over 99 %");
        assert_eq!(percent(0.994), "99 %");
    }

    #[test]
    fn numbers_are_grouped() {
        assert_eq!(count(1, "cow", "cows"), "1 cow");
        assert_eq!(thousands(1_234_567), "1,234,567");
        assert_eq!(thousands(123_456), "123,456");
        assert_eq!(thousands(12), "12");
    }
}
