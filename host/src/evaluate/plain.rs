//! Plain rules on the same days at the same price: what a limit on one figure would give for as many needless looks as
//! the tool's own flags cost.

use crate::arithmetic::dates::days_between;
use crate::evaluate::pairing::{MATCH_DAYS, Pairs};
use crate::evaluate::price::{PricePoint, point};
use crate::evaluate::roc::{Ranked, variance};
use crate::record::{AnimalId, Passage};
use jiff::civil::Date;
use serde::Serialize;
use shared::analysis::Standing;
use shared::plate::Pair;
use std::collections::BTreeMap;

/// Days from which a plain chart learns a cow, and the weight of a new day. Our choice, a usual one for such charts.
const LEARNED_DAYS: usize = 14;
const EWMA_WEIGHT: f64 = 0.2;
/// Limits tried: so many steps through the values seen.
const STEPS: usize = 200;

/// A rule that anybody could write down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// 1 less the leg weight ratio of the worse pair, mean of the day.
    LegWeightRatio,
    /// The moving average of the symmetry index of the worse pair, in SD of her first fortnight.
    SymmetryChart,
}

/// What a rule gives at the tool's own price.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PlainPoint {
    /// Which.
    pub rule: Rule,
    /// Area under its ROC curve on the same days.
    pub auc: Option<f64>,
    /// The lowest limit that costs no more needless looks than the tool's flags.
    #[serde(flatten)]
    pub point: PricePoint,
}

/// A cow's values of a rule, by day; more is worse.
type Values = BTreeMap<Date, f64>;

/// By pair, the day's mean of a figure.
fn by_day(
    passages: &[&Passage],
    figure: impl Fn(&Standing, Pair) -> Option<f32>,
) -> BTreeMap<Date, [f64; 2]> {
    let mut sums: BTreeMap<Date, ([f64; 2], f64)> = BTreeMap::new();
    for passage in passages.iter().filter(|passage| passage.summary.quality.trusted()) {
        let Some(standing) = &passage.summary.standing else { continue };
        if let (Some(front), Some(rear)) = (figure(standing, Pair::Front), figure(standing, Pair::Rear)) {
            let (sum, count) = sums.entry(passage.date).or_default();
            *sum = [sum[0] + f64::from(front), sum[1] + f64::from(rear)];
            *count += 1.0;
        }
    }
    sums.into_iter().map(|(date, (sum, count))| (date, sum.map(|sum| sum / count))).collect()
}

fn ratio(passages: &[&Passage]) -> Values {
    let days = by_day(passages, Standing::lwr);
    days.into_iter().map(|(date, [front, rear])| (date, 1.0 - front.min(rear))).collect()
}

fn chart(passages: &[&Passage]) -> Values {
    let days: Vec<(Date, [f64; 2])> = by_day(passages, Standing::si_pct).into_iter().collect();
    let Some((learned, rest)) = days.split_at_checked(LEARNED_DAYS) else { return Values::new() };
    let usual = [0, 1].map(|pair| {
        let n = LEARNED_DAYS as f64;
        let mean = learned.iter().map(|(_, si)| si[pair]).sum::<f64>() / n;
        let variance = variance(learned.iter().map(|(_, si)| si[pair]), n, mean);
        (mean, variance.sqrt().max(f64::MIN_POSITIVE))
    });
    let mut average = [0.0; 2];
    let mut value = |(date, si): &(Date, [f64; 2])| {
        for pair in [0, 1] {
            average[pair] += EWMA_WEIGHT * ((si[pair] - usual[pair].0) / usual[pair].1 - average[pair]);
        }
        (*date, f64::max(average[0].abs(), average[1].abs()))
    };
    rest.iter().map(&mut value).collect()
}

