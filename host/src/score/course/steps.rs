//! The steps of a farm day. Each gives the type that the next one needs, so that none can be left out or come too soon.

use crate::arithmetic::dates::date_of_number;
use crate::record::{CowDay, LaneDay};
use crate::score::course::engine::RunState;
use crate::score::course::herd::{Herd, first_prior, herd_events};
use crate::score::course::swapped::name_swaps;
use crate::score::course::track::{Context, DayFigures, Track};
use crate::score::evidence::index::{HOURS, IndexedPassage};
use crate::score::evidence::lane::{LaneShift, WEIGHT, Witness};
use crate::score::model::cow::DayMeasure;
use crate::score::model::features::{MEASURES, Measured, PerMeasure};
use crate::score::model::hypotheses::Hypotheses;
use crate::score::settings::ScoreSettings;
use rayon::prelude::*;

/// What each hour of the day adds to every cow.
struct HourShifts(Vec<[f64; MEASURES + 1]>);

impl HourShifts {
    fn without(&self, ready: &IndexedPassage) -> Measured {
        let mut measured = ready.measured;
        let shift = &self.0[ready.hour];
        (0..MEASURES).for_each(|k| measured.value[k] -= shift[k]);
        measured.weight -= shift[WEIGHT];
        measured
    }
}

/// A farm day and what passed over the lanes on it.
pub struct FarmDayBegun<'a> {
    state: &'a mut RunState,
    /// The passages of each cow.
    by_cow: &'a [Vec<IndexedPassage>],
    hypotheses: &'a Hypotheses,
    day: i64,
    settings: &'a ScoreSettings,
    hours: HourShifts,
}

/// Every cow has had her night: she may have calved, a block may be on or off.
pub struct NightPassed<'a>(FarmDayBegun<'a>);

/// Cows seen for the first time have a filter.
pub struct NewcomersKnown<'a>(FarmDayBegun<'a>);

/// What the lanes add to every cow today is known.
pub struct LanesKnown<'a>(FarmDayBegun<'a>);

/// Every cow has been judged.
pub struct Judged<'a>(FarmDayBegun<'a>, Vec<Option<DayFigures>>);

impl<'a> FarmDayBegun<'a> {
    /// Begins a day.
    pub fn new(
        state: &'a mut RunState,
        by_cow: &'a [Vec<IndexedPassage>],
        hypotheses: &'a Hypotheses,
        day: i64,
        settings: &'a ScoreSettings,
    ) -> Self {
        let hours = HourShifts((0..HOURS).map(|hour| state.herd.hour_shift(hour)).collect());
        Self { state, by_cow, hypotheses, day, settings, hours }
    }

    /// Lets the night pass over every cow.
    pub fn pass_night(self) -> NightPassed<'a> {
        let RunState { herd, tracks, .. } = &mut *self.state;
        tracks.par_iter_mut().for_each(|track| track.begin(self.day, self.hypotheses, &herd.noise));
        NightPassed(self)
    }
}

impl<'a> NightPassed<'a> {
    /// Gives a filter to each cow seen for the first time; the herd's first day makes their prior.
    pub fn know_newcomers(self) -> NewcomersKnown<'a> {
        let today = self.0;
        let RunState { herd, tracks, .. } = &mut *today.state;
        if !herd.prior_known {
            first_prior(herd, tracks, today.by_cow, today.day, &|ready| today.hours.without(ready));
        }
        let rates = herd.new_rates();
        for (track, passages) in tracks.iter_mut().zip(today.by_cow) {
            if !passages.is_empty() {
                track.create(today.hypotheses, &herd.noise, &herd.prior, rates, today.day);
            }
        }
        NewcomersKnown(today)
    }
}

/// What cows say of a lane: the cow by its number, what she says, and her day in it.
type SeenInLane = Vec<(usize, Witness, DayMeasure)>;

