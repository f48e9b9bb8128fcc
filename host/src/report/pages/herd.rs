//! The herd: new flags by week, lame share by month, legs, lesions; and who recorded what.

use crate::arithmetic::statistics::wilson;
use crate::evaluate::{pair, pairing};
use crate::record::case::{Course, KeptCase};
use crate::record::person::Role;
use crate::record::{AnimalId, Flag};
use crate::report::farm::{Farm, HERD_DAYS};
use crate::report::pages::render::{Page, View};
use crate::report::trim::case_line::lesion;
use crate::report::words::Words;
use crate::store::Store;
use jiff::{ToSpan, civil::Date};
use serde_json::json;
use std::collections::{BTreeMap, HashMap};

/// Weeks shown, and months. Our choice.
const WEEKS: usize = 12;
const MONTHS: usize = 12;
/// Deeds shown.
const DEEDS: usize = 200;

/// What the days of the farm say of the herd.
#[derive(Debug, Default, PartialEq)]
struct HerdPage {
    /// By the Monday of a week: cows newly to check.
    weeks: BTreeMap<Date, usize>,
    /// By the first of a month: cows judged, and those of them to check on a day or more.
    months: BTreeMap<Date, (usize, usize)>,
    /// New flags by place.
    places: BTreeMap<&'static str, usize>,
}

/// A cow, as far as her rows have been looked at.
struct CowSoFar {
    /// Whether her last row was flagged.
    flagged: bool,
    /// The month of her last row, and whether a row of it was flagged; none of it was judged.
    month: Date,
    in_month: Option<bool>,
}

impl CowSoFar {
    const fn new(month: Date) -> Self {
        Self { flagged: false, month, in_month: None }
    }
}

impl HerdPage {
    /// Counts a cow in her month.
    fn add(&mut self, cow: &CowSoFar) {
        if let Some(lame) = cow.in_month {
            let (judged, flagged) = self.months.entry(cow.month).or_default();
            *judged += 1;
            *flagged += usize::from(lame);
        }
    }

    fn of(farm: &Farm) -> Self {
        let mut herd = Self::default();
        // Who is flagged on the first day may have been before.
        let first = farm.days.first().map(|row| row.date);
        let mut cows: HashMap<&AnimalId, CowSoFar> = HashMap::new();
        for row in &farm.days {
            let flagged = row.flag >= Flag::Check;
            let month = row.date.first_of_month();
            let cow = cows.entry(&row.animal).or_insert_with(|| CowSoFar::new(month));
            if flagged && !cow.flagged && Some(row.date) != first {
                let monday =
                    row.date.saturating_sub(i64::from(row.date.weekday().to_monday_zero_offset()).days());
                *herd.weeks.entry(monday).or_default() += 1;
                if let Some(place) = row.place {
                    *herd.places.entry(place.name()).or_default() += 1;
                }
            }
            cow.flagged = flagged;
            if cow.month != month {
                herd.add(cow);
                (cow.month, cow.in_month) = (month, None);
            }
            if row.flag != Flag::NoData {
                cow.in_month = Some(cow.in_month.unwrap_or_default() || flagged);
            }
        }
        cows.values().for_each(|cow| herd.add(cow));
        herd
    }
}

