//! The run over all days: one pass forward, so that no day can know what came later.

use crate::arithmetic::dates::{date_of_number, day_number};
use crate::record::{AnimalId, FootWork, HerdEntry, LaneCause, MobilityScore, Passage};
use crate::score::ScoreRun;
use crate::score::course::herd::{Herd, first_prior, herd_events};
use crate::score::course::track::{Context, DayFigures, Track};
use crate::score::evidence::index::{FarmDay, HOURS, IndexedPassage, Numbered, by_day, measured};
use crate::score::evidence::lane::{LaneShift, WEIGHT, Witness};
use crate::score::evidence::plates::Plates;
use crate::score::model::cow::DayMeasure;
use crate::score::model::features::{MEASURES, Measured, PerMeasure};
use crate::score::model::hypotheses::Hypotheses;
use crate::score::settings::ScoreSettings;
use jiff::civil::Date;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};

/// All that a run carries from one day to the next: going on from here gives what going on from the first day gives.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct RunState {
    first: i64,
    last: i64,
    herd: Herd,
    tracks: Vec<Track>,
    lane_names: Vec<String>,
    lane_seen: Vec<u32>,
}

impl RunState {
    /// The last day that has been scored, by number.
    #[must_use]
    pub const fn last(&self) -> i64 {
        self.last
    }

