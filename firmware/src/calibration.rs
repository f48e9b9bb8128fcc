//! The guided calibration: empty deck, a known weight on each plate, checks off the middle, then in force.
//!
//! Nothing changes before the last step has been written to flash, so whatever cuts it short leaves the old
//! calibration. The checks follow OIML R 76-1: zero within 20 % of Max at switch-on (A.4.2; the 4 % of
//! zero-tracking is the analysis's), eccentricity against the same limit at every position (3.6.2), creep by a
//! second look at the same load (3.9.4.1: half an interval). Clause numbers are from memory. A lane is no legal
//! scale: the limits are borrowed, not claimed.

use libm::fabsf;
use shared::{
    analysis::{Calibration, calibration::INTERVAL_KG},
    plate::{PerPlate, Plate},
    units::{Counts, Kilograms, Milliseconds},
    wire::{CalibrationOutcome as Outcome, CalibrationReply, CalibrationStep as Step, Settings},
};

use crate::load_cells::Sample;

/// How long each step looks, s (our choice: long against 50 Hz hum and a swaying deck).
pub const LOOK_S: u16 = 2;
/// Largest SD of a plate during a step, kg (our choice: half the interval below).
pub const STEADY_KG: f32 = 0.5;
/// Heaviest load of one plate, kg (our choice).
pub const PLATE_MAX_KG: f32 = 1_000.0;
/// Zero may lie this far from the calibration in force, kg: 20 % of Max.
pub const MAX_ZERO_SHIFT_KG: f32 = 0.2 * PLATE_MAX_KG;
/// Lightest known weight, kg (our choice: twenty intervals).
pub const MIN_WEIGHT_KG: f32 = 20.0 * INTERVAL_KG;
/// A second check of one load may differ by this much from the first, kg: creep.
pub const MAX_CREEP_KG: f32 = 0.5 * INTERVAL_KG;
/// A calibration left alone this long is forgotten, ms (our choice: the creep test takes 30 minutes).
pub const FORGET_AFTER_MS: u64 = 60 * 60 * 1_000;
/// A step without readings ends after this long, ms (our choice).
const NO_READINGS_MS: u64 = 5_000;

/// A calibration as far as it has come.
#[derive(Default)]
pub struct Guide {
    empty: Option<PerPlate<Counts>>,
    loaded: PerPlate<Option<PerPlate<Counts>>>,
    weight: Kilograms,
    first_check: Option<(Plate, Kilograms, f32)>,
    look: Option<Look>,
    touched: Milliseconds,
}

struct Look {
    step: Step,
    wanted: u32,
    taken: u32,
    sum: PerPlate<i64>,
    squares: PerPlate<f32>,
    start: PerPlate<Counts>,
    since: Milliseconds,
}

/// What the caller must do.
pub enum Next {
    /// Nothing.
    Wait,
    /// Answer.
    Reply(CalibrationReply),
    /// Store this calibration, then answer: accepted, or not stored.
    Store(Calibration, CalibrationReply),
}

impl Guide {
    /// Whether a calibration is under way: passages are not looked for then.
    #[must_use]
    pub const fn running(&self) -> bool {
        self.empty.is_some() || self.look.is_some()
    }

    /// Takes a step of the person.
    pub fn step(&mut self, step: Step, now: Milliseconds, settings: &Settings) -> Next {
        self.touched = now;
        self.look = None;
        let missing = match step {
            Step::EmptyDeck => false,
            Step::KnownWeight { .. } => self.empty.is_none(),
            Step::Check { .. } => self.empty.is_some() && !self.complete(),
            Step::Finish => !self.complete(),
            Step::Abort => {
                *self = Self::default();
                return self.answer(step, Outcome::Aborted, PerPlate::default(), settings);
            }
        };
        if missing {
            return self.answer(step, Outcome::OutOfOrder, PerPlate::default(), settings);
        }
        if let Step::KnownWeight { weight, .. } | Step::Check { weight, .. } = step
            && !(MIN_WEIGHT_KG..=PLATE_MAX_KG).contains(&weight.0)
        {
            return self.answer(step, Outcome::WrongLoad, PerPlate::default(), settings);
        }
        if step == Step::Finish {
            return self.finish(settings);
        }
        self.look = Some(Look {
            step,
            wanted: u32::from(settings.rate_hz) * u32::from(LOOK_S),
            taken: 0,
            sum: PerPlate::default(),
            squares: PerPlate::default(),
            start: PerPlate::default(),
            since: now,
        });
        Next::Wait
    }

