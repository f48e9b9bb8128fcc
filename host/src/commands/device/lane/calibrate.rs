//! The guided calibration: asks the person for one thing after the other, and the device whether it was right.

use crate::commands::cli::{Common, Format};
use crate::commands::device::lane::person::{AtThePlates, StepAnswer, Terminal};
use crate::commands::device::lane::words_of;
use crate::commands::device::lane::{AtDevice, at_device};
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::link::operator::OperatorError;
use crate::report::lane::calibration::{STEP_CAUTIONS, asked, outcome, outcome_name, step_name, steps};
use crate::report::output::csv;
use crate::report::words::Words;
use crate::report::{notes, text};
use crate::store::StoreError;
use anyhow::{Context, bail};
use clap::ValueEnum;
use serde::Serialize;
use shared::{
    plate::Plate,
    units::Kilograms,
    wire::{CalibrationOutcome, CalibrationReply, CalibrationStep, DeviceMessage, HostMessage, Refusal},
};
use std::{
    io::{IsTerminal, Write},
    time::Duration,
};

/// The same cautions in the help, which is English.
pub const CAUTIONS: &str = "\
Before you go to the plates:
  - Close the lane at both ends and see that no animal can reach you. Never
    stand on the deck or put weights on it with cattle in the lane or behind
    you; have somebody with you, and a way out.
  - Keep to the low-voltage side. Open no mains supply; if water has got into a
    box, switch off and call an electrician.
  - Lift with two, or use a barrow. Lower a weight gently: a dropped one breaks
    cells and feet.
  - A calibrated lane is still no scale for trade.";

/// A step is answered within this time: the device looks for 2 s, and waits 7 s for readings that do not come.
const STEP_WAIT: Duration = Duration::from_secs(25);
/// A step that may be said twice is said again after this time.
const STEP_AGAIN: Duration = Duration::from_secs(10);

