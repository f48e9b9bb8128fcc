//! When something may be told: not in the quiet hours, not too often on a day, and later and later after failures.

use crate::record::day_words::hours;
use crate::store::{Store, StoreError, Telling};
use crate::tell::Why;
use jiff::civil::{DateTime, Time};

/// The first pause after a failure, ms, doubled after each: our choice.
const FIRST_PAUSE_MS: i64 = 60_000;
/// The longest pause, ms: our choice; a network that is back is noticed within it.
const LONGEST_PAUSE_MS: i64 = 60 * 60_000;

/// What the farm has set.
pub(super) struct Limits {
    quiet: Option<(Time, Time)>,
    times_a_day: u32,
}

impl Limits {
    pub(super) fn of(store: &Store) -> Result<Self, StoreError> {
        let text = |key| store.setting(key).map(Option::unwrap_or_default);
        Ok(Self {
            quiet: hours(&text("tell_quiet")?),
            times_a_day: text("tell_times_a_day")?.parse().unwrap_or(u32::MAX),
        })
    }
}

/// Whether to wait, and why.
pub(super) fn wait(telling: &Telling, local: DateTime, now_ms: i64, limits: &Limits) -> Option<Why> {
    let time = local.time();
    let quiet = limits.quiet.is_some_and(|(from, to)| {
        // From the evening to the morning, or within a day.
        if from < to { (from..to).contains(&time) } else { time >= from || time < to }
    });
    if quiet {
        Some(Why::Quiet)
    } else if telling.day == local.date().to_string() && telling.times >= limits.times_a_day {
        Some(Why::Enough)
    } else if now_ms < telling.next_ms {
        Some(Why::Later)
    } else {
        None
    }
}

/// The pause after so many failures in a row and one more, ms.
pub(super) fn pause_ms(tries: u32) -> i64 {
    FIRST_PAUSE_MS.saturating_mul(1 << tries.min(16)).min(LONGEST_PAUSE_MS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn quiet_hours_wrap_over_midnight_and_end_on_the_minute() {
        let quiet = |text: &str, hour, minute| {
            let telling = Telling { tries: 0, next_ms: 0, busy_ms: None, day: String::new(), times: 0 };
            let limits = Limits { quiet: hours(text), times_a_day: 1 };
            wait(&telling, date(2026, 3, 1).at(hour, minute, 0, 0), 0, &limits) == Some(Why::Quiet)
        };
        let night = "21:00-05:30";
        assert_eq!((quiet(night, 20, 59), quiet(night, 21, 0)), (false, true));
        assert_eq!((quiet(night, 5, 29), quiet(night, 5, 30), quiet(night, 12, 0)), (true, false, false));
        let noon = "12:00-13:00";
        assert_eq!(
            (quiet(noon, 11, 59), quiet(noon, 12, 0), quiet(noon, 13, 0), quiet(noon, 23, 0)),
            (false, true, false, false)
        );
        assert!(!quiet("", 3, 0) && !quiet("05:00-05:00", 5, 0) && !quiet("25:00-06:00", 3, 0));
    }

    #[test]
    fn so_many_times_a_day_and_later_and_later_after_failures() {
        let telling =
            |times, next_ms| Telling { tries: 0, next_ms, busy_ms: None, day: "2026-03-01".into(), times };
        let limits = Limits { quiet: None, times_a_day: 2 };
        let at = |telling: &Telling, day| wait(telling, date(2026, 3, day).at(12, 0, 0, 0), 1_000, &limits);
        assert_eq!((at(&telling(1, 0), 1), at(&telling(2, 0), 1)), (None, Some(Why::Enough)));
        assert_eq!(at(&telling(2, 0), 2), None, "another day");
        assert_eq!((at(&telling(0, 1_001), 1), at(&telling(0, 1_000), 1)), (Some(Why::Later), None));
        assert_eq!([0, 1, 2, 5, 6, 99].map(|tries| pause_ms(tries) / 60_000), [1, 2, 4, 32, 60, 60]);
    }
}
