//! The plates now, and a calibration step after step.

use crate::record::person::Role;
use crate::report::lane::calibration::{STEP_CAUTIONS, asked, outcome, step_name, steps};
use crate::report::lane::lanes;
use crate::report::pages::render::{Page, View};
use crate::report::words::Words;
use crate::store::desk::{DeskStep, LoadsNow, StepEnd};
use crate::store::{Device, Store, device_number};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::json;
use shared::{
    plate::Plate,
    units::Kilograms,
    wire::{CalibrationOutcome, CalibrationStep},
};

/// Loads older than this are no longer those of now, ms. Our choice: six showings.
const OLD_MS: i64 = 3_000;
/// An answer that has not come within this does not come, ms: the device has given up by then.
const NO_ANSWER_MS: i64 = 25_000;
/// The load of a full bar, kg. Our choice: half of a heavy cow.
const BAR_KG: f32 = 400.0;

/// The plates now, in words: what a page shows, and what is sent to it as it changes.
#[derive(Debug, PartialEq, Serialize)]
pub struct PlatesNow {
    /// Load of each plate, kg.
    kg: [String; 4],
    /// Its SD, kg.
    noise: [String; 4],
    /// How full its bar is, %.
    bars: [u8; 4],
    /// All plates together, kg.
    total: String,
    /// Whether these are of now, and what is wrong.
    said: String,
    /// Changes with each step of a calibration that is asked for or answered.
    steps: String,
}

impl PlatesNow {
    /// What the desk says at a time; `asked`: whether the lane had been asked for it before.
    #[must_use]
    pub fn of(loads: Option<&LoadsNow>, steps: &[DeskStep], asked: bool, now_ms: i64, words: &Words) -> Self {
        let fresh = loads.filter(|loads| (loads.at_ms - now_ms).abs() < OLD_MS);
        let each = |value: &dyn Fn(&LoadsNow, usize) -> String| {
            std::array::from_fn(|plate| fresh.map_or_else(|| "\u{2013}".to_owned(), |now| value(now, plate)))
        };
        let said = match fresh {
            None if !asked => words.text("page-plates-asked"),
            None => words.text("page-plates-silent"),
            Some(now) => match Plate::ALL.iter().find(|plate| now.end_stop[**plate]) {
                Some(plate) => {
                    words.say("page-plates-end-stop", json!({ "plate": words.letters_of(plate.name()) }))
                }
                None => words.text("page-plates-fresh"),
            },
        };
        let answered = steps.iter().filter(|step| step.end.is_some()).count();
        Self {
            kg: each(&|now, plate| words.number(now.mean_kg.0[plate].into(), 1)),
            noise: each(&|now, plate| words.number(now.sd_kg.0[plate].into(), 2)),
            bars: std::array::from_fn(|plate| {
                fresh.map_or(0, |now| (100.0 * now.mean_kg.0[plate] / BAR_KG).clamp(0.0, 100.0) as u8)
            }),
            total: fresh.map_or_else(
                || "\u{2013}".to_owned(),
                |now| words.number(now.mean_kg.0.iter().sum::<f32>().into(), 1),
            ),
            said,
            steps: format!("{}/{answered}", steps.last().map_or(0, |step| step.id)),
        }
    }
}

/// How far a step has come.
#[derive(Clone, Copy, Debug, PartialEq)]
enum State {
    /// Done or left out.
    Over,
    /// The device is at it.
    Waiting,
    /// To be done, perhaps again.
    Open,
}

/// A step on the page.
#[derive(Debug, PartialEq)]
struct ShownStep {
    step: CalibrationStep,
    state: State,
    /// What became of it.
    end: Option<StepEnd>,
}

/// What the page shows of a calibration.
fn progress(asked: &[DeskStep], now_ms: i64) -> Vec<ShownStep> {
    let Some(weight) = asked.first().map(|step| step.weight_kg) else { return Vec::new() };
    let shown = |step| {
        let last = asked.iter().rfind(|asked| asked.step == step);
        let waits = last.filter(|last| last.end.is_none()).map(|last| now_ms - last.asked_ms < NO_ANSWER_MS);
        let end = match waits {
            Some(false) => Some(StepEnd::Lost),
            _ => last.and_then(|last| last.end),
        };
        let state = match end {
            _ if waits == Some(true) => State::Waiting,
            Some(StepEnd::Skipped) => State::Over,
            Some(StepEnd::Reply(reply)) if reply.outcome == CalibrationOutcome::Accepted => State::Over,
            _ => State::Open,
        };
        ShownStep { step, state, end }
    };
    steps(Kilograms(weight)).into_iter().map(shown).collect()
}

