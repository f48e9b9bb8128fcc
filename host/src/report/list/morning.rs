//! What the farmer should know this morning, as data.

use crate::record::case::withdrawal::Withdrawal;
use crate::record::finding::{Advice, Confidence, FlagReason, LaneRemark, LookFor, RecheckReason};
use crate::record::finding::{code, codes, one_code};
use crate::record::mark::Mark;
use crate::record::names::Names;
use crate::record::{AnimalId, CowDay, Flag, HerdEntry, Passage};
use crate::report::list::marks::Marks;
use crate::report::list::rank;
use crate::report::list::seen::{NotSeen, Seen, lane_remarks, not_seen, seen};
use crate::report::list::trend::{TREND_DAYS, Trend, trend};
use jiff::{ToSpan, civil::Date};
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};

/// A recheck that is due.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Due {
    /// Which animal.
    pub animal_id: AnimalId,
    /// The day it was planned for.
    pub due: Date,
    /// The leg, where it was named.
    pub leg: &'static str,
    /// What is to be done or looked for.
    #[serde(serialize_with = "codes")]
    pub look_for: Vec<LookFor>,
    /// Why it is due then, where that is not the plan alone.
    #[serde(serialize_with = "code")]
    pub sooner: Option<RecheckReason>,
}

/// One thing said of a lane, or of all together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LaneNote {
    /// The lane's name; `None` for all of them.
    pub lane: Option<String>,
    /// What is said.
    #[serde(flatten, serialize_with = "one_code")]
    pub remark: LaneRemark,
}

/// What the list is made from. Everything after the end of `date` is left alone.
#[derive(Clone, Copy, Debug)]
pub struct MorningInput<'a> {
    /// The farm day.
    pub date: Date,
    /// The rows of the days up to `date`.
    pub days: &'a [CowDay],
    /// The passages of all lanes, of the last weeks at least.
    pub passages: &'a [Passage],
    /// The last day up to `date` that each animal was seen.
    pub last_seen: &'a [(AnimalId, Date)],
    /// The herd register.
    pub herd: &'a [HerdEntry],
    /// What the animals are called.
    pub names: &'a Names,
    /// The marks on the cows.
    pub marks: &'a Marks,
    /// Words for cows that nobody knows, of whom something was said.
    pub unknown: &'a [String],
    /// Rechecks due by `date`.
    pub rechecks: &'a [Due],
    /// Rechecks that nobody did for so long that they are only counted.
    pub rechecks_faded: usize,
    /// Withdrawals that are not over.
    pub withdrawals: &'a [Withdrawal],
    /// What the score says of each lane.
    pub lane_remarks: &'a [LaneNote],
    /// Cows that can be looked at in a day.
    pub capacity: usize,
}

/// Where a cow stands on the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ListSection {
    /// Look at her today.
    ToCheck,
    /// She should be looked at, but after as many as can be today.
    AfterCapacity,
    /// Lame for weeks: no news, but still to be looked at.
    LongLame,
    /// Looked at, and nothing found: she rests until she gets worse.
    Looked,
    /// Booked for the trimmer.
    Booked,
    /// Treated or trimmed lately.
    UnderTreatment,
    /// Changed a little.
    Watch,
}

impl ListSection {
    /// Its name in tables.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ToCheck => "to_check",
            Self::AfterCapacity => "after_capacity",
            Self::LongLame => "long_lame",
            Self::Looked => "looked",
            Self::Booked => "booked",
            Self::UnderTreatment => "under_treatment",
            Self::Watch => "watch",
        }
    }
}

