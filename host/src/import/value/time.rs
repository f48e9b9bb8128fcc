//! Times of a field.

use crate::import::problems::RowFault;
use crate::import::value::AHEAD_S;
use jiff::{Timestamp, civil::Date};

/// Latest time that is a time at all, s since the Unix epoch: the year 2200. Later ones are milliseconds by mistake.
const LATEST_S: i64 = 7_258_118_400;
const MICROS: i64 = 1_000_000;

/// Longest text of a whole second that is remembered: `2026-01-31T06:00:00`.
const LONGEST_SECOND: usize = 19;

/// Reads times; remembers the last day and the last second, since rows of one follow one another.
#[derive(Clone, Copy, Debug)]
pub struct TimeReader {
    latest: i64,
    day: [u8; 10],
    day_s: i64,
    second: Second,
}

/// A whole second as it was written, without the `Z` of UTC.
#[derive(Clone, Copy, Debug, Default)]
struct Second {
    text: [u8; LONGEST_SECOND],
    /// 0: none yet.
    length: usize,
    utc: bool,
    micros: i64,
}

impl TimeReader {
    /// Times read at that moment.
    #[must_use]
    pub fn at(now: Timestamp) -> Self {
        Self {
            latest: now.as_microsecond() + AHEAD_S * MICROS,
            day: [0; 10],
            day_s: 0,
            second: Second::default(),
        }
    }

    /// A time in microseconds since the Unix epoch where it is plausible and of one of the two forms that are quick to
    /// read; the same as [`Self::micros`] then, and `None` otherwise.
    #[inline]
    pub(in crate::import) fn quick(&mut self, text: &[u8]) -> Option<i64> {
        let (body, utc) = text.strip_suffix(b"Z").map_or((text, false), |body| (body, true));
        let known = &self.second;
        let micros = match body.split_at_checked(known.length) {
            Some((second, fraction))
                if known.length > 0 && known.utc == utc && second == &known.text[..known.length] =>
            {
                known.micros + fraction_micros(fraction)?
            }
            _ => self.new_second(text, body, utc)?,
        };
        (0..=self.latest.min(LATEST_S * MICROS)).contains(&micros).then_some(micros)
    }

    /// Reads a time and remembers its whole second.
    #[inline(never)]
    fn new_second(&mut self, text: &[u8], body: &[u8], utc: bool) -> Option<i64> {
        let micros = self.utc(text).or_else(|| seconds(text))?;
        let length = body.iter().position(|&byte| byte == b'.').unwrap_or(body.len());
        self.second.length = 0;
        if let Some(place) = self.second.text.get_mut(..length) {
            place.copy_from_slice(&body[..length]);
            let micros = micros - fraction_micros(&body[length..])?;
            self.second = Second { text: self.second.text, length, utc, micros };
        }
        Some(micros)
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

/// A point and one to six digits in millionths, or nothing; `None` for more digits, which are rare.
#[inline]
fn fraction_micros(text: &[u8]) -> Option<i64> {
    const SCALE: [i64; 7] = [MICROS, 100_000, 10_000, 1_000, 100, 10, 1];
    let Some((point, digits)) = text.split_first() else { return Some(0) };
    if *point != b'.' || digits.is_empty() {
        return None;
    }
    let scale = SCALE.get(digits.len())?;
    let mut value = 0;
    for byte in digits {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            return None;
        }
        value = value * 10 + i64::from(digit);
    }
    Some(value * scale)
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// 2026-03-01T00:00:00Z.
    const NOW: Timestamp = Timestamp::constant(1_772_323_200, 0);

    #[test]
    fn a_time_later_than_a_day_from_now_is_refused() {
        assert!(micros("2026-03-02T00:00:00Z").is_ok());
        let late = micros("2026-03-02T00:00:00.000001Z").unwrap_err();
        assert_eq!((late.column, late.what.contains("in the future")), (Some("time"), true));
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
    fn the_quick_way_leaves_what_is_odd() {
        let mut times = TimeReader::at(NOW);
        for text in
            ["", "Z", ".5", "1.", "1.0000000", "1.5Z", "-5", "1e3", "2026-03-02T00:00:01Z", "1769839200000"]
        {
            assert_eq!(times.quick(text.as_bytes()), None, "{text}");
            assert_eq!(times.quick(b"1769839200.25"), Some(1_769_839_200_250_000), "after {text}");
        }
        assert_eq!(times.quick(b"1769839200.25Z"), None, "the second is known, and was not UTC");
    }

    proptest! {
        #[test]
        fn the_quick_way_is_the_other(
            whole in prop::collection::vec(1_769_839_190_i64..1_769_839_210, 1..30),
            fractions in prop::collection::vec("(\\.[0-9]{0,7})?", 30),
            utc in prop::collection::vec(prop::bool::weighted(0.5), 30),
        ) {
            let mut times = TimeReader::at(NOW);
            for ((whole, fraction), utc) in whole.into_iter().zip(fractions).zip(utc) {
                let second = Timestamp::from_second(whole).unwrap().to_string();
                let text = if utc {
                    second.replace('Z', &format!("{fraction}Z"))
                } else {
                    format!("{whole}{fraction}")
                };
                match times.quick(text.as_bytes()) {
                    Some(quick) => prop_assert_eq!(Ok(quick), micros(&text), "{}", text),
                    None => prop_assert!(matches!(fraction.len(), 1 | 8), "{}", text),
                }
            }
        }
    }
}
