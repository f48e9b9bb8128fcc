//! How well a lane repeats itself: the same cows measured again, within a day and between days, and so the smallest change
//! it can see in one of them.

use crate::arithmetic::statistics::{Z95, mean, median};
use crate::record::{AnimalId, Passage};
use jiff::civil::Date;
use serde::Serialize;
use shared::analysis::PassageSummary;
use shared::plate::{Leg, Pair};
use std::collections::BTreeMap;

/// 80 % point of the standard normal distribution: a change is seen where it would be told four times out of five.
const Z80: f64 = 0.841_621_233_572_914_3;
/// Days that her usual level is known from when a change is looked for; our choice: two weeks.
const USUAL_DAYS: f64 = 14.0;
/// Days over which a change may go on; our choice.
const AFTER_DAYS: [u32; 4] = [1, 3, 7, 14];
/// Differences that an SD needs; our choice: with 20 its 95 % interval reaches from three quarters to one and a half of it.
const LEAST_FREEDOM: usize = 20;

/// A measure of a passage that can be repeated.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, strum::EnumIter, strum::IntoStaticStr,
)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum RepeatedMeasure {
    /// Body weight, kg.
    BodyWeight,
    /// Share of a front leg while standing, % of body weight.
    FrontShare,
    /// Share of a hind leg while standing, % of body weight.
    RearShare,
    /// Peak force of a front leg when walking against the mean of the pair, %.
    FrontPeak,
    /// Peak force of a hind leg when walking against the mean of the pair, %.
    RearPeak,
}

impl RepeatedMeasure {
    /// Its name in tables and catalogues.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.into()
    }

    /// Its value in a passage. Both legs of a pair say the same of a change of one, so the left one stands for the pair.
    fn of(self, summary: &PassageSummary) -> Option<f64> {
        let value = match self {
            Self::BodyWeight => summary.body_weight?.value,
            Self::FrontShare => summary.standing?.share_pct[Leg::LF],
            Self::RearShare => summary.standing?.share_pct[Leg::LR],
            Self::FrontPeak => return peak_against_mean(summary, Pair::Front),
            Self::RearPeak => return peak_against_mean(summary, Pair::Rear),
        };
        Some(f64::from(value))
    }
}

fn peak_against_mean(summary: &PassageSummary, pair: Pair) -> Option<f64> {
    let (left, right) = pair.legs();
    let of = |leg: Leg| (summary.walking[leg].count > 0).then(|| f64::from(summary.walking[leg].peak_pct));
    let (left, right) = (of(left)?, of(right)?);
    (left + right > 0.0).then(|| 200.0 * left / (left + right) - 100.0)
}

/// The smallest change that a lane can see.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Smallest {
    /// Days since the change.
    pub days: u32,
    /// The change, in the unit of the measure.
    pub change: f64,
}

/// How well one measure is repeated.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Repeated {
    /// Which.
    pub measure: RepeatedMeasure,
    /// Passages with it, of cows that came on two days or more or twice in a day.
    pub passages: usize,
    /// Cows.
    pub cows: usize,
    /// SD between passages of a cow on one day; `None` where too few came twice.
    pub within_day: Option<f64>,
    /// SD between the days of a cow, beyond that within a day; `None` where too few came on two days.
    pub between_days: Option<f64>,
    /// Smallest changes of one cow told four times out of five, one needless word in twenty: days taken as independent.
    pub smallest: Vec<Smallest>,
}

type CowDays = BTreeMap<AnimalId, BTreeMap<Date, Vec<f64>>>;

