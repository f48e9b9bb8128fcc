//! How soon a lame cow is flagged, and how often a sound one is.

use crate::arithmetic::dates::days_between;
use crate::evaluate::Judged;
use jiff::civil::Date;
use serde::Serialize;

/// Two truths of a cow further apart than this do not tell the day of onset: our choice.
pub const ONSET_GAP_DAYS: i32 = 3;
/// From the last true score 0 to a true score of 2 in more days than this is a slow onset: our choice.
pub const SLOW_ONSET_DAYS: i32 = 7;
/// A false alarm followed by true lameness within so many days counts as early as well: our choice.
pub const EARLY_DAYS: i32 = 7;

/// One time that a cow became lame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Onset {
    /// The cow, by its place in the list of cows.
    #[serde(skip)]
    pub cow: usize,
    /// First day with a true score of 2 or more.
    pub date: Date,
    /// Whether she went lame slowly.
    pub slow: bool,
    /// Days from then to the first flag before she was sound again; 0 if flagged already; `None` if never.
    pub days_to_flag: Option<i32>,
}

/// Flags on cows that were not lame.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct FalseAlarms {
    /// Days on which a cow that was not lame was looked at by the tool.
    pub sound_days: u32,
    /// Flags that began on such a day.
    pub alarms: u32,
    /// Days flagged among them.
    pub flagged_days: u32,
    /// Alarms of cows that were truly lame within [`EARLY_DAYS`].
    pub early: u32,
}

impl FalseAlarms {
    /// New false alarms per 100 cows and week.
    #[must_use]
    pub fn per_100_cow_weeks(&self) -> Option<f64> {
        (self.sound_days > 0).then(|| 700.0 * f64::from(self.alarms) / f64::from(self.sound_days))
    }
}

/// Every onset in the rows of one cow, in time order, whose day is known.
#[must_use]
pub fn onsets(rows: &[Judged]) -> Vec<Onset> {
    let mut found = Vec::new();
    for (index, pair) in rows.windows(2).enumerate() {
        let (before, now) = (&pair[0], &pair[1]);
        let known = days_between(before.date, now.date) <= ONSET_GAP_DAYS;
        if before.lame || !now.lame || !known {
            continue;
        }
        let sound = rows[..=index].iter().rev().find(|row| row.true_score < 1.0);
        let slow = sound.is_none_or(|row| days_between(row.date, now.date) > SLOW_ONSET_DAYS);
        let days_to_flag = rows[index + 1..]
            .iter()
            .take_while(|row| row.lame)
            .find(|row| row.flagged)
            .map(|row| days_between(now.date, row.date));
        found.push(Onset { cow: now.cow, date: now.date, slow, days_to_flag });
    }
    found
}

/// The false alarms in the rows of one cow, in time order.
#[must_use]
pub fn false_alarms(rows: &[Judged]) -> FalseAlarms {
    let mut sum = FalseAlarms::default();
    for (index, row) in rows.iter().enumerate().filter(|(_, row)| !row.lame) {
        sum.sound_days += 1;
        sum.flagged_days += u32::from(row.flagged);
        let begins = row.flagged && !index.checked_sub(1).is_some_and(|before| rows[before].flagged);
        if begins {
            sum.alarms += 1;
            // Not lame in this row itself, so it may be looked at with the others.
            let soon = rows[index..].iter().take_while(|r| days_between(row.date, r.date) <= EARLY_DAYS);
            sum.early += u32::from(soon.into_iter().any(|later| later.lame));
        }
    }
    sum
}

/// Median of the days to a flag, a never counting as later than any day. `None` without onsets or if it is a never.
#[must_use]
pub fn median_days<'a>(onsets: impl Iterator<Item = &'a Onset>) -> Option<f64> {
    let mut days: Vec<f64> =
        onsets.map(|onset| onset.days_to_flag.map_or(f64::INFINITY, f64::from)).collect();
    days.sort_by(f64::total_cmp);
    let middle = days.len() / 2;
    let median = match days.len() {
        0 => return None,
        odd if odd % 2 == 1 => days[middle],
        _ => f64::midpoint(days[middle - 1], days[middle]),
    };
    median.is_finite().then_some(median)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// One row a day from 1 March, written as true score and `!` for flagged.
    fn days(text: &str) -> Vec<Judged> {
        text.split(' ')
            .zip(date(2026, 3, 1).series(jiff::Span::new().days(1)))
            .map(|(day, date)| {
                let true_score = f64::from(day.as_bytes()[0] - b'0');
                Judged::plain(0, date, true_score, day.ends_with('!'))
            })
            .collect()
    }

    #[test]
    fn sudden_and_slow_onsets() {
        let sudden = onsets(&days("0 0 2 2 2! 2! 0"));
        assert_eq!(sudden.len(), 1);
        assert!(!sudden[0].slow);
        assert_eq!(sudden[0].days_to_flag, Some(2));
        let slow = onsets(&days("0 1 1 1 1 1 1 1! 2! 2!"));
        assert!(slow[0].slow);
        assert_eq!(slow[0].days_to_flag, Some(0));
    }

    #[test]
    fn a_flag_after_recovery_does_not_count_for_the_onset() {
        assert_eq!(onsets(&days("0 2 2 0 0! 0!"))[0].days_to_flag, None);
    }

    #[test]
    fn lame_from_the_first_row_has_no_known_onset() {
        assert!(onsets(&days("2 2 2!")).is_empty());
    }

    #[test]
    fn a_gap_hides_the_onset() {
        let mut rows = days("0 2 2");
        rows[0].date = date(2026, 2, 1);
        assert!(onsets(&rows).is_empty());
    }

    #[test]
    fn alarms_are_counted_when_they_begin_and_early_ones_apart() {
        let found = false_alarms(&days("0 0! 0! 0 0 0 0 0 0 0 0 1! 2! 2! 1!"));
        assert_eq!(found, FalseAlarms { sound_days: 13, alarms: 2, flagged_days: 4, early: 1 });
        assert!((found.per_100_cow_weeks().unwrap() - 700.0 * 2.0 / 13.0).abs() < 1e-12);
    }

    #[test]
    fn median_with_a_never() {
        let onset = |days_to_flag| Onset { cow: 0, date: date(2026, 3, 1), slow: false, days_to_flag };
        let three = [onset(Some(1)), onset(None), onset(Some(4))];
        assert_eq!(median_days(three.iter()), Some(4.0));
        assert_eq!(median_days([onset(None)].iter()), None);
        assert_eq!(median_days(three[..0].iter()), None);
    }

    #[test]
    fn an_alarm_is_early_up_to_a_week_before_she_is_lame() {
        let early = |text: &str| false_alarms(&days(text)).early;
        assert_eq!(early("0! 0 0 0 0 0 0 2"), 1, "seven days on");
        assert_eq!(early("0! 0 0 0 0 0 0 0 2"), 0, "eight days on");
        assert_eq!(early("2 0!"), 0, "lame before, not after");
        assert_eq!(early("0 0!"), 0, "the last row");
    }
}
