//! Everything a page or a list is made from, loaded once from the store.

use super::card::{Card, CardInput};
use super::morning::{Due, Morning, MorningInput};
use crate::case::{self, record::KeptCase};
use crate::herd::{AnimalId, CowDay, FootWork, HerdEntry, MobilityScore, Passage};
use crate::score::{self, LaneDay, ScoreSettings};
use crate::store::{PassageFilter, Store};
use anyhow::Context;
use jiff::{ToSpan, civil::Date};

/// Days of a card where no others are asked for: our choice.
pub const CARD_DAYS: i64 = 28;

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
    pub(crate) cases: Vec<KeptCase>,
    pub(crate) recheck_days: i32,
}

impl Farm {
    /// A farm of which nothing is known.
    #[cfg(test)]
    pub(crate) const fn empty(date: Date) -> Self {
        Self {
            name: String::new(),
            capacity: 6,
            date,
            passages: Vec::new(),
            herd: Vec::new(),
            scores: Vec::new(),
            work: Vec::new(),
            days: Vec::new(),
            lanes: Vec::new(),
            cases: Vec::new(),
            recheck_days: 35,
        }
    }

    /// Loads what was known by the end of `date`, or of the last day with a passage; `None` for a store without
    /// passages up to then.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn load(store: &Store, date: Option<Date>) -> anyhow::Result<Option<Self>> {
        let filter = PassageFilter { to: date, ..PassageFilter::default() };
        let passages = store.passages(&filter)?;
        let Some(last) = passages.iter().map(|passage| passage.date).max() else { return Ok(None) };
        let date = date.unwrap_or(last);
        let herd = store.herd()?;
        let mut scores = store.mobility_scores()?;
        scores.retain(|score| score.date <= date);
        let mut work = store.foot_work()?;
        work.retain(|work| work.date <= date);
        for work in &mut work {
            // That a block will come off is not known before it is off.
            work.block_off = work.block_off.filter(|off| *off <= date);
        }
        let run = score::run_on(
            &passages,
            &herd,
            &scores,
            &work,
            &ScoreSettings { until: Some(date), ..ScoreSettings::default() },
        );
        Ok(Some(Self {
            name: store.setting("name")?.unwrap_or_default(),
            capacity: whole(store, "capacity_a_day")?,
            date,
            passages,
            herd,
            scores,
            work,
            days: run.days,
            lanes: run.lanes,
            cases: store.cases(None)?,
            recheck_days: i32::try_from(whole(store, "recheck_days")?)?,
        }))
    }

    /// The morning list of the last day; `most` in place of the farm's capacity.
    #[must_use]
    pub fn morning(&self, most: Option<usize>) -> Morning {
        let lane_notes: Vec<String> = self
            .lanes
            .iter()
            .filter(|lane| lane.date == self.date && !lane.words.is_empty())
            .map(|lane| format!("{}: {}", lane.lane, lane.words))
            .collect();
        Morning::new(&MorningInput {
            date: self.date,
            days: &self.days,
            passages: &self.passages,
            herd: &self.herd,
            rechecks: &self.due(),
            lane_notes: &lane_notes,
            capacity: most.unwrap_or(self.capacity),
        })
    }

    /// Rechecks due by the last day.
    #[must_use]
    pub fn due(&self) -> Vec<Due> {
        self.cases
            .iter()
            .filter(|kept| kept.case.date <= self.date)
            .flat_map(|kept| {
                let mut known = kept.clone();
                known.follow_ups.retain(|look| look.date <= self.date);
                case::recheck::plan(&known, self.date, self.recheck_days, None)
            })
            .filter(|recheck| recheck.date <= self.date)
            .map(|recheck| Due {
                animal_id: AnimalId(recheck.animal_id),
                due: recheck.date,
                what: [recheck.leg, &recheck.look_for]
                    .into_iter()
                    .filter(|part| !part.is_empty())
                    .collect::<Vec<_>>()
                    .join(": "),
            })
            .collect()
    }

    /// One cow's card; `None` for an animal of which nothing is known.
    #[must_use]
    pub fn card(&self, animal: &AnimalId, from: Option<Date>) -> Option<Card> {
        Card::new(&CardInput {
            animal,
            from: self.card_from(from),
            to: self.date,
            days: &self.days,
            passages: &self.passages,
            herd: &self.herd,
            scores: &self.scores,
            work: &self.work,
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
