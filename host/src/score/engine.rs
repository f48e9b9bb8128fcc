//! The run over all days: one pass forward, so that no day can know what came later.

use super::features::{CLASSES, MEASURES, Measured, PerMeasure, measure};
use super::hypotheses::Hypotheses;
use super::lane::{Lane, LaneDay, WEIGHT, Witness};
use super::link::Learner;
use super::noise::Noise;
use super::prior::Prior;
use super::rates::{HerdRate, Rate};
use super::settings::ScoreSettings;
use super::track::{Context, Done, Track};
use super::{ScoreRun, day_number};
use crate::herd::{AnimalId, FootWork, HerdEntry, MobilityScore, Passage};
use jiff::{ToSpan, civil::Date};
use rayon::prelude::*;
use std::collections::{BTreeMap, HashMap};

/// Hour bins of a day: a cow before milking stands otherwise than after (the milk is carried behind, Chapinal 2009).
pub const HOURS: usize = 6;
/// How many passages make an hour's own middle count as much as none. Our choice.
const HOUR_WORTH: f64 = 60.0;
/// Passages over which it is remembered.
const HOUR_MEMORY: f64 = 3_000.0;
/// First guess of a cow's events a minute: rear steps of sound cows, 1.0 (Chapinal & Tucker 2012), for the shifts of each
/// pair; lifts of one leg, our choice.
const FIRST_RATES: [f64; 6] = [1.0, 1.0, 0.2, 0.2, 0.2, 0.2];
/// Days of the run during which the herd's middle is learned daily, then weekly.
const YOUNG_RUN: i64 = 30;
/// Events that make a herd's day count as much as an ordinary one.
const EVENTS_WORTH: f64 = 20.0;

/// One passage ready to be scored.
#[derive(Clone, Copy, Debug)]
pub struct Ready {
    /// Which lane.
    pub lane: usize,
    /// Hour bin.
    pub hour: usize,
    /// The measures, lane and hour not taken out.
    pub measured: Measured,
}

/// The middle of what passages of an hour differ by.
#[derive(Clone, Copy, Debug)]
struct Hour {
    mean: [f64; MEASURES + 1],
    seen: [f64; MEASURES + 1],
}

struct Herd {
    noise: Noise,
    prior: Prior,
    prior_known: bool,
    rates: [HerdRate; 6],
    hours: [Hour; HOURS],
    lanes: Vec<Lane>,
    learner: Learner,
}

impl Herd {
    fn hour_shift(&self, hour: usize) -> [f64; MEASURES + 1] {
        std::array::from_fn(|k| {
            let hours = &self.hours[hour];
            hours.mean[k] * hours.seen[k] / (hours.seen[k] + HOUR_WORTH)
        })
    }

    fn new_rates(&self) -> [Rate; 6] {
        self.rates.map(|r| Rate::new(r.per_minute()))
    }

    fn learn(&mut self, done: &[Option<Done>], day_of_run: i64, tracks: &[Track], day: i64) {
        for done in done.iter().flatten() {
            for lesson in &done.lessons {
                self.noise.learn(lesson);
                let hour = &mut self.hours[lesson.hour];
                for k in 0..=MEASURES {
                    let (residual, variance) = if k < MEASURES {
                        (lesson.residual[k], self.noise.variance(lesson.class, k) + lesson.known[k])
                    } else {
                        (lesson.weight, self.noise.weight())
                    };
                    if residual.is_nan() {
                        continue;
                    }
                    let limit = 3.0 * variance.sqrt();
                    hour.seen[k] = (hour.seen[k] + 1.0).min(HOUR_MEMORY);
                    hour.mean[k] += residual.clamp(-limit, limit) / hour.seen[k];
                }
            }
            for (one, other) in &done.pairs {
                self.noise.learn_common(one, other);
            }
            if let Some((difference, variance)) = &done.drift {
                self.noise.learn_drift(difference, variance);
            }
        }
        self.centre_hours();
        if day_of_run < YOUNG_RUN || day_of_run % 7 == 0 {
            let known: Vec<_> = tracks.iter().filter_map(|t| t.known_baseline(day)).collect();
            if known.len() >= 3 {
                self.prior.learn(&known);
            }
        }
    }

