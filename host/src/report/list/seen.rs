//! How much the lane saw, and whom it did not see.

use crate::arithmetic::dates::days_between;
use crate::record::finding::LaneRemark;
use crate::record::{AnimalId, HerdEntry, Passage};
use crate::report::list::marks::Marks;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Not seen for so many days is said: our choice (a cow milked daily passes daily).
pub const NOT_SEEN_DAYS: i32 = 3;
/// Not seen for longer than this is taken to be dry, sold or away, and only counted: our choice.
pub const AWAY_DAYS: i32 = 30;
/// Days before the day against which its number of passages is held: our choice.
const USUAL_DAYS: i32 = 14;
/// Fewer passages than this share of the usual number is said: our choice.
const FEW_SHARE: f64 = 0.6;
/// More unusable passages than this share is said: our choice (four balances in a robot had all legs of nine cows in
/// ten, so a tenth is to be expected; Pastell 2006).
const UNUSABLE_SHARE: f64 = 0.2;
/// More passages without a name than this share is said: our choice.
const UNIDENTIFIED_SHARE: f64 = 0.1;
/// Shares of fewer passages than this are not judged: our choice.
const FEWEST: usize = 10;

/// What was seen on a day.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Seen {
    /// Passages.
    pub passages: usize,
    /// Different cows identified.
    pub cows: usize,
    /// Passages whose cow is not known.
    pub unidentified: usize,
    /// Passages that cannot be scored.
    pub unusable: usize,
    /// Animals of the herd register that are in milk, however many calvings each has; 0 without a register.
    pub herd: usize,
}

/// A cow not seen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotSeen {
    /// Which animal.
    pub animal_id: AnimalId,
    /// Her last day in a lane; `None` if she never was.
    pub last_seen: Option<Date>,
    /// Days since then.
    pub days: Option<i32>,
}

/// Counts the passages of `date`.
#[must_use]
pub fn seen(passages: &[Passage], herd: &[HerdEntry], marks: &Marks, date: Date) -> Seen {
    let of_day = || passages.iter().filter(|passage| passage.date == date);
    Seen {
        passages: of_day().count(),
        cows: of_day().filter_map(|passage| passage.animal.as_ref()).collect::<BTreeSet<_>>().len(),
        unidentified: of_day().filter(|passage| passage.animal.is_none()).count(),
        unusable: of_day().filter(|passage| !passage.summary.quality.trusted()).count(),
        herd: herd
            .iter()
            .map(|entry| &entry.animal)
            .filter(|animal| marks.there(animal))
            .collect::<BTreeSet<_>>()
            .len(),
    }
}

/// Cows not seen for [`NOT_SEEN_DAYS`] or more by the end of `date`, longest last; never seen at the end.
#[must_use]
pub fn not_seen(
    last_seen: &[(AnimalId, Date)],
    herd: &[HerdEntry],
    marks: &Marks,
    date: Date,
) -> Vec<NotSeen> {
    let mut last: BTreeMap<&AnimalId, Option<Date>> =
        herd.iter().map(|entry| (&entry.animal, None)).collect();
    last.extend(last_seen.iter().map(|(animal, day)| (animal, Some(*day))));
    let mut found: Vec<NotSeen> = last
        .into_iter()
        .filter(|(animal, _)| marks.there(animal))
        .map(|(animal, last_seen)| NotSeen {
            animal_id: animal.clone(),
            last_seen,
            days: last_seen.map(|day| days_between(day, date)),
        })
        .filter(|cow| cow.days.is_none_or(|days| days >= NOT_SEEN_DAYS))
        .collect();
    found.sort_by_key(|cow| cow.days.unwrap_or(i32::MAX));
    found
}

/// How often each reason keeps a passage from being used, by its name in the passage table.
pub fn spoilt_by<'a>(passages: impl IntoIterator<Item = &'a Passage>) -> BTreeMap<&'static str, usize> {
    let mut found = BTreeMap::new();
    let reasons = passages.into_iter().flat_map(|passage| passage.summary.quality.reasons());
    for reason in reasons.filter(|reason| reason.spoils()) {
        *found.entry(reason.name()).or_default() += 1;
    }
    found
}

