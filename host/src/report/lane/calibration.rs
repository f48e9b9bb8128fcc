//! The guided calibration in words: what is asked for, step after step, and what became of it. One for the terminal and the
//! pages.

use crate::report::words::Words;
use serde_json::json;
use shared::{
    plate::Plate,
    units::Kilograms,
    wire::{CalibrationOutcome, CalibrationReply, CalibrationStep},
};

/// Said before any work at the plates.
pub const STEP_CAUTIONS: [&str; 4] =
    ["step-caution-cattle", "step-caution-mains", "step-caution-lift", "step-caution-trade"];

/// What is asked for, in order.
#[must_use]
pub fn steps(weight: Kilograms) -> Vec<CalibrationStep> {
    let known = Plate::ALL.map(|plate| CalibrationStep::KnownWeight { plate, weight });
    let checks = Plate::ALL.map(|plate| CalibrationStep::Check { plate, weight });
    let mut steps = vec![CalibrationStep::EmptyDeck];
    steps.extend(known.into_iter().chain(checks));
    steps.push(CalibrationStep::Finish);
    steps
}

/// What the person is asked to do.
#[must_use]
pub fn asked(step: CalibrationStep, words: &Words) -> String {
    match step {
        CalibrationStep::EmptyDeck => words.text("step-clean"),
        CalibrationStep::KnownWeight { plate, weight } => {
            words.say("step-known-weight", json!({ "plate": words.letters_of(plate.name()), "kg": weight.0 }))
        }
        CalibrationStep::Check { plate, .. } => {
            words.say("step-corner", json!({ "plate": words.letters_of(plate.name()) }))
        }
        CalibrationStep::Finish => words.text("step-finish"),
        CalibrationStep::Abort => words.text("step-answer-stop"),
    }
}

/// The name of a step in output, and in what is noted of people.
#[must_use]
pub const fn step_name(step: CalibrationStep) -> &'static str {
    match step {
        CalibrationStep::EmptyDeck => "empty_deck",
        CalibrationStep::KnownWeight { .. } => "known_weight",
        CalibrationStep::Check { .. } => "check",
        CalibrationStep::Finish => "finish",
        CalibrationStep::Abort => "abort",
    }
}

/// The name of an outcome in output and in the catalogues.
#[must_use]
pub const fn outcome_name(outcome: CalibrationOutcome) -> &'static str {
    match outcome {
        CalibrationOutcome::Accepted => "accepted",
        CalibrationOutcome::NotSteady => "not_steady",
        CalibrationOutcome::WrongLoad => "wrong_load",
        CalibrationOutcome::BadChannel => "bad_channel",
        CalibrationOutcome::OutOfOrder => "out_of_order",
        CalibrationOutcome::BadResult => "bad_result",
        CalibrationOutcome::NotStored => "not_stored",
        CalibrationOutcome::Aborted => "aborted",
    }
}

/// What became of a step; a check says what was shown.
#[must_use]
pub fn outcome(reply: &CalibrationReply, words: &Words) -> String {
    match (reply.outcome, reply.step) {
        (
            CalibrationOutcome::Accepted | CalibrationOutcome::BadResult,
            CalibrationStep::Check { weight, .. },
        ) => {
            let right = if reply.outcome == CalibrationOutcome::Accepted { "yes" } else { "no" };
            words.say("step-checked", json!({ "right": right, "shown": shown(reply), "kg": weight.0 }))
        }
        (outcome, _) => words.text(&format!("step-outcome-{}", outcome_name(outcome))),
    }
}

/// What all plates show together, kg.
#[must_use]
pub fn shown(reply: &CalibrationReply) -> f32 {
    reply.loads.0.iter().map(|load| load.0).sum()
}
