//! Values of a field.

use crate::import::problems::RowFault;
use crate::record::AnimalId;
use jiff::{Timestamp, civil::Date};
use shared::identity::{AnimalCode, CodeError};

pub(super) mod decimal;
mod time;

pub use time::TimeReader;

/// How far ahead of the import a time may lie, s: a day, for clocks and zones that are off. Our choice.
const AHEAD_S: i64 = 86_400;
/// Longest animal number taken.
const LONGEST_ID: usize = 32;

/// A finite number.
///
/// # Errors
/// When it is none.
pub fn number(column: &'static str, text: &[u8]) -> Result<f32, RowFault> {
    if let Some(value) = decimal::short(text) {
        return Ok(value);
    }
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
    fn a_day_later_than_a_day_from_now_is_refused() {
        let day = |text: &str| past("date", text.parse().unwrap(), NOW);
        assert!(day("2026-03-02").is_ok());
        assert!(day("2026-03-03").is_err());
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
