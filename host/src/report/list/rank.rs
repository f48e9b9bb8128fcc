//! Which cow first: by what looking at her feet today is expected to bring.

use crate::arithmetic::dates::days_between;
use crate::record::{CowDay, Flag};
use jiff::civil::Date;

/// Lame for no longer than this is a new case. Source: the trial of old cases took cows lame for more than two
/// weeks (Thomas 2016, Vet Rec 178:116).
const NEW_CASE_DAYS: i32 = 14;
/// Sound 35 days after the best treatment of a new case: 23 of 41 (Thomas 2015, J Dairy Sci).
const CURE_NEW: f64 = 23.0 / 41.0;
/// Sound 42 days after treatment of an old case: 15 to 16 % whatever was done (Thomas 2016).
const CURE_OLD: f64 = 0.15;
/// What finding a sore foot is worth before any cure, since pain can be eased at once, in units of a cure. Our choice.
const RELIEF: f64 = 1.0;

/// Expected benefit of looking at her feet today: probability that she is lame x (relief + chance of a cure).
#[must_use]
pub fn benefit(row: &CowDay) -> f64 {
    let cure = match row.since {
        Some((_, likeliest, _)) if days_between(likeliest, row.date) > NEW_CASE_DAYS => CURE_OLD,
        _ => CURE_NEW,
    };
    row.probability.unwrap_or(0.0) * (RELIEF + cure)
}

/// Sorts rows: urgent before all else, then by benefit, then by number so that the order is always the same.
pub fn sort(rows: &mut [&CowDay]) {
    rows.sort_by(|a, b| {
        let urgent = |row: &CowDay| row.flag == Flag::Urgent;
        urgent(b)
            .cmp(&urgent(a))
            .then_with(|| benefit(b).total_cmp(&benefit(a)))
            .then_with(|| a.animal.cmp(&b.animal))
    });
}

/// Whether she has been lame for so long that it is no news.
#[must_use]
pub fn long_lame(row: &CowDay) -> bool {
    days_lame(row.since, row.date).is_some_and(|days| days > NEW_CASE_DAYS)
}

/// Whole days since she began, by the likeliest day.
#[must_use]
pub fn days_lame(since: Option<(Date, Date, Date)>, date: Date) -> Option<i32> {
    since.map(|(_, likeliest, _)| days_between(likeliest, date))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::cow_day;
    use jiff::civil::date;

    #[test]
    fn urgent_first_then_new_before_old_then_the_surer() {
        let today = date(2026, 3, 20);
        let mut old = cow_day("1", today, Flag::Check);
        old.since = Some((date(2026, 2, 1), date(2026, 2, 3), date(2026, 2, 5)));
        let new = cow_day("2", today, Flag::Check);
        let mut surer = cow_day("3", today, Flag::Check);
        surer.probability = Some(0.85);
        let urgent = cow_day("4", today, Flag::Urgent);
        let mut rows = [&old, &new, &surer, &urgent];
        sort(&mut rows);
        assert_eq!(rows.map(|row| row.animal.0.as_str()), ["4", "3", "2", "1"]);
        assert!((benefit(&old) - 0.8 * 1.15).abs() < 1e-12);
        assert_eq!(days_lame(old.since, today), Some(45));
    }

    // Lame with 0.8, 14 days: 0.8 * (1 + 23 / 41) = 1.24878. A day longer: 0.8 * (1 + 0.15) = 0.92.
    #[test]
    fn two_weeks_lame_are_a_new_case_and_a_day_more_is_an_old_one() {
        let since = |day: i8| {
            let begun = date(2026, 3, day);
            let mut row = cow_day("1", date(2026, 3, 20), Flag::Check);
            row.since = Some((begun, begun, begun));
            row
        };
        assert!((benefit(&since(6)) - 1.24878).abs() < 1e-5, "{}", benefit(&since(6)));
        assert!((benefit(&since(5)) - 0.92).abs() < 1e-12, "{}", benefit(&since(5)));
        assert!(!long_lame(&since(6)) && long_lame(&since(5)));
    }
}
