//! Values of a field.

use crate::import::problems::RowFault;
use crate::record::AnimalId;
use jiff::{Timestamp, civil::Date};
use shared::identity::{AnimalCode, CodeError};

/// Latest time that is a time at all, s since the Unix epoch: the year 2200. Later ones are milliseconds by mistake.
const LATEST_S: i64 = 7_258_118_400;
/// How far ahead of the import a time may lie, s: a day, for clocks and zones that are off. Our choice.
const AHEAD_S: i64 = 86_400;
const MICROS: i64 = 1_000_000;
/// Longest animal number taken.
const LONGEST_ID: usize = 32;

/// Reads times; remembers the last day, since rows of one day follow one another.
#[derive(Clone, Copy, Debug)]
pub struct TimeReader {
    latest: i64,
    day: [u8; 10],
    day_s: i64,
}

impl TimeReader {
    /// Times read at that moment.
    #[must_use]
    pub fn at(now: Timestamp) -> Self {
        Self { latest: now.as_microsecond() + AHEAD_S * MICROS, day: [0; 10], day_s: 0 }
    }

    /// A time in microseconds since the Unix epoch, from RFC 3339 or seconds with decimals.
    ///
    /// # Errors
    /// When it is neither, or no plausible time.
    pub fn micros(&mut self, column: &'static str, text: &[u8]) -> Result<i64, RowFault> {
        let micros = match self.utc(text).or_else(|| seconds(text)) {
            Some(micros) => micros,
            None => slow(column, text)?,
        };
        if !(0..=LATEST_S * MICROS).contains(&micros) {
            let shown = String::from_utf8_lossy(text);
            return Err(RowFault::of(
                column,
                format!("`{shown}` lies outside 1970 to 2200; write seconds, not milliseconds, or RFC 3339"),
            ));
        }
        if micros > self.latest {
            let shown = String::from_utf8_lossy(text);
            return Err(RowFault::of(
                column,
                format!("`{shown}` is in the future; look at the clock that wrote it"),
            ));
        }
        Ok(micros)
    }

    /// `2026-01-31T06:00:00.123Z`, the form that is quick to read.
    fn utc(&mut self, text: &[u8]) -> Option<i64> {
        let (day, clock) = text.split_at_checked(10)?;
        let clock = clock.strip_prefix(b"T")?.strip_suffix(b"Z")?;
        if clock.len() < 8 || clock[2] != b':' || clock[5] != b':' {
            return None;
        }
        if day != self.day {
            let date: Date = std::str::from_utf8(day).ok()?.parse().ok()?;
            let midnight = date.to_zoned_datetime(jiff::tz::TimeZone::UTC).ok()?;
            (self.day, self.day_s) = (day.try_into().ok()?, midnight.timestamp().as_second());
        }
        let (hour, minute) = (digits(&clock[..2])?, digits(&clock[3..5])?);
        if hour > 23 || minute > 59 {
            return None;
        }
        let seconds = decimal_micros(&clock[6..])?;
        (seconds < 60 * MICROS)
            .then(|| (self.day_s + i64::from(hour) * 3600 + i64::from(minute) * 60) * MICROS + seconds)
    }
}

fn digits(text: &[u8]) -> Option<u32> {
    text.iter().try_fold(0, |value, &byte| byte.is_ascii_digit().then(|| value * 10 + u32::from(byte - b'0')))
}

/// Digits, then a point and digits if any, in millionths; what lies below is cut off.
fn decimal_micros(text: &[u8]) -> Option<i64> {
    let point = text.iter().position(|&byte| byte == b'.').unwrap_or(text.len());
    let (whole, fraction) = (&text[..point], text.get(point + 1..).unwrap_or_default());
    if whole.is_empty() || whole.len() > 12 || (point < text.len() && fraction.is_empty()) {
        return None;
    }
    let digit = |byte: u8| byte.is_ascii_digit().then(|| i64::from(byte - b'0'));
    let mut value = 0;
    for &byte in whole {
        value = value * 10 + digit(byte)?;
    }
    let mut micros = 0;
    for place in 0..fraction.len().max(6) {
        let next = fraction.get(place).map_or(Some(0), |&byte| digit(byte))?;
        if place < 6 {
            micros = micros * 10 + next;
        }
    }
    Some(value * MICROS + micros)
}

