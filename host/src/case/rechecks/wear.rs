//! How a block wears, and the day it is worn through.

use crate::arithmetic::dates::days_between;
use crate::arithmetic::statistics::Z95;
use crate::record::case::KeptCase;
use jiff::{ToSpan, civil::Date};
use serde::Serialize;

/// Part of its height a block has usually lost by the recheck at five weeks (common practice).
const USUAL_LOSS: (f64, f64) = (0.5, 35.0);
/// SD of the wearing rate between blocks, as a part of the usual rate (our choice; floors and woods differ widely).
const RATE_SPREAD: f64 = 1.0;
/// Error of a height read at the crush, mm (our choice).
const READING_SD: f64 = 1.5;
/// Slowest wear that is believed, as a part of the usual rate: keeps the far end finite (our choice).
const SLOWEST: f64 = 0.1;

/// The day a block is worn through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct WornThrough {
    /// The likeliest day.
    pub day: Date,
    /// 95 % interval.
    pub earliest: Date,
    /// Its late end.
    pub latest: Date,
}

/// Forecast from the height when put on and the heights seen since. `None` without a first height.
#[must_use]
pub fn forecast(kept: &KeptCase) -> Option<WornThrough> {
    let height = kept.case.treatment.block.as_ref()?.height_mm?;
    let usual = height * USUAL_LOSS.0 / USUAL_LOSS.1;
    let mut precision = (RATE_SPREAD * usual).powi(-2);
    let mut weighted = usual * precision;
    for look in &kept.follow_ups {
        let days = f64::from(days_between(kept.case.date, look.date));
        if let Some(left) = look.height_mm.filter(|_| days > 0.0) {
            let weight = (days / READING_SD).powi(2);
            precision += weight;
            weighted += (height - left) / days * weight;
        }
    }
    let (rate, sd) = (weighted / precision, precision.powf(-0.5));
    let day = |rate: f64| {
        let days = (height / rate.max(SLOWEST * usual)).round() as i32;
        kept.case.date.saturating_add(days.days())
    };
    Some(WornThrough { day: day(rate), earliest: day(rate + Z95 * sd), latest: day(rate - Z95 * sd) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use crate::record::case::{Case, FollowUp};
    use jiff::civil::date;

    fn block(heights: &[(Date, f64)]) -> KeptCase {
        let mut case = Case::new(AnimalId("412".into()), date(2026, 3, 2));
        for (name, value) in [("leg", "RR"), ("block_claw", "inner"), ("block_height_mm", "20")] {
            case.set_field(name, value).unwrap();
        }
        let look = |(date, height): &(Date, f64)| FollowUp {
            date: *date,
            block: None,
            height_mm: Some(*height),
            course: None,
            note: None,
            who: None,
        };
        KeptCase { id: 1, case, follow_ups: heights.iter().map(look).collect(), withdrawn: None }
    }

    #[test]
    fn without_a_look_the_usual_wear_holds() {
        // Half in 35 days: all of it in 70.
        assert_eq!(forecast(&block(&[])).unwrap().day, date(2026, 5, 11));
    }

    #[test]
    fn measured_wear_counts_more_the_longer_it_ran() {
        // 10 mm in 10 days: about twice 10 days in all.
        let quick = forecast(&block(&[(date(2026, 3, 12), 10.0)])).unwrap();
        let days = days_between(date(2026, 3, 2), quick.day);
        assert!((20..=30).contains(&days), "{days}");
        assert!(quick.earliest < quick.day && quick.day < quick.latest);
        let narrow = days_between(quick.earliest, quick.latest);
        let none = forecast(&block(&[])).unwrap();
        assert!(narrow < days_between(none.earliest, none.latest));
    }

    #[test]
    fn the_interval_holds_the_day_of_blocks_that_wear_evenly() {
        use rand::SeedableRng;
        use rand_distr::{Distribution, Normal};
        let (rate, error) = (Normal::new(0.29, 0.15).unwrap(), Normal::new(0.0, READING_SD).unwrap());
        let mut held = 0;
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        for _ in 0..400 {
            let rate = f64::max(rate.sample(&mut rng), 0.05);
            let heights: Vec<(Date, f64)> = [7, 14]
                .map(|day: i32| {
                    let left = (20.0 - rate * f64::from(day) + error.sample(&mut rng)).max(0.0);
                    (date(2026, 3, 2).saturating_add(day.days()), left)
                })
                .to_vec();
            let worn = forecast(&block(&heights)).unwrap();
            let truth = date(2026, 3, 2).saturating_add(((20.0 / rate).round() as i32).days());
            held += i32::from((worn.earliest..=worn.latest).contains(&truth));
        }
        // 95 % of 400, less what chance and the late end's limit take.
        assert!((364..=396).contains(&held), "{held}");
    }
}