fn end_in_words(end: &StepEnd, words: &Words) -> String {
    match end {
        StepEnd::Reply(reply) => outcome(reply, words),
        StepEnd::Busy => words.text("step-busy"),
        StepEnd::Lost => words.text("step-no-answer"),
        StepEnd::Skipped => words.text("step-skipped"),
    }
}

/// What a form says for a step.
fn fields(step: CalibrationStep) -> serde_json::Value {
    let plate = match step {
        CalibrationStep::KnownWeight { plate, .. } | CalibrationStep::Check { plate, .. } => plate.name(),
        _ => "",
    };
    json!({ "name": step_name(step), "plate": plate })
}

impl View<'_> {
    /// The page that asks which lane; the one page of a farm without a device.
    #[must_use]
    pub fn which_lane(&self, devices: &[Device], at: &str) -> Page {
        let lanes: Vec<_> = devices.iter().map(|device| (device_number(device.id), device.lane())).collect();
        self.page("which_lane.html", json!({ "lanes": lanes, "at": at }))
    }

    /// The plates of a lane now, and how its device is.
    #[must_use]
    pub fn plates(&self, device: &Device, now: &PlatesNow, store: &Store, at: Timestamp) -> Page {
        let words = self.words();
        let report =
            lanes(store, at).unwrap_or_default().into_iter().find(|lane| lane.device.id == device.id);
        let health = report.as_ref().and_then(|report| Some(&report.health.last()?.1));
        let empty: Vec<_> = Plate::ALL
            .iter()
            .filter_map(|plate| {
                let health = health?;
                let (zero, noise) = (health.zero[*plate].0.into(), health.noise[*plate].0.into());
                Some((words.letters_of(plate.name()), words.number(zero, 1), words.number(noise, 2)))
            })
            .collect();
        let zone = store.time_zone().unwrap_or(jiff::tz::TimeZone::UTC);
        let remarks = report.iter().flat_map(|report| report.remarks(at, &zone));
        let remarks: Vec<_> = remarks.map(|remark| words.lane_fault(&remark.fault)).collect();
        let may = self.viewer().role == Some(Role::Administer) && self.viewer().token.is_some();
        self.page(
            "plates.html",
            json!({
                "device": device_number(device.id), "lane": device.lane(), "now": now,
                "letters": Plate::ALL.map(|plate| words.letters_of(plate.name())),
                "empty": empty, "remarks": remarks, "may_calibrate": may,
            }),
        )
    }

    /// A calibration as far as it has come, and what is to be done next.
    #[must_use]
    pub fn calibrate(&self, device: &Device, now: &PlatesNow, asked_for: &[DeskStep], now_ms: i64) -> Page {
        let words = self.words();
        let given_up = asked_for.last().is_some_and(|last| last.step == CalibrationStep::Abort);
        let shown = if given_up { Vec::new() } else { progress(asked_for, now_ms) };
        let at = shown.iter().position(|step| step.state != State::Over);
        let lines: Vec<_> = shown
            .iter()
            .map(|step| {
                let end = step.end.as_ref().map(|end| end_in_words(end, words));
                (asked(step.step, words), step.state == State::Over, end)
            })
            .collect();
        let next = at.map(|at| {
            let step = &shown[at];
            let skip = matches!(step.step, CalibrationStep::Check { .. });
            let said = step.end.as_ref().map(|end| end_in_words(end, words));
            json!({
                "number": at + 1, "what": asked(step.step, words), "fields": fields(step.step), "may_skip": skip,
                "waits": step.state == State::Waiting, "said": said,
            })
        });
        self.page(
            "calibrate.html",
            json!({
                "device": device_number(device.id), "lane": device.lane(), "now": now,
                "letters": Plate::ALL.map(|plate| words.letters_of(plate.name())),
                "steps": lines, "next": next, "given_up": given_up,
                "weight": asked_for.first().map(|step| step.weight_kg.to_string()),
                "over": !shown.is_empty() && at.is_none(),
                "step_cautions": STEP_CAUTIONS.map(|id| words.text(id)),
            }),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::words::Language;
    use shared::{
        plate::PerPlate,
        units::Counts,
        wire::{CalibrationReply, CalibrationStep as Step},
    };

    fn asked_at(id: i64, step: Step, end: Option<StepEnd>) -> DeskStep {
        DeskStep { id, weight_kg: 100.0, step, asked_ms: 1_000, end }
    }

    fn reply(step: Step, outcome: CalibrationOutcome) -> Option<StepEnd> {
        let (counts, loads) = (PerPlate([Counts(0); 4]), PerPlate([Kilograms(25.0); 4]));
        Some(StepEnd::Reply(CalibrationReply { step, outcome, counts, loads }))
    }

    #[test]
    fn a_step_is_over_when_it_was_accepted_or_left_out_and_not_before() {
        let empty = Step::EmptyDeck;
        let known = |plate| Step::KnownWeight { plate, weight: Kilograms(100.0) };
        let check = Step::Check { plate: Plate::LF, weight: Kilograms(100.0) };
        let asked = [
            asked_at(1, empty, reply(empty, CalibrationOutcome::NotSteady)),
            asked_at(2, empty, reply(empty, CalibrationOutcome::Accepted)),
            asked_at(3, known(Plate::LF), reply(known(Plate::LF), CalibrationOutcome::WrongLoad)),
            asked_at(4, known(Plate::RF), None),
            asked_at(5, known(Plate::LR), Some(StepEnd::Busy)),
            asked_at(6, check, Some(StepEnd::Skipped)),
        ];
        let states = |now| progress(&asked, now).into_iter().map(|step| step.state).collect::<Vec<_>>();
        use State::{Open, Over, Waiting};
        assert_eq!(states(1_000), [Over, Open, Waiting, Open, Open, Over, Open, Open, Open, Open]);
        assert_eq!(states(1_000 + NO_ANSWER_MS - 1)[2], Waiting);
        assert_eq!(progress(&asked, 1_000 + NO_ANSWER_MS)[2].end, Some(StepEnd::Lost));
        assert_eq!(states(1_000 + NO_ANSWER_MS)[2], Open, "to be done again");
        assert!(progress(&[], 0).is_empty());
    }

    #[test]
    fn loads_of_now_are_shown_and_older_ones_are_not() {
        let loads = LoadsNow {
            at_ms: 10_000,
            mean_kg: PerPlate([150.04, -1.0, 500.0, 0.0]),
            sd_kg: PerPlate([0.126, 0.0, 0.0, 0.0]),
            end_stop: PerPlate([false; 4]),
        };
        let words = Words::new(Language::English);
        let at = |loads: &LoadsNow, now| PlatesNow::of(Some(loads), &[], true, now, &words);
        let now = at(&loads, 10_000 + OLD_MS - 1);
        assert_eq!(
            (now.kg[0].as_str(), now.noise[0].as_str(), now.total.as_str()),
            ("150.0", "0.13", "649.0")
        );
        assert_eq!(now.bars, [37, 0, 100, 0]);
        assert_eq!(now.said, words.text("page-plates-fresh"));
        for later in [at(&loads, 10_000 + OLD_MS), at(&loads, 10_000 - OLD_MS)] {
            assert_eq!((later.kg[0].as_str(), later.bars[2]), ("\u{2013}", 0));
            assert_eq!(later.said, words.text("page-plates-silent"));
        }
        let stuck = LoadsNow { end_stop: PerPlate([false, false, true, false]), ..loads };
        assert!(at(&stuck, 10_000).said.contains("LR"));
        let steps = [asked_at(4, Step::EmptyDeck, Some(StepEnd::Busy)), asked_at(5, Step::EmptyDeck, None)];
        assert_eq!(PlatesNow::of(None, &steps, true, 0, &words).steps, "5/1");
        assert_eq!(PlatesNow::of(None, &[], false, 0, &words).said, words.text("page-plates-asked"));
    }
}