    /// Hours only tell passages of one day apart: their common middle belongs to the cows.
    fn centre_hours(&mut self) {
        for k in 0..=MEASURES {
            let seen: f64 = self.hours.iter().map(|h| h.seen[k]).sum();
            if seen > 0.0 {
                let middle = self.hours.iter().map(|h| h.seen[k] * h.mean[k]).sum::<f64>() / seen;
                self.hours.iter_mut().filter(|h| h.seen[k] > 0.0).for_each(|h| h.mean[k] -= middle);
            }
        }
    }
}

/// Cows, lanes and passages by number.
struct Index<'a> {
    cows: HashMap<&'a AnimalId, usize>,
    lanes: BTreeMap<&'a str, usize>,
    /// Passages by day number: cow and passage.
    days: BTreeMap<i64, Vec<(usize, Ready)>>,
}

#[allow(clippy::cast_sign_loss, reason = "a remainder is not negative")]
fn hour_bin(passage: &Passage) -> usize {
    (passage.time.as_second().rem_euclid(86_400) as usize) * HOURS / 86_400
}

fn index<'a>(
    passages: &'a [Passage],
    herd: &'a [HerdEntry],
    last: Option<i64>,
) -> (Index<'a>, Vec<&'a AnimalId>) {
    let mut order: Vec<usize> = (0..passages.len()).collect();
    order.sort_by_key(|&i| (passages[i].date, passages[i].time, passages[i].id));
    let measured: Vec<Option<Measured>> =
        passages.par_iter().map(|p| if p.animal.is_some() { measure(&p.summary) } else { None }).collect();
    let mut index = Index { cows: HashMap::new(), lanes: BTreeMap::new(), days: BTreeMap::new() };
    let mut names = Vec::new();
    for entry in herd {
        index.cows.entry(&entry.animal).or_insert_with(|| {
            names.push(&entry.animal);
            names.len() - 1
        });
    }
    let mut day = (None, 0);
    for i in order {
        let passage = &passages[i];
        if day.0 != Some(passage.date) {
            day = (Some(passage.date), day_number(passage.date));
        }
        if last.is_some_and(|last| day.1 > last) {
            continue;
        }
        // Lanes are numbered as they come, so that a later lane changes nothing before.
        let lanes = index.lanes.len();
        let lane = *index.lanes.entry(&passage.lane).or_insert(lanes);
        let today = index.days.entry(day.1).or_default();
        let Some(animal) = &passage.animal else { continue };
        let cow = *index.cows.entry(animal).or_insert_with(|| {
            names.push(animal);
            names.len() - 1
        });
        if let Some(measured) = measured[i] {
            today.push((cow, Ready { lane, hour: hour_bin(passage), measured }));
        }
    }
    (index, names)
}

/// Scores every day.
#[must_use]
pub fn run(
    passages: &[Passage],
    herd: &[HerdEntry],
    scores: &[MobilityScore],
    work: &[FootWork],
    settings: &ScoreSettings,
) -> ScoreRun {
    let until = settings.until.map(day_number);
    let (index, names) = index(passages, herd, until);
    let mut result = ScoreRun::default();
    let Some((&first, _)) = index.days.first_key_value() else { return result };
    let last = until.unwrap_or_else(|| index.days.last_key_value().map_or(first, |(&day, _)| day));
    let hypotheses = Hypotheses::new();
    let mut tracks: Vec<Track> = names.iter().map(|animal| Track::new((*animal).clone())).collect();
    for entry in herd {
        tracks[index.cows[&entry.animal]].register(entry);
    }
    for work in work {
        if let Some(&cow) = index.cows.get(&work.animal) {
            tracks[cow].add_work(work);
        }
    }
    let mut scored: BTreeMap<i64, Vec<(usize, bool)>> = BTreeMap::new();
    for score in scores {
        if let Some(&cow) = index.cows.get(&score.animal) {
            scored.entry(day_number(score.date)).or_default().push((cow, score.score >= 2));
        }
    }
    let lane_names: Vec<&str> = {
        let mut names: Vec<(&str, usize)> = index.lanes.iter().map(|(&name, &i)| (name, i)).collect();
        names.sort_by_key(|n| n.1);
        names.into_iter().map(|n| n.0).collect()
    };
    let empty = Hour { mean: [0.0; MEASURES + 1], seen: [0.0; MEASURES + 1] };
    let mut state = Herd {
        noise: Noise::new(),
        prior: Prior::new(),
        prior_known: false,
        rates: FIRST_RATES.map(HerdRate::new),
        hours: [empty; HOURS],
        lanes: (0..lane_names.len()).map(|i| Lane::new(i == 0)).collect(),
        learner: Learner::default(),
    };
    let nothing = Vec::new();
    let mut by_cow: Vec<Vec<Ready>> = vec![Vec::new(); tracks.len()];
    let mut lane_seen = vec![0u32; lane_names.len()];
    let mut date = date_of(passages, first);
    for day in first..=last {
        let today = index.days.get(&day).unwrap_or(&nothing);
        by_cow.iter_mut().for_each(Vec::clear);
        for (cow, ready) in today {
            by_cow[*cow].push(*ready);
        }
        one_day(
            &mut state,
            &mut tracks,
            &by_cow,
            &hypotheses,
            &mut DayScope {
                day,
                date,
                day_of_run: day - first,
                settings,
                lane_names: &lane_names,
                lane_seen: &mut lane_seen,
                result: &mut result,
            },
        );
        if let Some(today) = scored.get(&day) {
            for &(cow, two) in today {
                if let Some(levels) = tracks[cow].levels() {
                    state.learner.see(&levels, two);
                }
            }
            state.learner.refit();
        }
        date = date.saturating_add(1.day());
    }
    result.link = state.learner.farm();
    result.scores_used = state.learner.scores();
    if settings.history {
        result.history = tracks.par_iter().flat_map_iter(|t| t.history(&hypotheses)).collect();
    }
    result
}

