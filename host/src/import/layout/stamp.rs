//! Times as loggers write them.

use crate::import::layout::Layout;
use crate::record::day_words::DayOrder;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

/// How the times of a file are to be read.
#[derive(Clone, Debug)]
pub struct Stamps {
    /// They do not say their zone.
    pub local: bool,
    /// They are whole seconds, several readings to each.
    pub spread: bool,
    /// Order of day and month, where the year comes last.
    pub order: Option<DayOrder>,
    /// The year comes last.
    year_last: bool,
    zone: Option<TimeZone>,
}

impl Stamps {
    /// By the first times of a file.
    pub(super) fn of(times: &[&str], days: &[&str], layout: &Layout, readings: bool) -> Self {
        let all = || times.iter().chain(days);
        let year_last = all().any(|text| numbers(text).is_some());
        let beyond_month =
            |place: usize| all().filter_map(|text| numbers(text)).any(|found| [found.0, found.1][place] > 12);
        let dots = all().next().is_some_and(|text| text.contains('.') && text.find('.') <= Some(2));
        let order = layout.days.or_else(|| {
            if !year_last {
                return None;
            }
            // A point between day and month is the day-first way of writing; so is a first number above 12.
            if dots || beyond_month(0) {
                Some(DayOrder::DayFirst)
            } else {
                beyond_month(1).then_some(DayOrder::MonthFirst)
            }
        });
        let mut stamps = Self { local: false, spread: false, order, year_last, zone: layout.zone.clone() };
        stamps.local = layout.zone.is_some() && times.iter().any(|text| stamps.civil(text).is_some());
        let whole = |text: &str| !text.contains('.') || dots && !text[10.min(text.len())..].contains('.');
        stamps.spread =
            readings && times.len() > 2 && times[0] == times[1] && times.iter().all(|text| whole(text));
        stamps
    }

    pub(super) const fn is_needed(&self) -> bool {
        self.local || self.spread || self.year_last
    }

    /// Whether nothing tells day from month.
    pub(super) const fn day_order_is_open(&self) -> bool {
        self.year_last && self.order.is_none()
    }

    /// A time in the documented form, `offset_micros` later; as it is where it is no time that could be read.
    pub(super) fn documented(&self, text: &str, offset_micros: i64) -> String {
        let moment = match self.civil(text) {
            Some(civil) => self.zone.as_ref().and_then(|zone| zone.to_timestamp(civil).ok()),
            None if offset_micros != 0 => text.parse().ok().or_else(|| {
                text.parse().ok().and_then(|seconds: i64| jiff::Timestamp::from_second(seconds).ok())
            }),
            None => None,
        };
        let later = moment.and_then(|moment: jiff::Timestamp| {
            moment.checked_add(jiff::SignedDuration::from_micros(offset_micros)).ok()
        });
        later.map_or_else(|| text.to_owned(), |moment| moment.to_string())
    }

    /// A day in the documented form; as it is where it is none.
    pub(super) fn day(&self, text: &str) -> String {
        self.year_first(text, text.len()).unwrap_or_else(|| text.to_owned())
    }

    /// A time of the calendar that does not say its zone.
    fn civil(&self, text: &str) -> Option<DateTime> {
        if numbers(text).is_none() {
            return text.parse().ok();
        }
        let day = text.find([' ', 'T'])?;
        format!("{}T{}", self.year_first(text, day)?, text[day + 1..].trim()).parse().ok()
    }

    /// The date of the first `length` bytes of a text, whose year comes last, with the year first.
    fn year_first(&self, text: &str, length: usize) -> Option<String> {
        let (first, second) = numbers(text)?;
        let (day, month) = match self.order? {
            DayOrder::DayFirst => (first, second),
            DayOrder::MonthFirst => (second, first),
        };
        let year = text[..length].splitn(3, ['.', '/', '-']).nth(2)?.trim();
        Some(format!("{year}-{month:02}-{day:02}"))
    }
}

/// The first two numbers of a date whose year comes after them.
fn numbers(text: &str) -> Option<(u32, u32)> {
    let mut parts = text.splitn(3, ['.', '/', '-']);
    let (first, second, rest) = (parts.next()?, parts.next()?, parts.next()?);
    let year = rest.get(..4)?;
    let all_digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let short = first.len() <= 2 && second.len() <= 2;
    (short && all_digits(first) && all_digits(second) && all_digits(year))
        .then(|| Some((first.parse().ok()?, second.parse().ok()?)))?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_whose_year_comes_last_has_two_short_numbers_before_four_digits() {
        assert_eq!(numbers("01.07.2026 06:00:00"), Some((1, 7)));
        assert_eq!(numbers("1/7/2026"), Some((1, 7)));
        assert_eq!(numbers("13-12-2026"), Some((13, 12)));
        // The year first, or at both ends; a number too long; letters or nothing in any of the three; a year cut off.
        for other in [
            "2026-07-01T06:00:00Z",
            "2026-07-2026",
            "001.07.2026",
            "01.007.2026",
            "a.07.2026",
            "1.b.2026",
            ".07.2026",
            "1.5.beta",
            "1.5.202",
            "1.5",
        ] {
            assert_eq!(numbers(other), None, "{other}");
        }
    }
}