    fn new(first: i64) -> Self {
        Self {
            first,
            last: first - 1,
            herd: Herd::new(),
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
    let Some(mut state) = start.or_else(|| first_day.map(RunState::new)) else { return result };
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
        state.one_day(&by_cow, &hypotheses, day, settings, &mut result);
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

    fn one_day(
        &mut self,
        by_cow: &[Vec<IndexedPassage>],
        hypotheses: &Hypotheses,
        day: i64,
        settings: &ScoreSettings,
        result: &mut ScoreRun,
    ) {
        let date = date_of_number(day);
        let Self { herd, tracks, .. } = self;
        let hour_shift: Vec<_> = (0..HOURS).map(|h| herd.hour_shift(h)).collect();
        let without_hour = |ready: &IndexedPassage| {
            let mut measured = ready.measured;
            let shift = &hour_shift[ready.hour];
            (0..MEASURES).for_each(|k| measured.value[k] -= shift[k]);
            measured.weight -= shift[WEIGHT];
            measured
        };
        tracks.par_iter_mut().for_each(|t| t.begin(day, hypotheses, &herd.noise));
        if !herd.prior_known {
            first_prior(herd, tracks, by_cow, day, &without_hour);
        }
        let rates = herd.new_rates();
        for (track, today) in tracks.iter_mut().zip(by_cow) {
            if !today.is_empty() {
                track.create(hypotheses, &herd.prior, rates, day);
            }
        }
        self.learn_lanes(by_cow, hypotheses, date, &without_hour, result);
        let Self { herd, tracks, .. } = self;
        let counted = herd_events(herd, tracks, by_cow);
        let shifts: Vec<PerMeasure> = herd.lanes.iter().map(LaneShift::shift).collect();
        let context = Context {
            day,
            date,
            hypotheses,
            noise: &herd.noise,
            learner: &herd.learner,
            counted,
            limits: herd.price.limits(settings.needless_looks),
            no_data_days: settings.unseen_days,
            history: settings.history,
        };
        let lanes = &herd.lanes;
        let done: Vec<Option<DayFigures>> = tracks
            .par_iter_mut()
            .zip(by_cow)
            .map(|(track, today)| {
                let corrected: Vec<(Measured, usize)> = today
                    .iter()
                    .map(|ready| {
                        let mut measured = without_hour(ready);
                        (0..MEASURES).for_each(|k| {
                            measured.value[k] -= shifts[ready.lane][k];
                            measured.stated[k] += lanes[ready.lane].variance(k);
                        });
                        measured.weight -= lanes[ready.lane].weight_shift();
                        (measured, ready.hour)
                    })
                    .collect();
                track.day(&corrected, &context)
            })
            .collect();
        herd.learn(&done, day - self.first, tracks);
        herd.price.learn(done.iter().flatten().filter_map(|done| done.rises));
        let mut rows: Vec<_> = done.into_iter().flatten().map(|d| d.row).collect();
        crate::score::course::swapped::name_swaps(tracks, &mut rows, herd.noise.weight());
        result.days.append(&mut rows);
    }

    fn learn_lanes(
        &mut self,
        by_cow: &[Vec<IndexedPassage>],
        hypotheses: &Hypotheses,
        date: Date,
        without_hour: &(impl Fn(&IndexedPassage) -> Measured + Sync),
        result: &mut ScoreRun,
    ) {
        let Self { herd, tracks, lane_names, lane_seen, .. } = self;
        let noise = &herd.noise;
        let seen: Vec<Vec<(usize, Witness, DayMeasure)>> = (0..herd.lanes.len())
            .map(|lane| {
                tracks
                    .par_iter()
                    .zip(by_cow)
                    .enumerate()
                    .filter_map(|(cow, (track, today))| {
                        let here: Vec<Measured> =
                            today.iter().filter(|r| r.lane == lane).map(without_hour).collect();
                        let seen =
                            (!here.is_empty()).then(|| track.witness(&here, hypotheses, noise)).flatten();
                        seen.map(|(witness, day)| (cow, witness, day))
                    })
                    .collect()
            })
            .collect();
        let witnesses: Vec<Vec<Witness>> =
            seen.iter().map(|lane| lane.iter().map(|(_, witness, _)| *witness).collect()).collect();
        let mut said = Vec::new();
        for (lane, witnesses) in witnesses.iter().enumerate() {
            // Before its first day a lane does not exist, and that day is its zero where it is the only one.
            if (lane_seen[lane] > 0 || lane > 0) && !witnesses.is_empty() {
                herd.lanes[lane].learn(witnesses, 1);
            }
            if !witnesses.is_empty() {
                lane_seen[lane] += 1;
                said.push((lane, witnesses.len() as u32));
            }
        }
        hold_to_usual(herd, tracks, seen);
        for &(lane, cows) in &said {
            let others: Vec<usize> = said.iter().map(|s| s.0).filter(|&l| l != lane).collect();
            let agree =
                (!others.is_empty()).then(|| others.iter().all(|&o| herd.lanes[lane].agrees(&herd.lanes[o])));
            result.lanes.push(herd.lanes[lane].day(&lane_names[lane], date, cows, agree));
        }
    }
}

/// Splits what lanes and cows share by what each cow usually carries.
fn hold_to_usual(herd: &mut Herd, tracks: &mut [Track], mut seen: Vec<Vec<(usize, Witness, DayMeasure)>>) {
    let Some(first) = herd.lanes.first().map(LaneShift::shift) else { return };
    for (lane, days) in herd.lanes.iter().zip(&mut seen) {
        let shift = lane.shift();
        for (_, _, day) in days {
            (0..MEASURES).for_each(|k| day.value[k] -= shift[k] - first[k]);
        }
    }
    let days = || seen.iter().flatten().map(|(cow, _, day)| (*cow, day));
    let witnesses: Vec<Witness> = days().filter_map(|(cow, day)| tracks[cow].off_usual(day)).collect();
    herd.anchor.learn(&witnesses);
    let shift = herd.anchor.shift();
    if let Some(shift) = shift {
        let part: PerMeasure = std::array::from_fn(|k| first[k] - shift[k]);
        herd.lanes.iter_mut().for_each(|lane| lane.give_back(&part));
        herd.prior.take(&part);
        tracks.par_iter_mut().for_each(|track| track.take(&part));
    }
    let shift = shift.unwrap_or([0.0; MEASURES]);
    for (cow, day) in seen.iter().flatten().map(|(cow, _, day)| (*cow, day)) {
        tracks[cow].learn_usual(day, &shift);
    }
}