fn date_of(passages: &[Passage], day: i64) -> Date {
    passages.iter().map(|p| p.date).find(|&d| day_number(d) == day).unwrap_or(Date::ZERO)
}

struct DayScope<'a> {
    day: i64,
    date: Date,
    day_of_run: i64,
    settings: &'a ScoreSettings,
    lane_names: &'a [&'a str],
    lane_seen: &'a mut [u32],
    result: &'a mut ScoreRun,
}

fn one_day(
    state: &mut Herd,
    tracks: &mut [Track],
    by_cow: &[Vec<Ready>],
    hypotheses: &Hypotheses,
    scope: &mut DayScope<'_>,
) {
    let hour_shift: Vec<_> = (0..HOURS).map(|h| state.hour_shift(h)).collect();
    let without_hour = |ready: &Ready| {
        let mut measured = ready.measured;
        let shift = &hour_shift[ready.hour];
        (0..MEASURES).for_each(|k| measured.value[k] -= shift[k]);
        measured.weight -= shift[WEIGHT];
        measured
    };
    tracks.par_iter_mut().for_each(|t| t.begin(scope.day, hypotheses, &state.noise));
    if !state.prior_known {
        first_prior(state, tracks, by_cow, scope.day, &without_hour);
    }
    let rates = state.new_rates();
    for (track, today) in tracks.iter_mut().zip(by_cow) {
        if !today.is_empty() {
            track.create(hypotheses, &state.prior, rates, scope.day);
        }
    }
    learn_lanes(state, tracks, by_cow, hypotheses, scope, &without_hour);
    let counted = herd_events(state, tracks, by_cow);
    let shifts: Vec<PerMeasure> = state.lanes.iter().map(Lane::shift).collect();
    let corrected: Vec<Vec<(Measured, usize)>> = by_cow
        .par_iter()
        .map(|today| {
            today
                .iter()
                .map(|ready| {
                    let mut measured = without_hour(ready);
                    (0..MEASURES).for_each(|k| {
                        measured.value[k] -= shifts[ready.lane][k];
                        measured.stated[k] += state.lanes[ready.lane].variance(k);
                    });
                    measured.weight -= state.lanes[ready.lane].weight_shift();
                    (measured, ready.hour)
                })
                .collect()
        })
        .collect();
    let context = Context {
        day: scope.day,
        date: scope.date,
        hypotheses,
        noise: &state.noise,
        learner: &state.learner,
        counted,
        no_data_days: scope.settings.unseen_days,
        history: scope.settings.history,
    };
    let done: Vec<Option<Done>> =
        tracks.par_iter_mut().zip(&corrected).map(|(track, today)| track.day(today, &context)).collect();
    state.learn(&done, scope.day_of_run, tracks, scope.day);
    let mut rows: Vec<_> = done.into_iter().flatten().map(|d| d.row).collect();
    super::track::name_swaps(tracks, &mut rows, state.noise.weight());
    scope.result.days.append(&mut rows);
}

