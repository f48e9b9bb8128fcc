//! The run over all days: one pass forward, so that no day can know what came later.

use crate::arithmetic::dates::{date_of_number, day_number};
use crate::record::{AnimalId, FootWork, HerdEntry, LaneCause, MobilityScore, ObserverPrior, Passage};
use crate::score::ScoreRun;
use crate::score::course::herd::Herd;
use crate::score::course::steps::FarmDayBegun;
use crate::score::course::track::Track;
use crate::score::evidence::index::{FarmDay, IndexedPassage, Numbered, by_day, measured};
use crate::score::evidence::lane::LaneShift;
use crate::score::evidence::plates::Plates;
use crate::score::model::features::Measured;
use crate::score::model::hypotheses::Hypotheses;
use crate::score::settings::ScoreSettings;
use jiff::civil::Date;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};

/// All that a run carries from one day to the next: going on from here gives what going on from the first day gives.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct RunState {
    pub(super) first: i64,
    last: i64,
    pub(super) herd: Herd,
    pub(super) tracks: Vec<Track>,
    pub(super) lane_names: Vec<String>,
    pub(super) lane_seen: Vec<u32>,
}

impl RunState {
    /// The last day that has been scored, by number.
    #[must_use]
    pub const fn last(&self) -> i64 {
        self.last
    }

    fn new(first: i64, prior: ObserverPrior) -> Self {
        Self {
            first,
            last: first - 1,
            herd: Herd::new(prior),
            tracks: Vec::new(),
            lane_names: Vec::new(),
            lane_seen: Vec::new(),
        }
    }
}

/// What a run is made from.
#[derive(Clone, Copy, Debug)]
pub struct Inputs<'a> {
    /// The passages; when going on, those after the days that have been scored.
    pub passages: &'a [Passage],
    /// The whole herd register.
    pub herd: &'a [HerdEntry],
    /// The mobility scores; when going on, earlier ones are left alone.
    pub scores: &'a [MobilityScore],
    /// All the foot work.
    pub work: &'a [FootWork],
}