impl<'a> NewcomersKnown<'a> {
    /// Learns the lanes from all cows together, and writes their rows.
    pub fn learn_lanes(self, rows: &mut Vec<LaneDay>) -> LanesKnown<'a> {
        let seen: Vec<_> = (0..self.0.state.herd.lanes.len()).map(|lane| self.seen_in(lane)).collect();
        let RunState { herd, tracks, lane_names, lane_seen, .. } = &mut *self.0.state;
        let mut said = Vec::new();
        for (lane, seen) in seen.iter().enumerate().filter(|(_, seen)| !seen.is_empty()) {
            // Before its first day a lane does not exist, and that day is its zero where it is the only one.
            if lane_seen[lane] > 0 || lane > 0 {
                let witnesses: Vec<Witness> = seen.iter().map(|(_, witness, _)| *witness).collect();
                herd.lanes[lane].learn(&witnesses, 1);
            }
            lane_seen[lane] += 1;
            said.push((lane, seen.len() as u32));
        }
        hold_to_usual(herd, tracks, seen);
        let date = date_of_number(self.0.day);
        for &(lane, cows) in &said {
            let others: Vec<usize> = said.iter().map(|s| s.0).filter(|&l| l != lane).collect();
            let agree =
                (!others.is_empty()).then(|| others.iter().all(|&o| herd.lanes[lane].agrees(&herd.lanes[o])));
            rows.push(herd.lanes[lane].day(&lane_names[lane], date, cows, agree));
        }
        LanesKnown(self.0)
    }

    fn seen_in(&self, lane: usize) -> SeenInLane {
        let today = &self.0;
        let of = |(cow, (track, passages)): (usize, (&Track, &Vec<IndexedPassage>))| {
            let here = passages.iter().filter(|ready| ready.lane == lane);
            let here: Vec<Measured> = here.map(|ready| today.hours.without(ready)).collect();
            let seen =
                (!here.is_empty()).then(|| track.witness(&here, today.hypotheses, &today.state.herd.noise));
            seen.flatten().map(|(witness, day)| (cow, witness, day))
        };
        today.state.tracks.par_iter().zip(today.by_cow).enumerate().filter_map(of).collect()
    }
}

impl<'a> LanesKnown<'a> {
    /// Judges every cow by her passages, hour and lane taken out.
    pub fn judge(self) -> Judged<'a> {
        let today = self.0;
        let RunState { herd, tracks, .. } = &mut *today.state;
        let counted = herd_events(herd, tracks, today.by_cow);
        let shifts: Vec<PerMeasure> = herd.lanes.iter().map(LaneShift::shift).collect();
        let context = Context {
            day: today.day,
            date: date_of_number(today.day),
            hypotheses: today.hypotheses,
            noise: &herd.noise,
            learner: &herd.learner,
            counted,
            limits: herd.price.limits(today.settings.needless_looks),
            no_data_days: today.settings.unseen_days,
            history: today.settings.history,
        };
        let corrected = |ready: &IndexedPassage| {
            let mut measured = today.hours.without(ready);
            let lane = &herd.lanes[ready.lane];
            (0..MEASURES).for_each(|k| {
                measured.value[k] -= shifts[ready.lane][k];
                measured.stated[k] += lane.variance(k);
            });
            measured.weight -= lane.weight_shift();
            (measured, ready.hour)
        };
        let day = |(track, passages): (&mut Track, &Vec<IndexedPassage>)| {
            let corrected: Vec<(Measured, usize)> = passages.iter().map(corrected).collect();
            track.day(&corrected, &context)
        };
        let judged = tracks.par_iter_mut().zip(today.by_cow).map(day).collect();
        Judged(today, judged)
    }
}

impl Judged<'_> {
    /// Lets the herd learn from the day, and gives the rows.
    pub fn learn(self) -> Vec<CowDay> {
        let Self(today, judged) = self;
        let RunState { first, herd, tracks, .. } = &mut *today.state;
        herd.learn(&judged, today.day - *first, tracks);
        herd.price.learn(judged.iter().flatten().filter_map(|judged| judged.rises));
        let mut rows: Vec<_> = judged.into_iter().flatten().map(|judged| judged.row).collect();
        name_swaps(tracks, &mut rows, herd.noise.weight());
        rows
    }
}

/// Splits what lanes and cows share by what each cow usually carries.
fn hold_to_usual(herd: &mut Herd, tracks: &mut [Track], mut seen: Vec<SeenInLane>) {
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