    /// Takes a reading.
    pub fn sample(&mut self, sample: &Sample, settings: &Settings) -> Next {
        let Some(look) = &mut self.look else { return Next::Wait };
        if sample.saturated().0.contains(&true) {
            let step = look.step;
            self.look = None;
            return self.answer(step, Outcome::BadChannel, sample.counts, settings);
        }
        if !look.take(sample) {
            return Next::Wait;
        }
        let (step, counts, spread) = (look.step, look.mean(), look.spread());
        self.look = None;
        let outcome = self.judge(step, counts, spread, settings);
        self.answer(step, outcome, counts, settings)
    }

    /// Looks at the clock: readings that do not come, a person who went away.
    pub fn idle(&mut self, now: Milliseconds, settings: &Settings) -> Next {
        if let Some(look) = &self.look
            && now.since(look.since).0 > NO_READINGS_MS + 1_000 * u64::from(LOOK_S)
        {
            let step = look.step;
            self.look = None;
            return self.answer(step, Outcome::BadChannel, PerPlate::default(), settings);
        }
        if self.running() && now.since(self.touched).0 > FORGET_AFTER_MS {
            *self = Self::default();
        }
        Next::Wait
    }

    fn complete(&self) -> bool {
        self.empty.is_some() && self.loaded.0.iter().all(Option::is_some)
    }

    fn judge(
        &mut self,
        step: Step,
        counts: PerPlate<Counts>,
        spread: PerPlate<f32>,
        settings: &Settings,
    ) -> Outcome {
        let spans = Plate::ALL.map(|plate| own_span(settings, plate));
        if spread.0.iter().zip(spans).any(|(sd, span)| sd * span > STEADY_KG) {
            return Outcome::NotSteady;
        }
        match step {
            Step::EmptyDeck => {
                let calibrated = settings.zero.0.iter().any(|zero| zero.0 != 0);
                let shift = in_force(settings).apply(counts);
                if calibrated && shift.0.iter().any(|load| fabsf(load.0) > MAX_ZERO_SHIFT_KG) {
                    return Outcome::WrongLoad;
                }
                *self = Self { empty: Some(counts), touched: self.touched, ..Self::default() };
                Outcome::Accepted
            }
            Step::KnownWeight { plate, weight } => self.known_weight(plate, weight, counts),
            Step::Check { plate, weight } => self.check(plate, weight, counts, settings),
            Step::Finish | Step::Abort => Outcome::OutOfOrder,
        }
    }

    fn known_weight(&mut self, plate: Plate, weight: Kilograms, counts: PerPlate<Counts>) -> Outcome {
        let Some(empty) = self.empty else { return Outcome::OutOfOrder };
        if strongest(counts, empty) != plate {
            return Outcome::WrongLoad;
        }
        if self.loaded.0.iter().all(Option::is_none) {
            self.weight = weight;
        }
        // Another weight than the first: as the first would have answered.
        let scale = self.weight.0 / weight.0;
        let mut as_first = counts;
        for (count, zero) in as_first.0.iter_mut().zip(empty.0) {
            count.0 = zero.0.saturating_add(rounded(difference(*count, zero) * scale));
        }
        self.loaded[plate] = Some(as_first);
        Outcome::Accepted
    }

    fn check(
        &mut self,
        plate: Plate,
        weight: Kilograms,
        counts: PerPlate<Counts>,
        settings: &Settings,
    ) -> Outcome {
        let Ok(calibration) = self.standing(settings) else { return Outcome::BadResult };
        let verification = calibration.verify(counts, weight, Kilograms(INTERVAL_KG));
        if !verification.passed() {
            return Outcome::BadResult;
        }
        let shown = weight.0 + verification.error.0;
        match self.first_check {
            Some((place, load, before)) if place == plate && load == weight => {
                if fabsf(shown - before) > MAX_CREEP_KG {
                    return Outcome::BadResult;
                }
            }
            _ => self.first_check = Some((plate, weight, shown)),
        }
        Outcome::Accepted
    }

    fn finish(&mut self, settings: &Settings) -> Next {
        let result = self.standing(settings);
        let empty = self.empty.unwrap_or_default();
        match result {
            Ok(calibration) => {
                let reply = CalibrationReply {
                    step: Step::Finish,
                    outcome: Outcome::Accepted,
                    counts: empty,
                    loads: calibration.apply(empty),
                };
                *self = Self::default();
                Next::Store(calibration, reply)
            }
            Err(outcome) => self.answer(Step::Finish, outcome, empty, settings),
        }
    }

    /// The new calibration where all its loads are there, else the one in force.
    fn standing(&self, settings: &Settings) -> Result<Calibration, Outcome> {
        match (self.empty, self.loaded.0) {
            (Some(empty), [Some(lf), Some(rf), Some(lr), Some(rr)]) => {
                Calibration::solve(empty, PerPlate([lf, rf, lr, rr]), self.weight)
                    .map_err(|_| Outcome::BadResult)
            }
            _ => Ok(in_force(settings)),
        }
    }