/// What the passages themselves say of the lane.
#[must_use]
pub fn lane_remarks(passages: &[Passage], seen: &Seen, date: Date) -> Vec<LaneRemark> {
    let mut notes = Vec::new();
    let mut by_day: BTreeMap<Date, usize> = BTreeMap::new();
    for passage in passages.iter().filter(|p| (1..=USUAL_DAYS).contains(&days_between(p.date, date))) {
        *by_day.entry(passage.date).or_default() += 1;
    }
    let mut counts: Vec<usize> = by_day.into_values().collect();
    counts.sort_unstable();
    let usual = counts.get(counts.len() / 2).copied().unwrap_or(0);
    if usual >= FEWEST && (seen.passages as f64) < FEW_SHARE * usual as f64 {
        notes.push(LaneRemark::FewPassages { passages: seen.passages, usual });
    }
    if seen.passages >= FEWEST {
        let share = |part: usize| part as f64 / seen.passages as f64;
        if share(seen.unusable) > UNUSABLE_SHARE {
            let found = spoilt_by(passages.iter().filter(|passage| passage.date == date));
            let commonest = found.into_iter().max_by_key(|(_, number)| *number);
            let (commonest, times) =
                commonest.map_or_else(Default::default, |(name, n)| (name.to_owned(), n));
            notes.push(LaneRemark::Unusable { unusable_pct: 100.0 * share(seen.unusable), commonest, times });
        }
        if share(seen.unidentified) > UNIDENTIFIED_SHARE {
            notes.push(LaneRemark::Untagged { untagged_pct: 100.0 * share(seen.unidentified) });
        }
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::{last_seen, stance};
    use jiff::civil::date;
    use shared::analysis::Reason;

    const EVEN: [f32; 4] = [27.0, 27.0, 23.0, 23.0];

    #[test]
    fn a_row_a_lactation_is_one_animal() {
        let entry = |animal: &str, parity| HerdEntry {
            animal: AnimalId(animal.into()),
            parity: Some(parity),
            calving_date: Some(date(2026, 3, i8::try_from(parity).unwrap())),
        };
        let herd = [entry("1", 1), entry("1", 2), entry("2", 1)];
        assert_eq!(seen(&[], &herd, &Marks::default(), date(2026, 3, 9)).herd, 2);
    }

    #[test]
    fn cows_not_seen_are_named_and_the_never_seen_come_last() {
        let d = |day| date(2026, 3, day);
        let entry = |id: &str| HerdEntry { animal: AnimalId(id.into()), parity: None, calving_date: None };
        let passages = [stance("1", d(20), EVEN), stance("2", d(17), EVEN), stance("3", d(18), EVEN)];
        let found = not_seen(&last_seen(&passages), &[entry("1"), entry("9")], &Marks::default(), d(20));
        let days: Vec<_> = found.iter().map(|cow| (cow.animal_id.0.as_str(), cow.days)).collect();
        assert_eq!(days, [("2", Some(3)), ("9", None)]);
    }

    #[test]
    fn a_lane_in_trouble_is_said_with_numbers() {
        let d = |day| date(2026, 3, day);
        let mut passages: Vec<Passage> =
            (1..=10).flat_map(|day| (0..40).map(move |_| stance("1", d(day), EVEN))).collect();
        for index in 0..20 {
            let mut passage = stance("1", d(11), EVEN);
            if index % 2 == 0 {
                passage.summary.quality.add(Reason::TwoAnimals);
            }
            if index % 4 == 0 {
                passage.animal = None;
            }
            passages.push(passage);
        }
        let seen = seen(&passages, &[], &Marks::default(), d(11));
        assert_eq!((seen.passages, seen.unusable, seen.unidentified), (20, 10, 5));
        assert_eq!(
            lane_remarks(&passages, &seen, d(11)),
            [
                LaneRemark::FewPassages { passages: 20, usual: 40 },
                LaneRemark::Unusable { unusable_pct: 50.0, commonest: "two_animals".into(), times: 10 },
                LaneRemark::Untagged { untagged_pct: 25.0 },
            ]
        );
        let quiet = crate::report::list::seen::seen(&passages, &[], &Marks::default(), d(10));
        assert!(lane_remarks(&passages, &quiet, d(10)).is_empty());
    }
}