/// Both rules at the price of the tool's flags; nothing where that is not known.
#[must_use]
pub fn at_the_same_price(pairs: &Pairs, passages: &[Passage]) -> Vec<PlainPoint> {
    let mut by_cow: BTreeMap<&AnimalId, Vec<&Passage>> = BTreeMap::new();
    for passage in passages {
        if let Some(animal) = &passage.animal {
            by_cow.entry(animal).or_default().push(passage);
        }
    }
    let Some(price) = point(&pairs.rows, None).needless_looks else { return Vec::new() };
    let at = |rule: Rule| {
        let of = match rule {
            Rule::LegWeightRatio => ratio,
            Rule::SymmetryChart => chart,
        };
        let values: Vec<Values> =
            pairs.cows.iter().map(|cow| by_cow.get(cow).map_or_else(Values::new, |own| of(own))).collect();
        let mut rows = pairs.rows.clone();
        for row in &mut rows {
            let last = values[row.cow].range(..=row.date).next_back();
            row.probability = last
                .filter(|(date, _)| days_between(**date, row.date) <= MATCH_DAYS)
                .map(|(_, value)| *value);
        }
        let mut seen: Vec<f64> = rows.iter().filter_map(|row| row.probability).collect();
        seen.sort_by(f64::total_cmp);
        let last = seen.len().checked_sub(1)?;
        let ranked = rows.iter().filter_map(|row| Some((row.probability?, row.lame, row.cow))).collect();
        let auc = Ranked::new(ranked).auc(&vec![1; pairs.cows.len()]);
        let limits = (0..=STEPS).map(|step| seen[last * step / STEPS]);
        let mut points = limits.map(|limit| point(&rows, Some(limit)));
        let cheap = points.find(|point| point.needless_looks.is_some_and(|looks| looks <= price))?;
        Some(PlainPoint { rule, auc, point: cheap })
    };
    [Rule::LegWeightRatio, Rule::SymmetryChart].into_iter().filter_map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::Judged;
    use jiff::{ToSpan, civil::date};
    use shared::analysis::{PassageKind, PassageSummary, Quality};
    use shared::plate::PerLeg;

    const FIRST: Date = date(2026, 3, 1);

    fn passage(cow: usize, day: i64, rear: [f32; 2]) -> Passage {
        let standing = Standing { share_pct: PerLeg([27.0, 27.0, rear[0], rear[1]]), ..Standing::default() };
        let date = FIRST.saturating_add(day.days());
        Passage {
            id: 0,
            lane: "lane".to_owned(),
            time: date.to_zoned_datetime(jiff::tz::TimeZone::UTC).unwrap().timestamp(),
            date,
            animal: Some(AnimalId(cow.to_string())),
            summary: PassageSummary {
                start: shared::units::Milliseconds(0),
                duration: shared::units::Milliseconds(9000),
                kind: PassageKind::Stance,
                quality: Quality::default(),
                readings: 1,
                lost_readings: 0,
                body_weight: None,
                standing: Some(standing),
                walking: PerLeg::default(),
            },
        }
    }

    #[test]
    fn the_ratio_is_of_the_worse_pair_and_the_mean_of_the_day() {
        let (one, other) = (passage(1, 0, [23.0, 23.0]), passage(1, 0, [20.0, 25.0]));
        let values = ratio(&[&one, &other]);
        assert!((values[&FIRST] - (1.0 - (1.0 + 0.8) / 2.0)).abs() < 1e-6, "{values:?}");
    }

    #[test]
    fn the_chart_learns_a_fortnight_and_follows_by_a_fifth() {
        // Her symmetry index: +-2 in turn, mean 0, then 20 %.
        let usual = |day: i64| if day % 2 == 0 { [22.77, 23.23] } else { [23.23, 22.77] };
        let mut all: Vec<Passage> = (0..14).map(|day| passage(1, day, usual(day))).collect();
        assert!(chart(&all.iter().collect::<Vec<_>>()).is_empty());
        all.extend([passage(1, 14, [20.7, 25.3]), passage(1, 15, [20.7, 25.3])]);
        let values: Vec<f64> = chart(&all.iter().collect::<Vec<_>>()).into_values().collect();
        let sd = 2.0 * (14.0_f64 / 13.0).sqrt();
        assert!((values[0] - 0.2 * 20.0 / sd).abs() < 0.01, "{values:?}");
        assert!((values[1] - 0.36 * 20.0 / sd).abs() < 0.02, "{values:?}");
    }

    #[test]
    fn a_rule_gets_the_lowest_limit_that_costs_no_more() {
        // Cow 0 goes lame on day 2 and puts 20 % less on one leg; cow 1 is sound and once shows 10 % less.
        let day = |day: i64| FIRST.saturating_add(day.days());
        let lame = [0.0, 0.0, 2.0, 2.0];
        let rows = (0..4).map(|i| Judged::plain(0, day(i), lame[i as usize], i == 3));
        let sound = (0..4).map(|i| Judged::plain(1, day(i), 0.0, false));
        let pairs = Pairs {
            cows: vec![AnimalId("0".to_owned()), AnimalId("1".to_owned())],
            rows: rows.chain(sound).collect(),
            without_row: 0,
        };
        let carries = |cow: usize, i: i64| match (cow, i) {
            (0, 2 | 3) => [20.0, 25.0],
            (1, 1) => [21.6, 24.0],
            _ => [23.0, 23.0],
        };
        let passages: Vec<Passage> =
            (0..2).flat_map(|cow| (0..4).map(move |i| passage(cow, i, carries(cow, i)))).collect();
        let found = at_the_same_price(&pairs, &passages);
        assert_eq!(found.len(), 1, "four days teach no chart: {found:?}");
        let PlainPoint { rule, auc, point } = found[0];
        assert_eq!((rule, auc), (Rule::LegWeightRatio, Some(1.0)));
        assert!((point.limit.unwrap() - 0.2).abs() < 1e-6);
        assert_eq!((point.needless_looks, point.never_flagged, point.days_sudden), (Some(0.0), 0, Some(0.0)));
    }

    #[test]
    fn the_chart_counts_from_her_own_usual_mean() {
        // Her symmetry index: 8 and 12 % in turn, mean 10, fourteen squares of 2: SD 2 * sqrt(14/13). Then 20 %, 10 above.
        let usual = |day: i64| if day % 2 == 0 { [22.08, 23.92] } else { [21.62, 24.38] };
        let mut all: Vec<Passage> = (0..14).map(|day| passage(1, day, usual(day))).collect();
        all.push(passage(1, 14, [20.7, 25.3]));
        let values: Vec<f64> = chart(&all.iter().collect::<Vec<_>>()).into_values().collect();
        let sd = 2.0 * (14.0_f64 / 13.0).sqrt();
        assert_eq!(values.len(), 1);
        assert!((values[0] - 0.2 * 10.0 / sd).abs() < 0.01, "{values:?}");
    }
}