    fn answer(&self, step: Step, outcome: Outcome, counts: PerPlate<Counts>, settings: &Settings) -> Next {
        let loads = self.standing(settings).unwrap_or_else(|_| in_force(settings)).apply(counts);
        Next::Reply(CalibrationReply { step, outcome, counts, loads })
    }
}

impl Look {
    /// Takes a reading; true when there are enough.
    fn take(&mut self, sample: &Sample) -> bool {
        if self.taken == 0 {
            self.start = sample.counts;
        }
        self.taken += 1;
        for plate in Plate::ALL {
            let from_start = difference(sample.counts[plate], self.start[plate]);
            self.sum[plate] += i64::from(sample.counts[plate].0);
            self.squares[plate] += from_start * from_start;
        }
        self.taken >= self.wanted
    }

    fn mean(&self) -> PerPlate<Counts> {
        let taken = i64::from(self.taken.max(1));
        PerPlate(self.sum.0.map(|sum| Counts(i32::try_from(sum / taken).unwrap_or_default())))
    }

    /// SD of each plate about the step's mean, counts.
    fn spread(&self) -> PerPlate<f32> {
        let mean = self.mean();
        #[allow(clippy::cast_precision_loss)]
        let taken = self.taken.max(1) as f32;
        let mut spread = PerPlate::default();
        for plate in Plate::ALL {
            let off = difference(mean[plate], self.start[plate]);
            spread[plate] = libm::sqrtf((self.squares[plate] / taken - off * off).max(0.0));
        }
        spread
    }
}

/// The calibration in these settings.
#[must_use]
pub const fn in_force(settings: &Settings) -> Calibration {
    Calibration { zero: settings.zero, cross: settings.kg_per_count }
}

fn own_span(settings: &Settings, plate: Plate) -> f32 {
    let own = settings.kg_per_count.get(plate as usize).and_then(|row| row.get(plate as usize));
    fabsf(own.copied().unwrap_or_default())
}

fn strongest(counts: PerPlate<Counts>, empty: PerPlate<Counts>) -> Plate {
    let answer = |plate: Plate| i64::from(counts[plate].0).abs_diff(i64::from(empty[plate].0));
    Plate::ALL.into_iter().max_by_key(|plate| answer(*plate)).unwrap_or(Plate::LF)
}

#[allow(clippy::cast_precision_loss, reason = "a step moves far less than 2^24 counts")]
fn difference(count: Counts, zero: Counts) -> f32 {
    count.0.saturating_sub(zero.0) as f32
}

#[allow(clippy::cast_possible_truncation, reason = "a float cast saturates")]
fn rounded(value: f32) -> i32 {
    libm::roundf(value) as i32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::factory;

    #[test]
    fn a_calibration_is_forgotten_after_an_hour_and_not_before() {
        let mut guide = Guide { empty: Some(PerPlate::default()), ..Guide::default() };
        guide.touched = Milliseconds(1_000);
        guide.idle(Milliseconds(3_601_000), &factory());
        assert!(guide.running(), "an hour");
        guide.idle(Milliseconds(3_601_001), &factory());
        assert!(!guide.running());
    }

    #[test]
    fn a_step_without_readings_ends_after_its_look_and_five_seconds() {
        let mut guide = Guide::default();
        guide.step(Step::EmptyDeck, Milliseconds(1_000), &factory());
        assert!(matches!(guide.idle(Milliseconds(8_000), &factory()), Next::Wait));
        let Next::Reply(reply) = guide.idle(Milliseconds(8_001), &factory()) else { panic!("an answer") };
        assert_eq!((reply.step, reply.outcome), (Step::EmptyDeck, Outcome::BadChannel));
    }

    #[test]
    fn another_weight_counts_as_the_first_would_have_answered() {
        let mut guide = Guide { empty: Some(PerPlate([Counts(100); 4])), ..Guide::default() };
        let with = |plate: Plate, count: i32| {
            let mut counts = PerPlate([Counts(110); 4]);
            counts[plate] = Counts(count);
            counts
        };
        let first = guide.known_weight(Plate::LF, Kilograms(200.0), with(Plate::LF, 2_100));
        // Half the weight: 500 counts above the empty plate stand for 1,000, 10 for 20.
        let half = guide.known_weight(Plate::RF, Kilograms(100.0), with(Plate::RF, 600));
        assert_eq!([first, half], [Outcome::Accepted; 2]);
        assert_eq!(guide.loaded[Plate::LF], Some(with(Plate::LF, 2_100)));
        assert_eq!(guide.loaded[Plate::RF].unwrap().0, [120, 1_100, 120, 120].map(Counts));
    }
}
