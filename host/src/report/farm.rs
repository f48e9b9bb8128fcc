//! Everything a page or a list is made from, loaded once from the store.

use crate::case::rechecks::recheck::Recheck;
use crate::record::LaneDay;
use crate::record::case::withdrawal::{self, Withdrawal};
use crate::record::names::Directory;
use crate::record::{AnimalId, CowDay, FootWork, HerdEntry, MobilityScore, Passage, known_at_last, known_by};
use crate::report::cow::card::{Card, CardInput};
use crate::report::list::marks::Marks;
use crate::report::list::morning::{Due, LaneNote, Morning, MorningInput};
use crate::score::kept;
use crate::store::{KeptRows, PassageFilter, ReaderOffset, Store, StoreError};
use anyhow::Context;
use jiff::{Timestamp, ToSpan, civil::Date};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// Days of a card where no others are asked for: our choice.
pub const CARD_DAYS: i64 = 28;

/// Days of passages behind a list: more than its trends and its usual numbers look back. Our choice.
const LIST_DAYS: i64 = 30;

/// Days behind the page of the herd: the year that its months are of.
pub const HERD_DAYS: i64 = 365;

/// What the readers' clocks were off on a local day.
///
/// # Errors
/// When the store cannot be read.
pub fn readers(store: &Store, day: Date) -> anyhow::Result<BTreeMap<String, ReaderOffset>> {
    let zone = store.time_zone()?;
    let begin = |date: Date| Ok::<_, jiff::Error>(date.to_zoned_datetime(zone.clone())?.timestamp());
    Ok(store.reader_offsets(begin(day)?, begin(day.tomorrow()?)?)?)
}

/// What is wanted of a farm.
#[derive(Clone, Copy, Debug)]
pub enum Part<'a> {
    /// All of it.
    Whole,
    /// The list of the last day.
    List,
    /// One cow's card.
    Cow(&'a AnimalId),
    /// The day table of the last [`HERD_DAYS`], without passages.
    Days,
}

/// A farm as known by the end of a day.
#[derive(Debug)]
pub struct Farm {
    /// The farm's name, as set; may be empty.
    pub name: String,
    /// Cows that can be looked at in a day.
    pub capacity: usize,
    /// The last day; nothing later is in here.
    pub date: Date,
    /// The passages.
    pub passages: Vec<Passage>,
    /// The last day that each animal was seen.
    pub last_seen: Vec<(AnimalId, Date)>,
    /// The herd register.
    pub herd: Vec<HerdEntry>,
    /// Observers' scores.
    pub scores: Vec<MobilityScore>,
    /// Trims and treatments.
    pub work: Vec<FootWork>,
    /// The day table.
    pub days: Vec<CowDay>,
    /// The lanes' own errors.
    pub lanes: Vec<LaneDay>,
    /// What is to be done about treated feet, as seen on the last day.
    pub rechecks: Vec<Recheck>,
    /// Withdrawals that are not over on the last day.
    pub withdrawals: Vec<Withdrawal>,
    /// Every animal, and the words for them.
    pub directory: Directory,
    /// The marks on the cows.
    pub marks: Marks,
    /// Words for cows that nobody knows, of whom something was said.
    pub unknown: Vec<String>,
    /// Tag readers whose clocks were off on the last day, by lane.
    pub readers: BTreeMap<String, ReaderOffset>,
    /// Days since the store was last backed up; `None`: never.
    pub backup_days: Option<i64>,
}

impl Farm {
    /// A farm of which nothing is known.
    #[cfg(test)]
    pub(crate) fn empty(date: Date) -> Self {
        Self {
            name: String::new(),
            capacity: 6,
            date,
            passages: Vec::new(),
            last_seen: Vec::new(),
            herd: Vec::new(),
            scores: Vec::new(),
            work: Vec::new(),
            days: Vec::new(),
            lanes: Vec::new(),
            rechecks: Vec::new(),
            withdrawals: Vec::new(),
            directory: Directory::default(),
            marks: Marks::default(),
            unknown: Vec::new(),
            readers: BTreeMap::new(),
            backup_days: Some(0),
        }
    }

