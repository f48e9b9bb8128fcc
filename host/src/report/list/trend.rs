//! What a leg, or a pair, carried day by day.

use crate::arithmetic::statistics;
use crate::record::{Passage, Place};
use jiff::{ToSpan, civil::Date};
use serde::Serialize;
use shared::plate::{Leg, PerLeg};

/// Days of the small trend: our choice.
pub const TREND_DAYS: usize = 14;

/// A value for each day up to a day.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Trend {
    /// What the values are: `leg_share_pct`, `pair_share_pct` (standing) or `leg_peak_pct` (walking).
    pub measure: &'static str,
    /// The first day.
    pub from: Option<Date>,
    /// % of body weight, mean of the day's trusted passages; `None` on a day without.
    pub values: Vec<Option<f64>>,
}

impl Trend {
    /// The mean of the first and of the last three days that have a value; `None` with fewer than two such days.
    #[must_use]
    pub fn ends(&self) -> Option<(f64, f64)> {
        let known: Vec<f64> = self.values.iter().flatten().copied().collect();
        let size = (known.len() / 2).min(3);
        (size > 0).then(|| (statistics::mean(&known[..size]), statistics::mean(&known[known.len() - size..])))
    }
}

/// Mean leg shares of one passage, if she stood and can be trusted, % of body weight.
#[must_use]
pub fn shares(passage: &Passage) -> Option<PerLeg<f64>> {
    let standing = passage.summary.standing.filter(|_| passage.summary.quality.trusted())?;
    Some(PerLeg(standing.share_pct.0.map(f64::from)))
}

/// Peak forces of one passage, where each leg has a whole contact and it can be trusted, % of body weight.
fn peaks(passage: &Passage) -> Option<PerLeg<f64>> {
    let walking = passage.summary.walking.0;
    (passage.summary.quality.trusted() && walking.iter().all(|leg| leg.count > 0))
        .then(|| PerLeg(walking.map(|leg| f64::from(leg.peak_pct))))
}

/// Mean over the passages of one day.
#[must_use]
pub fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    (count > 0.0).then(|| sum / count)
}

fn daily(
    passages: &[&Passage],
    from: Date,
    to: Date,
    value: impl Fn(&Passage) -> Option<f64>,
) -> Vec<Option<f64>> {
    from.series(1.day())
        .take_while(|day| *day <= to)
        .map(|day| mean(passages.iter().filter(|passage| passage.date == day).filter_map(|p| value(p))))
        .collect()
}

/// The trend of a place over the days `from` to `to`: standing share, or walking peak of a lane where she seldom
/// stands.
#[must_use]
pub fn trend(passages: &[&Passage], place: Place, from: Date, to: Date) -> Trend {
    let of = |shares: PerLeg<f64>| match place {
        Place::One(leg) => shares[leg],
        Place::BothFront => shares[Leg::LF] + shares[Leg::RF],
        Place::BothRear => shares[Leg::LR] + shares[Leg::RR],
    };
    let standing = daily(passages, from, to, |passage| shares(passage).map(of));
    let known = |values: &[Option<f64>]| values.iter().flatten().count();
    if let Place::One(leg) = place {
        let walking = daily(passages, from, to, |passage| peaks(passage).map(|peaks| peaks[leg]));
        if known(&walking) > 2 * known(&standing) {
            return Trend { measure: "leg_peak_pct", from: Some(from), values: walking };
        }
        return Trend { measure: "leg_share_pct", from: Some(from), values: standing };
    }
    Trend { measure: "pair_share_pct", from: Some(from), values: standing }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::{stance, walk};
    use jiff::civil::date;

    #[test]
    fn the_days_mean_of_trusted_passages() {
        let d = |day| date(2026, 3, day);
        let mut spoiled = stance("7", d(2), [25.0, 25.0, 40.0, 10.0]);
        spoiled.summary.quality.add(shared::analysis::Reason::TwoAnimals);
        let all = [
            stance("7", d(1), [27.0, 27.0, 22.0, 24.0]),
            stance("7", d(1), [27.0, 27.0, 24.0, 22.0]),
            spoiled,
            stance("7", d(3), [27.0, 27.0, 28.0, 18.0]),
        ];
        let all: Vec<&Passage> = all.iter().collect();
        let found = trend(&all, Place::One(Leg::RR), d(1), d(3));
        assert_eq!(found.values, [Some(23.0), None, Some(18.0)]);
        assert_eq!(found.ends(), Some((23.0, 18.0)));
        assert_eq!(trend(&all, Place::BothRear, d(1), d(1)).values, [Some(46.0)]);
    }

    #[test]
    fn a_cow_that_only_walks_is_shown_by_her_peaks() {
        let d = |day| date(2026, 3, day);
        let all = [walk("7", d(1), [60.0, 60.0, 50.0, 49.0]), walk("7", d(2), [60.0, 60.0, 55.0, 40.0])];
        let all: Vec<&Passage> = all.iter().collect();
        let found = trend(&all, Place::One(Leg::RR), d(1), d(2));
        assert_eq!((found.measure, found.values), ("leg_peak_pct", vec![Some(49.0), Some(40.0)]));
    }
}