/// Scores every day from the first, or from the day after `start` on. `keep` sees the state after each day.
#[must_use]
pub fn run(
    start: Option<RunState>,
    inputs: &Inputs<'_>,
    settings: &ScoreSettings,
    mut keep: impl FnMut(&RunState),
) -> ScoreRun {
    let until = settings.until.map(day_number);
    let days = by_day(inputs.passages, until);
    let mut result = ScoreRun::default();
    let first_day = days.first().map(|day| day.0);
    let Some(mut state) = start.or_else(|| first_day.map(|day| RunState::new(day, settings.observer))) else {
        return result;
    };
    let last = until.or_else(|| days.last().map(|day| day.0)).unwrap_or(state.last);
    let hypotheses = Hypotheses::new();
    let mut cows = Numbered::new(state.tracks.iter().map(|track| track.animal().clone()));
    let mut lanes = Numbered::new(state.lane_names.iter().cloned());
    state.tracks.iter_mut().for_each(Track::forget_records);
    for entry in inputs.herd {
        let (cow, new) = cows.number(&entry.animal);
        if new {
            state.tracks.push(Track::new(entry.animal.clone()));
        }
        state.tracks[cow].register(entry);
    }
    let mut works: HashMap<&AnimalId, Vec<&FootWork>> = HashMap::new();
    for work in inputs.work {
        works.entry(&work.animal).or_default().push(work);
    }
    let add_works = |track: &mut Track| {
        works.get(track.animal()).into_iter().flatten().for_each(|work| track.add_work(work));
    };
    state.tracks.iter_mut().for_each(add_works);
    let mut scored: BTreeMap<i64, Vec<&MobilityScore>> = BTreeMap::new();
    for score in inputs.scores {
        scored.entry(day_number(score.date)).or_default().push(score);
    }
    let lifted = lifted(inputs.work);
    let mut by_cow: Vec<Vec<IndexedPassage>> = Vec::new();
    let mut coming = days.into_iter().peekable();
    while state.last < last {
        let day = state.last + 1;
        let date = date_of_number(day);
        let today = coming.next_if(|next| next.0 <= day).map(|next| next.1).unwrap_or_default();
        let farm_day = FarmDay::new(date, &settings.zone);
        by_cow.iter_mut().for_each(Vec::clear);
        for (passage, measured) in today.iter().zip(measured(&today)) {
            let (lane, new) = lanes.number(&passage.lane);
            if new {
                state.herd.lanes.push(LaneShift::new(lane == 0));
                state.herd.plates.push(Plates::default());
                state.lane_names.push(passage.lane.clone());
                state.lane_seen.push(0);
            }
            let Some(animal) = &passage.animal else { continue };
            let (cow, new) = cows.number(animal);
            if new {
                let mut track = Track::new(animal.clone());
                add_works(&mut track);
                state.tracks.push(track);
            }
            if let Some(measured) = measured {
                by_cow.resize(state.tracks.len(), Vec::new());
                by_cow[cow].push(IndexedPassage { lane, hour: farm_day.hour(passage), measured });
            }
        }
        by_cow.resize(state.tracks.len(), Vec::new());
        state.take_back(&mut by_cow, date, settings.plates_settled, &mut result);
        let rows = FarmDayBegun::new(&mut state, &by_cow, &hypotheses, day, settings)
            .pass_night()
            .know_newcomers()
            .learn_lanes(&mut result.lanes)
            .judge()
            .learn();
        result.days.extend(rows);
        for score in scored.get(&day).into_iter().flatten() {
            let Some(cow) = cows.get(&score.animal) else { continue };
            if let Some(p) = state.tracks[cow].answered(day) {
                state.herd.price.answer(p, score.score < 2);
            }
            if let Some(levels) = state.tracks[cow].levels() {
                state.herd.learner.see(&levels, score.score >= 2);
            }
        }
        if scored.contains_key(&day) {
            state.herd.learner.refit();
        }
        for (&animal, &lesion) in lifted.get(&day).into_iter().flatten() {
            let Some(cow) = cows.get(animal) else { continue };
            if let Some(p) = state.tracks[cow].answered(day) {
                state.herd.price.answer(p, !lesion);
            }
            if let Some(levels) = state.tracks[cow].levels_before(day) {
                state.herd.learner.see_feet(&levels, lesion);
            }
        }
        state.last = day;
        keep(&state);
    }
    result.link = state.herd.learner.farm();
    result.observers = state.herd.learner.evidence(settings.observer);
    result.scores_used = state.herd.learner.scores();
    result.feet_used = state.herd.learner.feet();
    if settings.history {
        result.history = state.tracks.par_iter().flat_map_iter(|t| t.history(&hypotheses)).collect();
    }
    result
}

/// The cows whose feet were lifted on each day, and whether a lesion was found in any of them, as first recorded.
fn lifted(work: &[FootWork]) -> BTreeMap<i64, BTreeMap<&AnimalId, bool>> {
    let mut days: BTreeMap<i64, BTreeMap<&AnimalId, bool>> = BTreeMap::new();
    for work in work.iter().filter(|work| work.known.from <= work.date) {
        *days.entry(day_number(work.date)).or_default().entry(&work.animal).or_default() |= work.lesion;
    }
    days
}

impl RunState {
    /// What a lane with a gross fault measured is not trusted, and told of.
    fn take_back(
        &mut self,
        by_cow: &mut [Vec<IndexedPassage>],
        date: Date,
        settled: Option<Date>,
        result: &mut ScoreRun,
    ) {
        for lane in 0..self.herd.lanes.len() {
            let plates = &mut self.herd.plates[lane];
            if settled == Some(date) {
                plates.forget();
            }
            let here = |ready: &&IndexedPassage| ready.lane == lane;
            let of =
                |today: &Vec<IndexedPassage>| today.iter().filter(here).map(|ready| ready.measured).collect();
            let measured: Vec<Vec<Measured>> = by_cow.iter().map(of).collect();
            let Some(fault) = plates.day(&measured, settled.is_some_and(|day| day <= date)) else { continue };
            let cows = measured.iter().filter(|passages| !passages.is_empty()).count() as u32;
            let mut day = self.herd.lanes[lane].day(&self.lane_names[lane], date, cows, None);
            (day.cause, day.plate, day.plate_error_pct) = (LaneCause::Plate, None, None);
            day.remark = Some(fault);
            result.lanes.push(day);
            by_cow.iter_mut().for_each(|today| today.retain(|ready| ready.lane != lane));
        }
    }
}
