//! Days, and hours of a day, as people say them.

pub use crate::record::case::field::Direction;
use jiff::civil::{Date, Time, Weekday};
use jiff::{Span, ToSpan};

/// Which comes first in dates such as 03/04/2026.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum DayOrder {
    /// The day.
    DayFirst,
    /// The month.
    MonthFirst,
}

impl DayOrder {
    /// The order of a name, as the farm's setting has it.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        match name {
            "day-first" => Some(Self::DayFirst),
            "month-first" => Some(Self::MonthFirst),
            _ => None,
        }
    }
}

/// Why a text is no day.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoDay {
    /// It cannot be read.
    #[error("write a day as 2026-03-31, yesterday, monday, '3 days ago' or 'in 5 weeks'")]
    Unreadable,
    /// Two days fit.
    #[error("{0} or {1}? Write it as {0}, or set `fourplate farm day_order=day-first` or month-first")]
    Either(Date, Date),
    /// It has not been yet.
    #[error("{0} is still to come; name a day that has been")]
    ToCome(Date),
}

/// Words for the days around today, in the languages of the catalogue.
const NEAR: [(&str, i32); 6] =
    [("today", 0), ("heute", 0), ("yesterday", -1), ("gestern", -1), ("tomorrow", 1), ("morgen", 1)];
const WEEKDAYS: [(&str, &str, Weekday); 7] = [
    ("monday", "montag", Weekday::Monday),
    ("tuesday", "dienstag", Weekday::Tuesday),
    ("wednesday", "mittwoch", Weekday::Wednesday),
    ("thursday", "donnerstag", Weekday::Thursday),
    ("friday", "freitag", Weekday::Friday),
    ("saturday", "samstag", Weekday::Saturday),
    ("sunday", "sonntag", Weekday::Sunday),
];

/// The last day that can be asked for: tomorrow, where the farm's clock or its zone is a little off.
#[must_use]
pub fn last_day(today: Date) -> Date {
    today.saturating_add(jiff::Span::new().days(1))
}