/// One cow of the list. Field names are those of the JSON output.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Listed {
    /// Which animal.
    pub animal_id: AnimalId,
    /// The farm day.
    pub date: Date,
    /// Where on the list.
    pub section: ListSection,
    /// Place in the order of `to_check` and `after_capacity`, from 1.
    pub rank: Option<usize>,
    /// The flag.
    pub flag: Flag,
    /// Probability that a trained observer would score her 2 or more.
    pub probability: Option<f64>,
    /// `LF`, `RF`, `LR`, `RR`, `both front` or `both rear`.
    pub leg: Option<&'static str>,
    /// Probability that `leg` is right, given that she is lame.
    pub leg_probability: Option<f64>,
    /// Likeliest first day.
    pub since: Option<Date>,
    /// Earliest first day.
    pub since_earliest: Option<Date>,
    /// Latest first day.
    pub since_latest: Option<Date>,
    /// Strongest first.
    #[serde(serialize_with = "codes")]
    pub reasons: Vec<FlagReason>,
    /// `high`, `fair` or `low`.
    pub confidence: Confidence,
    /// What would settle the answer.
    #[serde(serialize_with = "code")]
    pub advice: Option<Advice>,
    /// Trusted passages that day.
    pub passages: u32,
    /// A block is on.
    pub block_on: bool,
    /// Days since the last trim or treatment, in the unsettled time.
    pub days_since_trim: Option<u32>,
    /// Expected benefit of looking at her, in cures: what ranks the list.
    pub expected_benefit: f64,
    /// The last days of the leg, for a small picture.
    pub trend: Trend,
    /// The row itself, for the words.
    #[serde(skip)]
    pub row: CowDay,
}

/// Cows that could not be judged for the same reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotJudged {
    /// What would settle it.
    #[serde(serialize_with = "code")]
    pub advice: Option<Advice>,
    /// Which animals.
    pub animals: Vec<AnimalId>,
}

/// The morning list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Morning {
    /// The farm day; only what was known by its end is used.
    pub date: Date,
    /// How much was seen that day.
    pub seen: Seen,
    /// Cows judged.
    pub judged: usize,
    /// Cows that could not be judged, by what would settle it, most first.
    pub not_judged: Vec<NotJudged>,
    /// Cows that can be looked at in a day.
    pub capacity: usize,
    /// To check in order of rank, then under treatment, then watch.
    pub cows: Vec<Listed>,
    /// Withdrawals as entered that are not over: first on every sheet.
    pub withdrawals: Vec<Withdrawal>,
    /// What the animals are called: by id, her number and name.
    pub names: Names,
    /// Cows that are dry.
    pub dry: Vec<AnimalId>,
    /// Cows that are lent, or at another place.
    pub lent: Vec<AnimalId>,
    /// Words for cows that nobody knows, of whom something was said: each waits until she is named.
    pub unknown: Vec<String>,
    /// Rechecks due, longest due first.
    pub rechecks: Vec<Due>,
    /// Rechecks open for so long that they are only counted.
    pub rechecks_faded: usize,
    /// Cows not seen lately, most recent first.
    pub not_seen: Vec<NotSeen>,
    /// What is wrong with the lanes.
    pub lane: Vec<LaneNote>,
}