/// How to calibrate.
#[derive(Debug, clap::Args)]
pub struct Calibrate {
    #[command(flatten)]
    port: PortArguments,
    /// The known weight, kg; a third of the heaviest load of a plate is best
    #[arg(long, value_name = "KG")]
    weight: Option<f32>,
    /// Do this one step and end: the device remembers the steps before for an hour
    #[arg(long, value_enum)]
    step: Option<StepName>,
    /// The plate of the step
    #[arg(long, value_enum, ignore_case = true, requires = "step")]
    plate: Option<PlateName>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum StepName {
    /// The plates are empty: take their zero
    EmptyDeck,
    /// The known weight lies on the middle of one plate
    KnownWeight,
    /// The known weight lies off the middle of one plate: measure only; twice the same tells of creep
    Check,
    /// Put the new calibration in force
    Finish,
    /// Forget it
    Abort,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
#[value(rename_all = "UPPER")]
enum PlateName {
    /// Left front, facing the exit
    LF,
    /// Right front
    RF,
    /// Left rear
    LR,
    /// Right rear
    RR,
}

impl From<PlateName> for Plate {
    fn from(name: PlateName) -> Self {
        match name {
            PlateName::LF => Self::LF,
            PlateName::RF => Self::RF,
            PlateName::LR => Self::LR,
            PlateName::RR => Self::RR,
        }
    }
}

/// What can do a step of a calibration.
pub trait Calibrated {
    /// Does a step.
    ///
    /// # Errors
    /// Where the device does not answer, or refuses.
    fn step(&mut self, step: CalibrationStep) -> anyhow::Result<CalibrationReply>;
}

impl Calibrated for AtDevice<'_> {
    fn step(&mut self, step: CalibrationStep) -> anyhow::Result<CalibrationReply> {
        // Said twice, the last step would find nothing left to finish.
        let again = (step != CalibrationStep::Finish).then_some(STEP_AGAIN);
        Ok(self.ask(&HostMessage::Calibrate(step), STEP_WAIT, again, |message| match message {
            DeviceMessage::CalibrationReply(reply) if reply.step == step => Some(*reply),
            _ => None,
        })?)
    }
}

/// Runs it.
///
/// # Errors
/// When the device cannot be reached, refuses, or nobody can be asked.
pub fn run(arguments: &Calibrate, common: &Common) -> anyhow::Result<ExitCode> {
    let words = words_of(common)?;
    caution(&words)?;
    if let Some(name) = arguments.step {
        let step = step(name, arguments)?;
        let reply = at_device(&arguments.port, common, |device| device.step(step))?;
        print(&reply, common.format, &words)?;
        return Ok(code(reply.outcome == CalibrationOutcome::Accepted || name == StepName::Abort));
    }
    if !std::io::stdin().is_terminal() {
        bail!("a guided calibration asks questions on a terminal; elsewhere use --step");
    }
    let weight = match arguments.weight {
        Some(weight) => weight,
        None => dialoguer::Input::new()
            .with_prompt(words.text("step-ask-weight"))
            .interact_text()
            .context("no weight was given")?,
    };
    let done =
        at_device(&arguments.port, common, |device| guide(device, &mut Terminal(&words), weight, &words))?;
    Ok(code(done))
}

/// Says what to mind before work at the plates.
pub(super) fn caution(words: &Words) -> anyhow::Result<()> {
    writeln!(notes(), "{}", words.text("step-cautions"))?;
    for id in STEP_CAUTIONS {
        writeln!(notes(), "{}", text::wrap(&format!("  - {}", words.text(id)), 4))?;
    }
    Ok(writeln!(notes())?)
}

const fn code(good: bool) -> ExitCode {
    if good { ExitCode::Done } else { ExitCode::BadInput }
}

fn step(name: StepName, arguments: &Calibrate) -> anyhow::Result<CalibrationStep> {
    let load = || {
        let (Some(plate), Some(weight)) = (arguments.plate, arguments.weight) else {
            bail!("this step needs --plate and --weight");
        };
        Ok((Plate::from(plate), Kilograms(weight)))
    };
    Ok(match name {
        StepName::EmptyDeck => CalibrationStep::EmptyDeck,
        StepName::KnownWeight => {
            load().map(|(plate, weight)| CalibrationStep::KnownWeight { plate, weight })?
        }
        StepName::Check => load().map(|(plate, weight)| CalibrationStep::Check { plate, weight })?,
        StepName::Finish => CalibrationStep::Finish,
        StepName::Abort => CalibrationStep::Abort,
    })
}

/// Leads a person through a calibration; true where the new one is in force. Where it is not, the old one is.
///
/// # Errors
/// Where the device does not answer or nobody can be asked; the old calibration stays.
pub fn guide(
    device: &mut impl Calibrated,
    person: &mut impl AtThePlates,
    weight: f32,
    words: &Words,
) -> anyhow::Result<bool> {
    let weight = Kilograms(weight);
    for step in steps(weight) {
        let what = asked(step, words);
        if !one(device, person, &what, step, words)? {
            device.step(CalibrationStep::Abort)?;
            person.tell(&words.text("step-given-up"));
            return Ok(false);
        }
    }
    person.tell(&words.text("step-in-force"));
    Ok(true)
}

/// One thing to do, until the device accepts it; false where the person gives up.
fn one(
    device: &mut impl Calibrated,
    person: &mut impl AtThePlates,
    what: &str,
    step: CalibrationStep,
    words: &Words,
) -> anyhow::Result<bool> {
    let accepted = |outcome| outcome == CalibrationOutcome::Accepted;
    match asked_until(device, person, what, step, words, accepted)? {
        Asked::Stopped => return Ok(false),
        Asked::Skipped => {}
        Asked::Taken(reply) => person.tell(&outcome(&reply, words)),
    }
    Ok(true)
}

/// How it ended that somebody was asked for something.
pub(super) enum Asked {
    /// The device answered as was waited for.
    Taken(CalibrationReply),
    /// It was left out.
    Skipped,
    /// The person gives up.
    Stopped,
}

/// Asks for one thing until the device gives an outcome that is `taken`, or the person will not; says every other outcome.
/// Only a check can be left out.
pub(super) fn asked_until(
    device: &mut impl Calibrated,
    person: &mut impl AtThePlates,
    what: &str,
    step: CalibrationStep,
    words: &Words,
    taken: impl Fn(CalibrationOutcome) -> bool,
) -> anyhow::Result<Asked> {
    loop {
        match person.please(what)? {
            StepAnswer::Stop => return Ok(Asked::Stopped),
            StepAnswer::Skip if matches!(step, CalibrationStep::Check { .. }) => return Ok(Asked::Skipped),
            StepAnswer::Skip => person.tell(&words.text("step-needed")),
            StepAnswer::Done => match device.step(step) {
                Ok(reply) if taken(reply.outcome) => return Ok(Asked::Taken(reply)),
                Ok(reply) => person.tell(&outcome(&reply, words)),
                Err(error) if is_busy(&error) => person.tell(&words.text("step-busy")),
                Err(error) => return Err(error),
            },
        }
    }
}

fn is_busy(error: &anyhow::Error) -> bool {
    matches!(error.downcast_ref::<OperatorError<StoreError>>(), Some(OperatorError::Refused(Refusal::Busy)))
}

#[derive(Serialize)]
struct StepRow {
    step: String,
    outcome: String,
    counts: [i32; 4],
    loads_kg: [f32; 4],
    words: String,
}

fn print(reply: &CalibrationReply, format: Format, words: &Words) -> anyhow::Result<()> {
    let row = StepRow {
        step: step_name(reply.step).to_owned(),
        outcome: outcome_name(reply.outcome).to_owned(),
        counts: reply.counts.0.map(|counts| counts.0),
        loads_kg: reply.loads.0.map(|load| load.0),
        words: outcome(reply, words),
    };
    let kg = |plate: usize| csv::number(Some(row.loads_kg[plate].into()), 2);
    let record = [row.step.clone(), row.outcome.clone(), kg(0), kg(1), kg(2), kg(3)];
    format.print(
        &row,
        |table| table.records(&["step", "outcome", "lf_kg", "rf_kg", "lr_kg", "rr_kg"], [&record]),
        || {
            let [lf, rf, lr, rr] = row.loads_kg;
            Ok(format!("{}\nLF {lf:.2}  RF {rf:.2}  LR {lr:.2}  RR {rr:.2} kg\n", row.words))
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::words::Language;
    use shared::{plate::PerPlate, units::Counts};
    use std::collections::VecDeque;

    /// Answers as told, then accepts everything.
    #[derive(Default)]
    struct Scripted {
        answers: VecDeque<anyhow::Result<CalibrationOutcome>>,
        steps: Vec<CalibrationStep>,
    }

    impl Calibrated for Scripted {
        fn step(&mut self, step: CalibrationStep) -> anyhow::Result<CalibrationReply> {
            self.steps.push(step);
            let outcome = self.answers.pop_front().unwrap_or(Ok(CalibrationOutcome::Accepted))?;
            Ok(CalibrationReply {
                step,
                outcome,
                counts: PerPlate([Counts(0); 4]),
                loads: PerPlate([Kilograms(25.0); 4]),
            })
        }
    }

    /// Does all that is asked, and gives up at the question of this number.
    #[derive(Default)]
    struct Willing {
        questions: usize,
        stop_at: usize,
        told: Vec<String>,
    }

    impl AtThePlates for Willing {
        fn please(&mut self, _: &str) -> anyhow::Result<StepAnswer> {
            self.questions += 1;
            Ok(if self.questions == self.stop_at { StepAnswer::Stop } else { StepAnswer::Done })
        }

        fn tell(&mut self, what: &str) {
            self.told.push(what.to_owned());
        }
    }

    #[test]
    fn a_busy_device_and_a_step_that_failed_are_asked_again() {
        let busy = OperatorError::<StoreError>::Refused(Refusal::Busy);
        let mut device = Scripted::default();
        device.answers.extend([Err(busy.into()), Ok(CalibrationOutcome::NotSteady)]);
        let mut person = Willing::default();
        assert!(guide(&mut device, &mut person, 100.0, &Words::new(Language::English)).unwrap());
        assert_eq!(device.steps[..3], [CalibrationStep::EmptyDeck; 3]);
        assert_eq!(device.steps.len(), 3 + 4 + 4 + 1);
        assert_eq!(device.steps.last(), Some(&CalibrationStep::Finish));
        assert!(person.told[0].contains("for an animal"), "{:?}", person.told);
        assert!(person.told[1].starts_with("It was not steady"), "{:?}", person.told);
        assert!(
            person.told.iter().any(|told| told == "Right: 100.00 kg shown for 100 kg."),
            "{:?}",
            person.told
        );
    }

    #[test]
    fn giving_up_and_other_refusals_leave_the_old_calibration() {
        let mut device = Scripted::default();
        let mut person = Willing { stop_at: 3, ..Willing::default() };
        assert!(!guide(&mut device, &mut person, 100.0, &Words::new(Language::English)).unwrap());
        assert_eq!(device.steps.last(), Some(&CalibrationStep::Abort));
        let refused = OperatorError::<StoreError>::Refused(Refusal::Schema);
        let mut device = Scripted { answers: [Err(refused.into())].into(), steps: Vec::new() };
        assert!(guide(&mut device, &mut Willing::default(), 100.0, &Words::new(Language::English)).is_err());
    }

    #[test]
    fn every_line_of_the_cautions_fits_80_columns() {
        assert!(CAUTIONS.lines().all(|line| line.chars().count() <= 80));
        let plain = |text: &str| text.replace("  - ", " ").split_whitespace().collect::<Vec<_>>().join(" ");
        let words = Words::new(Language::English);
        let said = ["step-cautions"].into_iter().chain(STEP_CAUTIONS).map(|id| words.text(id));
        assert_eq!(plain(CAUTIONS), plain(&said.collect::<Vec<_>>().join(" ")), "as before the work");
    }
}
