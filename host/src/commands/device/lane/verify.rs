//! A known weight held against the limits of a scale: on each plate, in the middle and at an outer corner.

use crate::commands::cli::Common;
use crate::commands::device::lane::calibrate::{Asked, Calibrated, asked_until, caution};
use crate::commands::device::lane::person::{AtThePlates, Terminal};
use crate::commands::device::lane::{at_device, words_of};
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::report::lane::calibration::shown;
use crate::report::text;
use crate::report::words::Words;
use anyhow::bail;
use serde::Serialize;
use serde_json::json;
use shared::analysis::calibration::{INTERVAL_KG, Verification, error_limit};
use shared::plate::Plate;
use shared::units::Kilograms;
use shared::wire::{CalibrationOutcome, CalibrationReply, CalibrationStep};
use std::io::IsTerminal;

/// With what.
#[derive(Debug, clap::Args)]
pub struct Verify {
    #[command(flatten)]
    port: PortArguments,
    /// The known weight, kg
    #[arg(long, value_name = "KG")]
    weight: f32,
}

/// One look at the weight.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeightLook {
    plate: &'static str,
    place: &'static str,
    weight_kg: f32,
    shown_kg: f32,
    error_kg: f32,
    /// Largest permissible error at the first verification; in service it is twice that.
    limit_kg: f32,
    within: bool,
}

impl WeightLook {
    fn of(plate: Plate, place: &'static str, weight: f32, reply: &CalibrationReply) -> Self {
        let shown_kg = shown(reply);
        let limit = error_limit(Kilograms(weight), Kilograms(INTERVAL_KG));
        let verification = Verification { error: Kilograms(shown_kg - weight), limit };
        Self {
            plate: plate.name(),
            place,
            weight_kg: weight,
            shown_kg,
            error_kg: verification.error.0,
            limit_kg: limit.0,
            within: verification.passed(),
        }
    }
}

/// Runs it.
///
/// # Errors
/// When the device cannot be reached, refuses, or nobody can be asked.
pub fn run(arguments: &Verify, common: &Common) -> anyhow::Result<ExitCode> {
    let words = words_of(common)?;
    caution(&words)?;
    if !std::io::stdin().is_terminal() {
        bail!("somebody has to move the weight: it is asked for on a terminal");
    }
    let weight = arguments.weight;
    let looks =
        at_device(&arguments.port, common, |device| verified(device, &mut Terminal(&words), weight, &words))?;
    common.format.print(&looks, |table| table.rows(&looks), || Ok(rendered(&looks, &words)))?;
    let good = looks.iter().all(|look| look.within) && looks.len() == 2 * Plate::ALL.len();
    Ok(if good { ExitCode::Done } else { ExitCode::BadInput })
}

/// Leads a person over the plates; what was left out is not among the looks.
///
/// # Errors
/// Where the device does not answer, refuses, or nobody can be asked.
pub fn verified(
    device: &mut impl Calibrated,
    person: &mut impl AtThePlates,
    weight: f32,
    words: &Words,
) -> anyhow::Result<Vec<WeightLook>> {
    let mut looks = Vec::new();
    for plate in Plate::ALL {
        for place in ["middle", "corner"] {
            let what =
                words.say("step-verify", json!({ "plate": plate.name(), "place": place, "kg": weight }));
            let step = CalibrationStep::Check { plate, weight: Kilograms(weight) };
            match asked_until(device, person, &what, step, words, is_a_look)? {
                Asked::Stopped => return Ok(looks),
                Asked::Skipped => {}
                Asked::Taken(reply) => looks.push(WeightLook::of(plate, place, weight, &reply)),
            }
        }
    }
    Ok(looks)
}

/// Whether the device measured; what it thinks of the result is worked out here again, with its size.
const fn is_a_look(outcome: CalibrationOutcome) -> bool {
    matches!(outcome, CalibrationOutcome::Accepted | CalibrationOutcome::BadResult)
}