impl Morning {
    /// Makes the list.
    #[must_use]
    pub fn new(input: &MorningInput<'_>) -> Self {
        let date = input.date;
        let there = |row: &&CowDay| row.date == date && input.marks.there(&row.animal);
        let rows: Vec<&CowDay> = input.days.iter().filter(there).collect();
        let mut by_cow: HashMap<&AnimalId, Vec<&Passage>> = HashMap::new();
        let first = date.saturating_sub((TREND_DAYS as i64 - 1).days());
        for passage in input.passages.iter().filter(|p| p.date >= first && p.date <= date) {
            if let Some(animal) = &passage.animal {
                by_cow.entry(animal).or_default().push(passage);
            }
        }
        // Caution about a treated foot never hides a cow that is urgent in spite of it.
        let treated =
            |row: &CowDay| row.flag < Flag::Urgent && (row.block_on || row.days_since_trim.is_some());
        let chosen = |wanted: &dyn Fn(&CowDay) -> bool| {
            let mut chosen: Vec<&CowDay> = rows.iter().copied().filter(|row| wanted(row)).collect();
            rank::sort(&mut chosen);
            chosen
        };
        let rests = |row: &CowDay, mark| input.marks.rests(row).is_some_and(|resting| resting.mark == mark);
        let open = |row: &CowDay| !treated(row) && input.marks.rests(row).is_none();
        let check = |row: &CowDay| row.flag >= Flag::Check && open(row);
        let long = |row: &CowDay| row.flag == Flag::Check && rank::long_lame(row);
        let to_check = chosen(&|row| check(row) && !long(row));
        let long_lame = chosen(&|row| check(row) && long(row));
        let resting = [
            (
                ListSection::Looked,
                chosen(&|row| !treated(row) && row.flag >= Flag::Watch && rests(row, Mark::Looked)),
            ),
            (ListSection::Booked, chosen(&|row| !treated(row) && rests(row, Mark::Booked))),
        ];
        let under_treatment = chosen(&|row| treated(row));
        let watch = chosen(&|row| row.flag == Flag::Watch && open(row));

        let listed = |row: &CowDay, section, rank| {
            let passages = by_cow.get(&row.animal).map_or(&[][..], Vec::as_slice);
            let trend = row.place.map_or_else(Trend::default, |place| trend(passages, place, first, date));
            Listed::new(row, section, rank, trend)
        };
        let mut cows = Vec::with_capacity(to_check.len() + under_treatment.len() + watch.len());
        for (index, row) in to_check.iter().enumerate() {
            // Urgent cows are never put off: capacity bounds the others.
            let today = index < input.capacity || row.flag == Flag::Urgent;
            let section = if today { ListSection::ToCheck } else { ListSection::AfterCapacity };
            cows.push(listed(row, section, Some(index + 1)));
        }
        cows.extend(long_lame.iter().map(|row| listed(row, ListSection::LongLame, None)));
        for (section, rows) in &resting {
            cows.extend(rows.iter().map(|row| listed(row, *section, None)));
        }
        cows.extend(under_treatment.iter().map(|row| listed(row, ListSection::UnderTreatment, None)));
        cows.extend(watch.iter().map(|row| listed(row, ListSection::Watch, None)));

        let away = |mark| {
            let all = input.marks.away.iter().filter(move |(_, state)| **state == mark);
            all.map(|(animal, _)| animal.clone()).collect()
        };
        let seen = seen(input.passages, input.herd, input.marks, date);
        let mut lane = input.lane_remarks.to_vec();
        lane.extend(
            lane_remarks(input.passages, &seen, date)
                .into_iter()
                .map(|remark| LaneNote { lane: None, remark }),
        );
        let mut rechecks = input.rechecks.to_vec();
        rechecks.sort_by(|a, b| (a.due, &a.animal_id).cmp(&(b.due, &b.animal_id)));
        Self {
            date,
            judged: rows.iter().filter(|row| could_judge(row)).count(),
            not_judged: not_judged(&rows),
            capacity: input.capacity,
            cows,
            rechecks,
            rechecks_faded: input.rechecks_faded,
            withdrawals: input.withdrawals.to_vec(),
            names: input.names.clone(),
            dry: away(Mark::Dry),
            lent: away(Mark::Lent),
            unknown: input.unknown.to_vec(),
            not_seen: not_seen(input.last_seen, input.herd, input.marks, date),
            lane,
            seen,
        }
    }

    /// The cows of a section, in order.
    pub fn section(&self, section: ListSection) -> impl Iterator<Item = &Listed> + Clone {
        self.cows.iter().filter(move |cow| cow.section == section)
    }

    /// Cows with a row that could not be judged.
    #[must_use]
    pub fn not_judged_count(&self) -> usize {
        self.not_judged.iter().map(|group| group.animals.len()).sum()
    }
}

fn could_judge(row: &CowDay) -> bool {
    !matches!(row.flag, Flag::NoData | Flag::CannotTell)
}

fn not_judged(rows: &[&CowDay]) -> Vec<NotJudged> {
    let mut groups: BTreeMap<&Option<Advice>, Vec<AnimalId>> = BTreeMap::new();
    for row in rows.iter().filter(|row| !could_judge(row)) {
        groups.entry(&row.advice).or_default().push(row.animal.clone());
    }
    let mut groups: Vec<NotJudged> =
        groups.into_iter().map(|(advice, animals)| NotJudged { advice: advice.clone(), animals }).collect();
    groups.sort_by_key(|group| std::cmp::Reverse(group.animals.len()));
    groups
}