    /// Loads what was known by the end of `date`, or of the last day with a passage; `None` for a store without
    /// passages up to then.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn load(store: &Store, date: Option<Date>) -> anyhow::Result<Option<Self>> {
        Self::load_part(store, date, Part::Whole)
    }

    /// Loads only what `part` needs.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn load_part(store: &Store, date: Option<Date>, part: Part<'_>) -> anyhow::Result<Option<Self>> {
        let which = |last: Date| match part {
            Part::Whole => KeptRows::All,
            Part::Days => KeptRows::Since(last.saturating_sub(HERD_DAYS.days())),
            Part::List => KeptRows::Day(last),
            Part::Cow(animal) => KeptRows::Of(animal),
        };
        let Some((last, rows)) = kept::rows(store, date, which)? else { return Ok(None) };
        let to = Some(last);
        let passages = match part {
            Part::Whole => store.passages(&PassageFilter { to, ..PassageFilter::default() })?,
            Part::List => {
                let from = Some(last.saturating_sub(LIST_DAYS.days()));
                store.passages(&PassageFilter { from, to, animal: None })?
            }
            Part::Cow(animal) => {
                store.passages(&PassageFilter { animal: Some(animal.clone()), to, from: None })?
            }
            Part::Days => Vec::new(),
        };
        let mut scores = store.mobility_scores()?;
        scores.retain(|score| score.date <= last);
        let mut work = store.foot_work()?;
        match date {
            Some(date) => known_by(&mut work, date),
            None => known_at_last(&mut work, last),
        }
        work.retain(|work| work.known.on(last));
        let cases = match (part, date) {
            (Part::Days, _) => Vec::new(),
            (Part::Cow(animal), _) => store.cases(Some(animal))?,
            (_, Some(date)) => store.cases_known_on(date)?,
            (_, None) => store.cases(None)?,
        };
        let withdrawals = withdrawal::open(&cases, last);
        let rechecks = if matches!(part, Part::Cow(_)) { Vec::new() } else { store.rechecks(cases, last)? };
        let last_seen = store.last_seen(last)?;
        let past = RefCell::new(None::<Vec<CowDay>>);
        let row = |animal: &AnimalId, day: Date| {
            let hers = |row: &&CowDay| row.animal == *animal && row.date == day;
            if !matches!(part, Part::List) {
                return Ok::<_, StoreError>(rows.days.iter().find(hers).cloned());
            }
            // Kept rows are at hand; those of a past day as known then may have to be scored anew, and are asked for
            // once.
            if date.is_some() {
                let mut past = past.borrow_mut();
                if past.is_none() {
                    *past = kept::rows(store, date, |_| KeptRows::All)?.map(|(_, rows)| rows.days);
                }
                return Ok(past.iter().flatten().find(hers).cloned());
            }
            let days = kept::rows(store, None, |_| KeptRows::Of(animal))?.map(|(_, rows)| rows.days);
            Ok(days.unwrap_or_default().iter().find(hers).cloned())
        };
        let marks = Marks::on(last, &store.marks(last)?, &last_seen, &work, row)?;
        Ok(Some(Self {
            name: store.setting("name")?.unwrap_or_default(),
            capacity: whole(store, "capacity_a_day")?,
            date: last,
            passages,
            last_seen,
            directory: store.directory()?,
            marks,
            unknown: if matches!(part, Part::Cow(_)) { Vec::new() } else { store.waiting_for_a_name()? },
            herd: store.herd()?,
            scores,
            work,
            days: rows.days,
            lanes: rows.lanes,
            rechecks,
            withdrawals,
            readers: readers(store, last)?,
            backup_days: store.last_backup()?.map(|at| Timestamp::now().duration_since(at).as_hours() / 24),
        }))
    }

    /// The morning list of the last day; `most` in place of the farm's capacity.
    #[must_use]
    pub fn morning(&self, most: Option<usize>) -> Morning {
        let readers = self
            .readers
            .iter()
            .map(|(lane, offset)| LaneNote { lane: Some(lane.clone()), remark: offset.remark() });
        let lane_remarks: Vec<LaneNote> = self
            .lanes
            .iter()
            .filter(|lane| lane.date == self.date)
            .filter_map(|lane| Some(LaneNote { lane: Some(lane.lane.clone()), remark: lane.remark.clone()? }))
            .chain(readers)
            .collect();
        Morning::new(&MorningInput {
            date: self.date,
            days: &self.days,
            passages: &self.passages,
            last_seen: &self.last_seen,
            herd: &self.herd,
            names: &self.directory.names,
            marks: &self.marks,
            unknown: &self.unknown,
            rechecks: &self.due(),
            rechecks_faded: self.rechecks.iter().filter(|recheck| recheck.faded(self.date)).count(),
            withdrawals: &self.withdrawals,
            lane_remarks: &lane_remarks,
            capacity: most.unwrap_or(self.capacity),
        })
    }

    /// Rechecks due by the last day, without those that have faded.
    #[must_use]
    pub fn due(&self) -> Vec<Due> {
        self.rechecks
            .iter()
            .filter(|recheck| recheck.date <= self.date && !recheck.faded(self.date))
            .filter(|recheck| !self.marks.gone(&AnimalId(recheck.animal_id.clone())))
            .map(|recheck| Due {
                animal_id: AnimalId(recheck.animal_id.clone()),
                due: recheck.date,
                leg: recheck.leg,
                look_for: recheck.look_for.clone(),
                sooner: (recheck.planned.is_some() || recheck.reason.by_a_look())
                    .then(|| recheck.reason.clone()),
            })
            .collect()
    }

    /// One cow's card; `None` for an animal of which nothing is known.
    #[must_use]
    pub fn card(&self, animal: &AnimalId, from: Option<Date>) -> Option<Card> {
        Card::new(&CardInput {
            animal,
            called: self.directory.names.of(animal),
            from: self.card_from(from),
            to: self.date,
            days: &self.days,
            passages: &self.passages,
            herd: &self.herd,
            scores: &self.scores,
            work: &self.work,
            withdrawals: &self.withdrawals,
            told: &self.marks.told,
        })
    }

    /// The first day of a card.
    #[must_use]
    pub fn card_from(&self, from: Option<Date>) -> Date {
        from.unwrap_or_else(|| self.date.saturating_sub((CARD_DAYS - 1).days())).min(self.date)
    }
}

fn whole(store: &Store, key: &str) -> anyhow::Result<usize> {
    let value = store.setting(key)?.unwrap_or_default();
    value.parse().with_context(|| format!("the setting {key} is no whole number: {value:?}"))
}