/// The repeatability of a measure over the trusted passages of cows that are known.
///
/// Nested analysis of variance by the method of moments: passages within days within cows.
#[must_use]
pub fn repeated<'a>(measure: RepeatedMeasure, passages: impl IntoIterator<Item = &'a Passage>) -> Repeated {
    let mut cows = CowDays::new();
    for passage in passages.into_iter().filter(|passage| passage.summary.quality.trusted()) {
        if let (Some(cow), Some(value)) = (&passage.animal, measure.of(&passage.summary)) {
            cows.entry(cow.clone()).or_default().entry(passage.date).or_default().push(value);
        }
    }
    cows.retain(|_, days| days.len() > 1 || days.values().any(|day| day.len() > 1));
    let days = || cows.values().flat_map(BTreeMap::values);
    let within = pooled(days().map(Vec::as_slice));
    let means: Vec<Vec<f64>> =
        cows.values().map(|days| days.values().map(|day| mean(day)).collect()).collect();
    let between = pooled(means.iter().map(Vec::as_slice));
    // The mean of a day still holds the spread within it, by the number of passages it is the mean of.
    let several = || cows.values().filter(|days| days.len() > 1).flat_map(BTreeMap::values);
    let held = several().map(|day| 1.0 / day.len() as f64).sum::<f64>() / several().count().max(1) as f64;
    let spread_within = within.unwrap_or(0.0) * held;
    let between_days = between.map(|variance| (variance - spread_within).max(0.0));
    let a_day = median(&mut days().map(|day| day.len() as f64).collect::<Vec<_>>());
    let smallest = between_days.map_or_else(Vec::new, |between_days| {
        let of_day = between_days + within.unwrap_or(0.0) / a_day;
        AFTER_DAYS.into_iter().map(|days| Smallest { days, change: smallest(of_day, days) }).collect()
    });
    Repeated {
        measure,
        passages: days().map(Vec::len).sum(),
        cows: cows.len(),
        within_day: within.map(f64::sqrt),
        between_days: between_days.map(f64::sqrt),
        smallest,
    }
}

impl Repeated {
    /// The smallest changes, one for each of the days of the table; none where they cannot be told.
    #[must_use]
    pub fn changes(&self) -> [Option<f64>; AFTER_DAYS.len()] {
        std::array::from_fn(|index| self.smallest.get(index).map(|smallest| smallest.change))
    }
}

/// The smallest change seen in the mean of so many days against that of [`USUAL_DAYS`], from the variance of a day's mean.
fn smallest(of_day: f64, days: u32) -> f64 {
    (Z95 + Z80) * (of_day * (1.0 / f64::from(days) + 1.0 / USUAL_DAYS)).sqrt()
}