/// On the first day nobody has a baseline: the herd's middle comes from the day itself.
fn first_prior(
    state: &mut Herd,
    tracks: &[Track],
    by_cow: &[Vec<Ready>],
    day: i64,
    without_hour: &impl Fn(&Ready) -> Measured,
) {
    let mut cows = Vec::new();
    for (track, today) in tracks.iter().zip(by_cow).filter(|(_, today)| !today.is_empty()) {
        let mut value = [f64::NAN; MEASURES];
        let mut error = [0.0; MEASURES];
        for k in 0..MEASURES {
            let (mut sum, mut weight) = (0.0, 0.0);
            for ready in today {
                let measured = without_hour(ready);
                if !measured.value[k].is_nan() {
                    let w = 1.0 / (state.noise.variance(measured.class, k) + measured.stated[k]);
                    sum += w * measured.value[k];
                    weight += w;
                }
            }
            if weight > 0.0 {
                value[k] = sum / weight;
                error[k] = 1.0 / weight;
            }
        }
        cows.push((track.group(day), value, error));
    }
    if !cows.is_empty() {
        state.prior.learn(&cows);
        state.prior_known = true;
    }
}

fn learn_lanes(
    state: &mut Herd,
    tracks: &[Track],
    by_cow: &[Vec<Ready>],
    hypotheses: &Hypotheses,
    scope: &mut DayScope<'_>,
    without_hour: &(impl Fn(&Ready) -> Measured + Sync),
) {
    let noise = &state.noise;
    let mut said = Vec::new();
    let witnesses: Vec<Vec<Witness>> = (0..state.lanes.len())
        .map(|lane| {
            tracks
                .par_iter()
                .zip(by_cow)
                .filter_map(|(track, today)| {
                    let here: Vec<Measured> =
                        today.iter().filter(|r| r.lane == lane).map(without_hour).collect();
                    (!here.is_empty()).then(|| track.witness(&here, hypotheses, noise)).flatten()
                })
                .collect()
        })
        .collect();
    for (lane, witnesses) in witnesses.iter().enumerate() {
        // Before its first day a lane does not exist, and that day is its zero where it is the only one.
        if (scope.lane_seen[lane] > 0 || lane > 0) && !witnesses.is_empty() {
            state.lanes[lane].learn(witnesses, 1);
        }
        if !witnesses.is_empty() {
            scope.lane_seen[lane] += 1;
            said.push((lane, witnesses.len() as u32));
        }
    }
    for &(lane, cows) in &said {
        let others: Vec<usize> = said.iter().map(|s| s.0).filter(|&l| l != lane).collect();
        let agree =
            (!others.is_empty()).then(|| others.iter().all(|&o| state.lanes[lane].agrees(&state.lanes[o])));
        let day: LaneDay = state.lanes[lane].day(scope.lane_names[lane], scope.date, cows, agree);
        scope.result.lanes.push(day);
    }
}

/// How many more events than expected the whole herd shows today, by kind: flies and heat make every cow shift.
fn herd_events(state: &mut Herd, tracks: &[Track], by_cow: &[Vec<Ready>]) -> [f64; 6] {
    let mut events = [0.0; 6];
    let mut expected = [0.0; 6];
    let mut minutes = 0.0;
    for (track, today) in tracks.iter().zip(by_cow) {
        for ready in today {
            let counts = &ready.measured.counts;
            if counts.minutes <= 0.0 {
                continue;
            }
            let [front, rear] = counts.shifts;
            let [lf, rf, lr, rr] = counts.lifts;
            minutes += counts.minutes;
            for (i, count) in [front, rear, lf, rf, lr, rr].into_iter().enumerate() {
                events[i] += count;
                expected[i] += counts.minutes * track.event_rate(i).unwrap_or(state.rates[i].per_minute());
            }
        }
    }
    std::array::from_fn(|i| {
        let factor = (events[i] + EVENTS_WORTH) / (expected[i] + EVENTS_WORTH);
        state.rates[i].learn(events[i], minutes);
        factor
    })
}

const _: () = assert!(CLASSES == 3, "noise is first guessed for three classes");