fn seconds(text: &[u8]) -> Option<i64> {
    decimal_micros(text)
}

/// The forms that are rare: other offsets, a blank for the `T`, an exponent.
fn slow(column: &'static str, text: &[u8]) -> Result<i64, RowFault> {
    let shown = String::from_utf8_lossy(text);
    if let Ok(timestamp) = shown.parse::<Timestamp>() {
        return Ok(timestamp.as_microsecond());
    }
    if let Some(seconds) = shown.parse::<f64>().ok().filter(|seconds| seconds.is_finite()) {
        #[allow(
            clippy::cast_possible_truncation,
            reason = "a float cast saturates; the caller checks the range"
        )]
        return Ok((seconds * 1e6).round() as i64);
    }
    let what = if text.is_empty() {
        "no time; write RFC 3339 such as 2026-01-31T06:00:00Z, or seconds since 1970".to_owned()
    } else if shown.parse::<jiff::civil::DateTime>().is_ok() {
        format!("`{shown}` has no time zone; write UTC with a Z at the end")
    } else {
        format!("`{shown}` is no time; write RFC 3339 such as 2026-01-31T06:00:00Z, or seconds since 1970")
    };
    Err(RowFault::of(column, what))
}

/// A finite number.
///
/// # Errors
/// When it is none.
pub fn number(column: &'static str, text: &[u8]) -> Result<f32, RowFault> {
    let parsed = std::str::from_utf8(text).ok().and_then(|text| text.parse::<f32>().ok());
    match parsed {
        Some(value) if value.is_finite() => Ok(value),
        Some(_) => {
            Err(RowFault::of(column, format!("`{}` is not a finite number", String::from_utf8_lossy(text))))
        }
        None => Err(RowFault::of(column, no_number(text))),
    }
}

#[cold]
fn no_number(text: &[u8]) -> String {
    if text.is_empty() {
        return "no number where one is needed".to_owned();
    }
    let shown = String::from_utf8_lossy(text);
    let comma = shown.contains(',') && shown.replace(',', ".").parse::<f32>().is_ok();
    let hint = if comma { "; write a decimal point, not a comma" } else { "" };
    format!("`{shown}` is no number{hint}")
}

/// A day.
///
/// # Errors
/// When it is none.
pub fn date(column: &'static str, text: &str) -> Result<Date, RowFault> {
    text.parse().map_err(|_| {
        RowFault::of(column, format!("`{text}` is no day of the calendar; write it as 2026-01-31"))
    })
}

/// An animal's number: 15 digits of ISO 11784, or the farm's own.
///
/// # Errors
/// When there is none, or the 15 digits are impossible.
pub fn animal(column: &'static str, text: &str) -> Result<AnimalId, RowFault> {
    let wrong = |what: String| Err(RowFault::of(column, what));
    if text.is_empty() {
        return wrong("no animal number; write her 15 digits or the farm's own number".to_owned());
    }
    if text.len() > LONGEST_ID || text.chars().any(char::is_control) {
        return wrong(format!("`{text}` is no animal number: at most {LONGEST_ID} letters and digits"));
    }
    if text.len() == 15 && text.bytes().all(|byte| byte.is_ascii_digit()) {
        let why = match AnimalCode::from_digits(text.as_bytes()) {
            Ok(_) => return Ok(AnimalId(text.to_owned())),
            Err(CodeError::CountryZero) => "country 000 names nobody",
            Err(CodeError::NationalTooLarge) => "the last twelve digits are above 274877906943",
            Err(CodeError::CountryTooLarge | CodeError::NotFifteenDigits) => "no such country",
        };
        return wrong(format!("`{text}` is an impossible ear tag: {why}; read the tag again"));
    }
    if text.contains(['e', 'E', '.', '+']) && text.parse::<f64>().is_ok_and(|value| value >= 1e9) {
        return wrong(format!(
            "`{text}` is an ear tag that a spreadsheet has rounded; save the column as text"
        ));
    }
    Ok(AnimalId(text.to_owned()))
}