fn rendered(looks: &[WeightLook], words: &Words) -> String {
    let columns = ["plate", "place", "shown", "error", "limit", "within"];
    let columns = columns.map(|id| words.text(&format!("step-column-{id}")));
    let mut table = text::table(&columns.each_ref().map(String::as_str));
    text::align_right(&mut table, &[2, 3, 4]);
    for look in looks {
        let number = |value: f32| words.number(value.into(), 2);
        table.add_row([
            words.letters_of(look.plate),
            words.text(if look.place == "middle" { "step-middle" } else { "step-corner-place" }),
            number(look.shown_kg),
            number(look.error_kg),
            number(look.limit_kg),
            words.text(if look.within { "step-within" } else { "step-beyond" }),
        ]);
    }
    let mut text = text::render(&table);
    text::wrapped(&mut text, "", &words.text("step-limits"));
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::commands::device::lane::person::StepAnswer;
    use crate::report::words::Language;
    use shared::plate::PerPlate;
    use std::collections::VecDeque;

    /// Shows these loads one after the other; each on all plates together.
    struct Deck(VecDeque<(CalibrationOutcome, f32)>);

    impl Calibrated for Deck {
        fn step(&mut self, step: CalibrationStep) -> anyhow::Result<CalibrationReply> {
            let (outcome, kg) = self.0.pop_front().unwrap_or((CalibrationOutcome::Accepted, 200.0));
            let loads = PerPlate([kg, 0.0, 0.0, 0.0].map(Kilograms));
            Ok(CalibrationReply { step, outcome, counts: PerPlate::default(), loads })
        }
    }

    struct Willing(VecDeque<StepAnswer>);

    impl AtThePlates for Willing {
        fn please(&mut self, _: &str) -> anyhow::Result<StepAnswer> {
            Ok(self.0.pop_front().unwrap_or(StepAnswer::Done))
        }

        fn tell(&mut self, _: &str) {}
    }

    fn looks(loads: &[(CalibrationOutcome, f32)], answers: &[StepAnswer]) -> Vec<WeightLook> {
        let mut device = Deck(loads.iter().copied().collect());
        let mut person = Willing(answers.iter().copied().collect());
        verified(&mut device, &mut person, 200.0, &Words::new(Language::English)).expect("looks")
    }

    #[test]
    fn the_limit_of_two_hundred_intervals_is_half_of_one() {
        let looks =
            looks(&[(CalibrationOutcome::Accepted, 200.5), (CalibrationOutcome::BadResult, 199.25)], &[]);
        assert_eq!(looks.len(), 8);
        assert_eq!((looks[0].error_kg, looks[0].limit_kg, looks[0].within), (0.5, 0.5, true));
        assert_eq!((looks[1].plate, looks[1].place, looks[1].within), ("LF", "corner", false));
    }

    #[test]
    fn what_was_not_steady_is_asked_again_and_what_is_left_out_is_not_there() {
        let again =
            looks(&[(CalibrationOutcome::NotSteady, 150.0), (CalibrationOutcome::Accepted, 200.0)], &[]);
        assert_eq!((again.len(), again[0].shown_kg), (8, 200.0));
        assert_eq!(looks(&[], &[StepAnswer::Skip]).len(), 7);
        assert_eq!(looks(&[], &[StepAnswer::Done, StepAnswer::Stop]).len(), 1);
    }

    // 200.5 kg shown of 200 are 0.50 too much, just within 0.50; 199.25 are 0.75 too little, beyond it.
    #[test]
    fn each_look_is_a_row_with_what_was_shown_its_error_and_whether_that_is_within() {
        let looks = looks(
            &[(CalibrationOutcome::Accepted, 200.5), (CalibrationOutcome::BadResult, 199.25)],
            &[StepAnswer::Done, StepAnswer::Done, StepAnswer::Stop],
        );
        let text = rendered(&looks, &Words::new(Language::English));
        let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split_whitespace().collect()).collect();
        assert_eq!(rows[1], ["LF", "middle", "200.50", "0.50", "0.50", "yes"], "{text}");
        assert_eq!(rows[2], ["LF", "corner", "199.25", "-0.75", "0.50", "no"], "{text}");
        assert_eq!(rows[3][0], "Limits:", "{text}");
    }
}