/// Variance about their own means of all groups together; `None` where [`LEAST_FREEDOM`] is not reached.
fn pooled<'a>(groups: impl Iterator<Item = &'a [f64]>) -> Option<f64> {
    let (mut squares, mut freedom) = (0.0, 0);
    for group in groups {
        let middle = mean(group);
        squares += group.iter().map(|value| (value - middle).powi(2)).sum::<f64>();
        freedom += group.len() - 1;
    }
    (freedom >= LEAST_FREEDOM).then(|| squares / freedom as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use shared::analysis::{PassageKind, Quality};
    use shared::plate::PerLeg;
    use shared::units::{Estimate, Milliseconds};

    fn weighing(cow: usize, day: i8, kg: f32) -> Passage {
        let summary = PassageSummary {
            start: Milliseconds(0),
            duration: Milliseconds(8000),
            kind: PassageKind::WalkThrough,
            quality: Quality::default(),
            readings: 800,
            lost_readings: 0,
            body_weight: Some(Estimate { value: kg, se: 1.0 }),
            standing: None,
            walking: PerLeg::default(),
        };
        let date = date(2026, 3, day);
        let time = jiff::tz::TimeZone::UTC.to_timestamp(date.at(6, 0, 0, 0)).unwrap();
        Passage {
            id: 0,
            lane: "lane".into(),
            time,
            date,
            animal: Some(AnimalId(format!("{cow:03}"))),
            summary,
        }
    }

    /// Twelve cows, two days, two passages a day: `apart` within a day, day means `days` apart.
    fn herd(apart: f32, days: f32) -> Vec<Passage> {
        let of = |cow: usize| {
            let usual = 600.0 + 10.0 * cow as f32;
            [(1, usual), (1, usual + apart), (2, usual + days), (2, usual + days + apart)]
                .map(|(day, kg)| weighing(cow, day, kg))
        };
        (0..24).flat_map(of).collect()
    }

    #[test]
    fn spreads_are_parted_by_hand() {
        // Within a day: two values 2 apart have variance 2. Day means 3 apart: 4.5, of which 2/2 is the days' own.
        let told = repeated(RepeatedMeasure::BodyWeight, &herd(2.0, 3.0));
        assert_eq!((told.passages, told.cows), (96, 24));
        assert!((told.within_day.unwrap() - 2.0_f64.sqrt()).abs() < 1e-9, "{told:?}");
        assert!((told.between_days.unwrap() - 3.5_f64.sqrt()).abs() < 1e-9, "{told:?}");
        // A day's mean: 3.5 + 2/2; after one day against fourteen: 2.8016 * sqrt(4.5 * (1 + 1/14)).
        assert!((told.smallest[0].change - 6.1516).abs() < 1e-3, "{told:?}");
        assert!((told.smallest[3].change - 2.8016 * (4.5_f64 / 7.0).sqrt()).abs() < 1e-3, "{told:?}");
    }

    #[test]
    fn days_that_differ_less_than_their_passages_add_nothing() {
        assert_eq!(repeated(RepeatedMeasure::BodyWeight, &herd(4.0, 1.0)).between_days, Some(0.0));
    }

    #[test]
    fn a_passage_not_trusted_or_of_nobody_or_alone_is_left_out() {
        let mut passages = herd(2.0, 3.0);
        passages.push(weighing(90, 1, 900.0));
        let mut spoilt = weighing(1, 1, 900.0);
        spoilt.summary.quality.add(shared::analysis::Reason::FootAcross);
        let mut unknown = weighing(1, 1, 900.0);
        unknown.animal = None;
        passages.extend([spoilt, unknown]);
        assert_eq!(
            repeated(RepeatedMeasure::BodyWeight, &passages),
            repeated(RepeatedMeasure::BodyWeight, &herd(2.0, 3.0))
        );
    }

    #[test]
    fn nineteen_differences_are_too_few_and_twenty_are_not() {
        let of = |cows: usize| {
            (0..cows)
                .flat_map(|cow| [(1, 0.0), (1, 2.0)].map(|(day, kg)| weighing(cow, day, 600.0 + kg)))
                .collect::<Vec<_>>()
        };
        assert_eq!(repeated(RepeatedMeasure::BodyWeight, &of(19)).within_day, None);
        let told = repeated(RepeatedMeasure::BodyWeight, &of(20));
        assert!(
            told.within_day.is_some() && told.between_days.is_none() && told.smallest.is_empty(),
            "{told:?}"
        );
    }

    #[test]
    fn a_peak_is_held_against_the_mean_of_its_pair() {
        let mut passage = weighing(1, 1, 600.0);
        for (leg, peak) in [(Leg::LR, 20.0), (Leg::RR, 30.0)] {
            passage.summary.walking[leg].count = 1;
            passage.summary.walking[leg].peak_pct = peak;
        }
        assert!((RepeatedMeasure::RearPeak.of(&passage.summary).unwrap() + 20.0).abs() < 1e-6);
        passage.summary.walking[Leg::RR].count = 0;
        assert_eq!(RepeatedMeasure::RearPeak.of(&passage.summary), None);
    }

    #[test]
    fn a_pair_without_any_peak_has_no_mean_to_be_held_against() {
        let mut passage = weighing(1, 1, 600.0);
        for leg in [Leg::LR, Leg::RR] {
            passage.summary.walking[leg].count = 1;
        }
        assert_eq!(RepeatedMeasure::RearPeak.of(&passage.summary), None);
        passage.summary.walking[Leg::LR].peak_pct = 30.0;
        // All on the left: 30 is twice the mean of 15, 100 % above it.
        assert_eq!(RepeatedMeasure::RearPeak.of(&passage.summary), Some(100.0));
    }

    #[test]
    fn a_cow_of_one_day_tells_of_the_spread_within_it_alone() {
        // As above, 48 days with one difference of 2: squares 48 * 2. Of 24 cows of one day, at 0, 2, 0, 2: squares 4
        // each with three differences. Within: (96 + 96) / (48 + 72) = 1.6. The means of days still hold half of it.
        let one_day = (30..54).flat_map(|cow| [0.0, 2.0, 0.0, 2.0].map(|kg| weighing(cow, 1, 600.0 + kg)));
        let passages: Vec<Passage> = herd(2.0, 3.0).into_iter().chain(one_day).collect();
        let told = repeated(RepeatedMeasure::BodyWeight, &passages);
        let within = told.within_day.expect("120 differences");
        let between = told.between_days.expect("24 cows of two days");
        assert!((within - 1.6_f64.sqrt()).abs() < 1e-9, "{told:?}");
        assert!((between - (4.5_f64 - 0.8).sqrt()).abs() < 1e-9, "{told:?}");
    }
}