impl View<'_> {
    pub(super) fn herd(&self, farm: &Farm, store: &Store) -> Page {
        let (herd, words) = (HerdPage::of(farm), self.words());
        let most = herd.weeks.values().copied().max().unwrap_or(1).max(1);
        let weeks: Vec<_> = herd
            .weeks
            .iter()
            .rev()
            .take(WEEKS)
            .map(|(monday, count)| (words.day(*monday), count, 100 * count / most))
            .collect();
        let months: Vec<_> = herd
            .months
            .iter()
            .rev()
            .take(MONTHS)
            .map(|(month, (judged, lame))| {
                let interval = wilson(*lame as u64, *judged as u64);
                json!({
                    "month": month.strftime("%Y-%m").to_string(),
                    "judged": judged,
                    "lame": lame,
                    "share": words.say("page-herd-share", json!({
                        "share": 100.0 * *lame as f64 / *judged as f64,
                        "low": 100.0 * interval.lower,
                        "high": 100.0 * interval.upper,
                    })),
                })
            })
            .collect();
        let mut lesions: BTreeMap<String, usize> = BTreeMap::new();
        let mut cases = store.cases(None).unwrap_or_default();
        let year = farm.date.saturating_sub(HERD_DAYS.days())..=farm.date;
        cases.retain(|kept| kept.withdrawn.is_none() && year.contains(&kept.case.date));
        for kept in &cases {
            *lesions.entry(lesion(&kept.case, words)).or_default() += 1;
        }
        let mut lesions: Vec<_> = lesions.into_iter().collect();
        lesions.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        let places: Vec<_> =
            herd.places.iter().map(|(place, count)| (words.letters_of(place), count)).collect();
        let outcomes = outcomes(&cases, words);
        self.page(
            "herd.html",
            json!({
                "date": farm.date, "weeks": weeks, "months": months, "places": places, "lesions": lesions,
                "well": how_well(farm, words), "outcomes": outcomes,
            }),
        )
    }

    /// People and what they did, for those who administer.
    pub(super) fn people(&self, store: &Store) -> Page {
        if self.viewer().role != Some(Role::Administer) {
            return self.problem(403, "page-may-look");
        }
        let people = store.people().unwrap_or_default();
        let deeds = store.deeds(DEEDS).unwrap_or_default();
        let people: Vec<_> = people.iter().map(|person| (&person.name, person.role.name())).collect();
        let deeds: Vec<_> = deeds.iter().map(|deed| (deed.at.to_string(), &deed.who, &deed.what)).collect();
        self.page("people.html", json!({ "people": people, "deeds": deeds }))
    }
}

/// The list of each day against what people scored then, and found in the feet they lifted on the day after.
fn how_well(farm: &Farm, words: &Words) -> Vec<(String, String)> {
    let mut rows = Vec::new();
    for (truths, lame, sound) in [
        (pairing::from_scores(&farm.scores), "page-herd-scored-lame", "page-herd-scored-sound"),
        (pairing::from_lesions(&farm.work), "page-herd-lesion", "page-herd-no-lesion"),
    ] {
        let pairs = pair(&truths, &farm.days);
        for (is_lame, what) in [(true, lame), (false, sound)] {
            let of: Vec<_> = pairs.rows.iter().filter(|judged| judged.lame == is_lame).collect();
            if of.is_empty() {
                continue;
            }
            let hits = of.iter().filter(|judged| judged.flagged).count();
            let interval = wilson(hits as u64, of.len() as u64);
            let share = json!({
                "hits": hits,
                "of": of.len(),
                "share": 100.0 * hits as f64 / of.len() as f64,
                "low": 100.0 * interval.lower,
                "high": 100.0 * interval.upper,
            });
            rows.push((words.text(what), words.say("page-herd-of", share)));
        }
    }
    rows
}