/// The day of a text: 2026-03-31, 31.3.2026, 31/3/2026, or words counted from `today`.
///
/// # Errors
/// When it is none, or two days fit and no order is set.
pub fn day(text: &str, today: Date, side: Direction, order: Option<DayOrder>) -> Result<Date, NoDay> {
    let text = text.trim().to_lowercase();
    if let Ok(date) = text.parse() {
        return Ok(date);
    }
    if let Some(&(_, days)) = NEAR.iter().find(|(word, _)| *word == text) {
        return after(today, days.days());
    }
    if let Some(&(_, _, weekday)) = WEEKDAYS.iter().find(|(en, de, _)| *en == text || *de == text) {
        let nth = if side == Direction::Past { -1 } else { 1 };
        return today.nth_weekday(nth, weekday).map_err(|_| NoDay::Unreadable);
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    let span = match words[..] {
        [number, unit, "ago"] | ["vor", number, unit] => count(number, unit)?.negate(),
        ["in", number, unit] => count(number, unit)?,
        _ => return numbers(&text, order),
    };
    after(today, span)
}

fn after(today: Date, span: Span) -> Result<Date, NoDay> {
    today.checked_add(span).map_err(|_| NoDay::Unreadable)
}

fn count(number: &str, unit: &str) -> Result<Span, NoDay> {
    let number: u16 = number.parse().map_err(|_| NoDay::Unreadable)?;
    match unit {
        "day" | "days" | "tag" | "tage" | "tagen" => Ok(i32::from(number).days()),
        "week" | "weeks" | "woche" | "wochen" => Ok(i32::from(number).weeks()),
        _ => Err(NoDay::Unreadable),
    }
}

/// A date whose year comes last. Points part day, month and year in that order; with strokes either may come first.
fn numbers(text: &str, order: Option<DayOrder>) -> Result<Date, NoDay> {
    let mark = ['.', '/'].into_iter().find(|mark| text.contains(*mark)).ok_or(NoDay::Unreadable)?;
    let parts: Vec<&str> = text.split(mark).map(str::trim).collect();
    let [first, second, year] = parts[..] else { return Err(NoDay::Unreadable) };
    if year.len() != 4 {
        return Err(NoDay::Unreadable);
    }
    let number = |text: &str| text.parse::<i8>().map_err(|_| NoDay::Unreadable);
    let (first, second) = (number(first)?, number(second)?);
    let year: i16 = year.parse().map_err(|_| NoDay::Unreadable)?;
    let (by_day, by_month) = (Date::new(year, second, first).ok(), Date::new(year, first, second).ok());
    let order = if mark == '.' { Some(DayOrder::DayFirst) } else { order };
    match (order, by_day, by_month) {
        (Some(DayOrder::DayFirst), day, _) => day,
        (Some(DayOrder::MonthFirst), _, day) => day,
        (None, Some(one), Some(other)) if one != other => return Err(NoDay::Either(one, other)),
        (None, one, other) => one.or(other),
    }
    .ok_or(NoDay::Unreadable)
}

/// Hours of a day such as `21:00-05:30`, which may go over midnight; none for an empty text or what is no such hours.
#[must_use]
pub fn hours(text: &str) -> Option<(Time, Time)> {
    let (from, to) = text.split_once('-')?;
    let time = |text: &str| Time::strptime("%H:%M", text.trim()).ok();
    time(from).zip(time(to)).filter(|(from, to)| from != to)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// A Thursday.
    const TODAY: Date = date(2026, 3, 5);

    fn said(text: &str) -> Result<Date, NoDay> {
        day(text, TODAY, Direction::Past, None)
    }

    #[test]
    fn words_are_counted_from_today() {
        for (text, expected) in [
            ("2026-02-28", date(2026, 2, 28)),
            ("Today", TODAY),
            ("yesterday", date(2026, 3, 4)),
            ("gestern", date(2026, 3, 4)),
            ("morgen", date(2026, 3, 6)),
            ("5 days ago", date(2026, 2, 28)),
            ("vor 2 Wochen", date(2026, 2, 19)),
            ("in 5 weeks", date(2026, 4, 9)),
        ] {
            assert_eq!(said(text), Ok(expected), "{text}");
        }
        assert_eq!(said("soon"), Err(NoDay::Unreadable));
        assert_eq!(said("5 moons ago"), Err(NoDay::Unreadable));
        assert_eq!(said("2026-02-30"), Err(NoDay::Unreadable));
    }

    #[test]
    fn a_weekday_is_never_today() {
        assert_eq!(said("thursday"), Ok(date(2026, 2, 26)));
        assert_eq!(said("Mittwoch"), Ok(date(2026, 3, 4)));
        assert_eq!(day("thursday", TODAY, Direction::Ahead, None), Ok(date(2026, 3, 12)));
        assert_eq!(day("friday", TODAY, Direction::Ahead, None), Ok(date(2026, 3, 6)));
    }

    #[test]
    fn where_two_days_fit_the_farm_says_which_or_it_is_asked() {
        let (april, march) = (date(2026, 4, 3), date(2026, 3, 4));
        assert_eq!(said("03/04/2026"), Err(NoDay::Either(april, march)));
        assert_eq!(day("03/04/2026", TODAY, Direction::Past, Some(DayOrder::DayFirst)), Ok(april));
        assert_eq!(day("03/04/2026", TODAY, Direction::Past, Some(DayOrder::MonthFirst)), Ok(march));
        assert_eq!(said("3.4.2026"), Ok(april));
        assert_eq!(said("13/04/2026"), Ok(date(2026, 4, 13)));
        assert_eq!(said("04/13/2026"), Ok(date(2026, 4, 13)));
        assert_eq!(
            day("04/13/2026", TODAY, Direction::Past, Some(DayOrder::DayFirst)),
            Err(NoDay::Unreadable)
        );
        assert_eq!(said("4/4/2026"), Ok(date(2026, 4, 4)));
        assert_eq!(said("4/4/26"), Err(NoDay::Unreadable));
    }
}