impl Listed {
    fn new(row: &CowDay, section: ListSection, rank: Option<usize>, trend: Trend) -> Self {
        Self {
            animal_id: row.animal.clone(),
            date: row.date,
            section,
            rank,
            flag: row.flag,
            probability: row.probability,
            leg: row.place.map(crate::record::Place::name),
            leg_probability: row.place_probability,
            since: row.since.map(|since| since.1),
            since_earliest: row.since.map(|since| since.0),
            since_latest: row.since.map(|since| since.2),
            reasons: row.reasons.clone(),
            confidence: row.confidence,
            advice: row.advice.clone(),
            passages: row.passages,
            block_on: row.block_on,
            days_since_trim: row.days_since_trim,
            expected_benefit: rank::benefit(row),
            trend,
            row: row.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::invented::{cow_day, morning_input};
    use jiff::civil::date;

    fn list(days: &[CowDay], capacity: usize) -> Morning {
        Morning::new(&MorningInput { days, capacity, ..morning_input(date(2026, 3, 20)) })
    }

    #[test]
    fn capacity_bounds_the_list_but_no_urgent_cow_waits() {
        let today = date(2026, 3, 20);
        let days: Vec<CowDay> = ["1", "2", "3", "4"]
            .into_iter()
            .zip([Flag::Check, Flag::Urgent, Flag::Urgent, Flag::Check])
            .map(|(id, flag)| cow_day(id, today, flag))
            .collect();
        let found = list(&days, 1);
        let ids = |section| found.section(section).map(|cow| cow.animal_id.0.as_str()).collect::<Vec<_>>();
        assert_eq!(ids(ListSection::ToCheck), ["2", "3"]);
        assert_eq!(ids(ListSection::AfterCapacity), ["1", "4"]);
        assert_eq!(found.cows[3].rank, Some(4));
    }

    #[test]
    fn treated_cows_stand_apart_unless_they_are_urgent() {
        let today = date(2026, 3, 20);
        let mut blocked = cow_day("1", today, Flag::Watch);
        blocked.block_on = true;
        let mut trimmed = cow_day("2", today, Flag::CannotTell);
        trimmed.days_since_trim = Some(3);
        let mut urgent = cow_day("3", today, Flag::Urgent);
        urgent.block_on = true;
        let found = list(&[blocked, trimmed, urgent], 6);
        let ids = |section| found.section(section).map(|cow| cow.animal_id.0.as_str()).collect::<Vec<_>>();
        assert_eq!(ids(ListSection::ToCheck), ["3"]);
        assert_eq!(ids(ListSection::UnderTreatment), ["1", "2"]);
    }

    #[test]
    fn judged_and_not_judged_are_counted() {
        let today = date(2026, 3, 20);
        let mut thin = cow_day("2", today, Flag::CannotTell);
        thin.advice = Some(Advice::MorePassages { passages: 2 });
        let days = [
            cow_day("1", today, Flag::Clear),
            thin,
            cow_day("3", today, Flag::NoData),
            cow_day("4", date(2026, 3, 19), Flag::Urgent),
        ];
        let found = list(&days, 6);
        assert_eq!((found.judged, found.not_judged_count()), (1, 2));
        assert_eq!(found.cows, []);
    }

    #[test]
    fn json_has_the_fields_that_others_read() {
        let found = list(&[cow_day("1", date(2026, 3, 20), Flag::Check)], 6);
        let json = serde_json::to_value(&found).unwrap();
        for field in
            ["animal_id", "date", "flag", "probability", "leg", "leg_probability", "since", "reasons"]
        {
            assert!(json["cows"][0].get(field).is_some(), "{field}");
        }
        assert_eq!(json["cows"][0]["flag"], "check");
        assert_eq!(json["cows"][0]["animal_id"], "1");
    }
}