/// How treated feet with a lesion stood at their last look.
fn outcomes(cases: &[KeptCase], words: &Words) -> Vec<(String, usize)> {
    let treated = || cases.iter().filter(|kept| kept.case.lesion.is_some());
    let last = |kept: &KeptCase| kept.follow_ups.iter().rev().find_map(|look| look.course);
    let mut counts: Vec<(String, usize)> = Course::ALL
        .iter()
        .map(|course| {
            let count = treated().filter(|kept| last(kept) == Some(*course)).count();
            (words.text(&format!("seen-{}", course.name())), count)
        })
        .collect();
    let none = treated().filter(|kept| last(kept).is_none()).count();
    counts.push((words.text("page-herd-no-look"), none));
    counts.retain(|(_, count)| *count > 0);
    counts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{FootWork, MobilityScore};
    use crate::report::invented;
    use jiff::civil::date;

    #[test]
    fn a_cow_counts_once_a_month_and_anew_when_her_flag_comes_back() {
        let mut farm = invented::farm();
        let row = farm.days[0].clone();
        let day = |animal: &str, month: i8, day: i8, flag: Flag| crate::record::CowDay {
            animal: AnimalId(animal.to_owned()),
            date: date(2026, month, day),
            flag,
            place: None,
            ..row.clone()
        };
        // 2026-03-02 is a Monday.
        farm.days = vec![
            // Whoever is flagged on the first day may have been flagged before.
            day("3", 3, 1, Flag::Check),
            day("3", 3, 2, Flag::Check),
            day("1", 3, 2, Flag::Check),
            day("2", 3, 2, Flag::NoData),
            day("1", 3, 3, Flag::Urgent),
            day("2", 3, 3, Flag::Clear),
            day("1", 3, 8, Flag::Watch),
            day("1", 3, 9, Flag::Check),
            day("1", 4, 1, Flag::Watch),
        ];
        let herd = HerdPage::of(&farm);
        assert_eq!(herd.weeks, BTreeMap::from([(date(2026, 3, 2), 1), (date(2026, 3, 9), 1)]));
        assert_eq!(herd.months, BTreeMap::from([(date(2026, 3, 1), (3, 2)), (date(2026, 4, 1), (1, 0))]));
    }

    fn work(animal: &str, date: Date) -> FootWork {
        FootWork {
            date,
            animal: AnimalId(animal.into()),
            leg: None,
            lesion: false,
            block_off: None,
            block_due: None,
            block: false,
            look: false,
            known: crate::record::VersionSpan { from: date, until: None },
        }
    }

    #[test]
    fn the_list_is_held_against_scores_and_lifted_feet() {
        let mut farm = invented::farm();
        let words = Words::new(crate::report::words::Language::English);
        farm.scores.clear();
        farm.work.clear();
        assert!(how_well(&farm, &words).is_empty());
        let (sunday, monday) = (date(2026, 3, 1), date(2026, 3, 2));
        farm.days = [("1", Flag::Urgent), ("2", Flag::Watch), ("3", Flag::Check), ("4", Flag::Clear)]
            .map(|(cow, flag)| invented::cow_day(cow, sunday, flag))
            .to_vec();
        farm.scores = [("1", 2), ("2", 3), ("3", 1), ("4", 0)]
            .map(|(cow, score)| MobilityScore { date: sunday, animal: AnimalId(cow.into()), score })
            .to_vec();
        let found = how_well(&farm, &words);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].1, "1 of 2: 50 % (9 to 91)");
        assert_eq!(found[1].1, "1 of 2: 50 % (9 to 91)");
        // A foot lifted on Monday speaks of Sunday's list.
        farm.scores.clear();
        farm.work = vec![FootWork { lesion: true, ..work("1", monday) }, work("2", monday)];
        let found = how_well(&farm, &words);
        assert_eq!(
            found.iter().map(|row| row.1.as_str()).collect::<Vec<_>>(),
            ["1 of 1: 100 % (21 to 100)", "0 of 1: 0 % (0 to 79)"]
        );
    }

    #[test]
    fn a_treated_foot_counts_by_its_last_look() {
        let words = Words::new(crate::report::words::Language::English);
        let kept = |id, courses: &[Course]| {
            let mut case = crate::record::case::Case::new(AnimalId("1".into()), date(2026, 3, 2));
            case.set_field("lesion", "WL").unwrap();
            let look = |course: &Course| crate::record::case::FollowUp {
                date: date(2026, 3, 9),
                block: None,
                height_mm: None,
                course: Some(*course),
                note: None,
                who: None,
            };
            KeptCase { id, case, follow_ups: courses.iter().map(look).collect(), withdrawn: None }
        };
        let cases = [
            kept(1, &[Course::Worse, Course::Healed]),
            kept(2, &[Course::Healed]),
            kept(3, &[Course::Same]),
            kept(4, &[]),
        ];
        let counted = outcomes(&cases, &words);
        let expected = [("healed", 2), ("the same", 1), ("not looked at again", 1)];
        assert_eq!(counted, expected.map(|(what, count)| (what.to_owned(), count)));
    }
}