/// Whether the number is of the range kept for tests, which no animal should wear.
#[must_use]
pub fn is_test_tag(animal: &AnimalId) -> bool {
    AnimalCode::from_digits(animal.0.as_bytes()).is_ok_and(AnimalCode::is_test)
}

/// The latest time that is not in the future.
#[must_use]
pub fn latest(now: Timestamp) -> Timestamp {
    now.saturating_add(jiff::SignedDuration::from_secs(AHEAD_S)).unwrap_or(Timestamp::MAX)
}

/// Refuses a day that is more than a day ahead of `now`.
///
/// # Errors
/// When it is.
pub fn past(column: &'static str, date: Date, now: Timestamp) -> Result<Date, RowFault> {
    if date > jiff::tz::TimeZone::UTC.to_datetime(latest(now)).date() {
        return Err(RowFault::of(column, format!("{date} is in the future")));
    }
    Ok(date)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2026-03-01T00:00:00Z.
    const NOW: Timestamp = Timestamp::constant(1_772_323_200, 0);

    #[test]
    fn a_time_later_than_a_day_from_now_is_refused() {
        assert!(micros("2026-03-02T00:00:00Z").is_ok());
        let late = micros("2026-03-02T00:00:00.000001Z").unwrap_err();
        assert_eq!((late.column, late.what.contains("in the future")), (Some("time"), true));
        let day = |text: &str| past("date", text.parse().unwrap(), NOW);
        assert!(day("2026-03-02").is_ok());
        assert!(day("2026-03-03").is_err());
    }

    fn micros(text: &str) -> Result<i64, RowFault> {
        TimeReader::at(NOW).micros("time", text.as_bytes())
    }

    #[test]
    fn times_of_every_form() {
        // 2026-01-31T06:00:00Z by GNU date: `date -ud 2026-01-31T06:00:00Z +%s`.
        let at = 1_769_839_200_000_000;
        for text in [
            "2026-01-31T06:00:00Z",
            "2026-01-31T06:00:00.000000Z",
            "2026-01-31T07:00:00+01:00",
            "2026-01-31 06:00:00Z",
            "1769839200",
            "1769839200.000",
            "1.7698392e9",
        ] {
            assert_eq!(micros(text), Ok(at), "{text}");
        }
        assert_eq!(micros("2026-01-31T06:00:00.25Z"), Ok(at + 250_000));
        assert_eq!(micros("1769839200.0000019"), Ok(at + 1));
        assert_eq!(micros("0.01"), Ok(10_000));
    }

    #[test]
    fn what_is_no_time() {
        for text in ["", "abc", "2026-01-31", "2026-02-30T06:00:00Z", "2026-01-31T25:00:00Z", "nan", "inf"] {
            assert!(micros(text).is_err(), "{text}");
        }
        assert!(micros("2026-01-31T06:00:00").unwrap_err().what.contains("no time zone"));
        assert!(micros("1769839200000").unwrap_err().what.contains("not milliseconds"));
        assert!(micros("-5").unwrap_err().what.contains("outside"));
    }

    #[test]
    fn the_day_is_not_remembered_wrongly() {
        let mut times = TimeReader::at(NOW);
        let first = times.micros("time", b"2026-01-31T23:59:59Z").unwrap();
        let next = times.micros("time", b"2026-02-01T00:00:00Z").unwrap();
        assert_eq!(next - first, MICROS);
    }

    #[test]
    fn numbers_are_finite() {
        assert_eq!(number("lf", b"-12.5"), Ok(-12.5));
        for text in ["nan", "inf", "-infinity", "1e999", "", "abc", "12,5", "0x10"] {
            assert!(number("lf", text.as_bytes()).is_err(), "{text}");
        }
        assert!(number("lf", b"12,5").unwrap_err().what.contains("decimal point"));
    }

    #[test]
    fn animals() {
        for text in ["412", "NL-7", "982000123456789", "276000000000001"] {
            assert_eq!(animal("animal_id", text).unwrap().0, text);
        }
        for text in ["", "000000000000001", "276274877906944", "9.82E+14", "982000123456789.0"] {
            assert!(animal("animal_id", text).is_err(), "{text}");
        }
        assert!(is_test_tag(&AnimalId("999000000000001".into())));
        assert!(!is_test_tag(&AnimalId("412".into())));
    }
}
