//! The gate behind the plates: whom it holds back, what came of it, and how a device drives it.

use crate::commands::animal;
use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::device::lane::{at_device, words_of};
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::commands::trim::case::today;
use crate::record::gate::{GateRecord, Hold, outcome_name};
use crate::report::gate::{GateDay, gates, render};
use crate::report::{self, text};
use anyhow::{Context, bail};
use clap::ValueEnum;
use jiff::{Timestamp, civil::Time};
use serde::Serialize;
use serde_json::json;
use shared::{
    units::Kilograms,
    wire::{DeviceMessage, GateSettings, HostMessage},
};
use std::{io::Write, time::Duration};

/// The cautions in the help, which is English.
pub const CAUTIONS: &str = "\
A gate that moves hurts cattle and people:
  - Nobody stands in its way while it may move; a stop is within reach of
    whoever works there, and opens the stop input.
  - What the gate can do at its worst is for guards and interlocks: they are the
    installer's and local rules', and nothing here replaces one.
  - A held cow has water and shade, and is not forgotten.
  - Mains near water is the electrician's.";

/// A device answers within this time; our choice.
const WAIT: Duration = Duration::from_secs(10);
/// And is asked again at this pace, where a cow is on the plates.
const AGAIN: Duration = Duration::from_secs(3);

/// What to do at the gate; without a word, whom it holds back next and what came of it.
#[derive(Debug, clap::Args)]
#[command(after_help = CAUTIONS, args_conflicts_with_subcommands = true)]
pub struct GateArguments {
    #[command(subcommand)]
    command: Option<GateCommand>,
    /// Show what came of listed cows from this day on, in place of the hours of now
    #[arg(long, value_name = "DATE")]
    since: Option<Day>,
}

#[derive(Debug, clap::Subcommand)]
enum GateCommand {
    /// Hold a cow back, whatever the list says of her
    Hold(HoldArguments),
    /// Hold a cow back by hand no longer
    Release {
        /// Her number, name, tag or last digits
        #[arg(value_name = "COW")]
        animal: String,
    },
    /// Tell a paired device how its gate is driven, or that it has none
    #[command(after_help = CAUTIONS)]
    Set(SetArguments),
}

/// Whom, and for how long.
#[derive(Debug, clap::Args)]
struct HoldArguments {
    /// Her number, name, tag or last digits
    #[arg(value_name = "COW")]
    animal: String,
    /// The last day on which she is wanted (default: today)
    #[arg(long, value_name = "DATE")]
    until: Option<Day>,
    /// What for
    #[arg(long, value_name = "TEXT", default_value = "")]
    why: String,
    /// Who says so
    #[arg(long, default_value = "")]
    who: String,
}

/// The level of an output.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum LevelName {
    /// High.
    High,
    /// Low.
    Low,
}

/// How a gate is driven.
#[derive(Debug, clap::Args)]
struct SetArguments {
    #[command(flatten)]
    port: PortArguments,
    /// The level of the output that moves the gate out of rest
    #[arg(long, value_enum, required_unless_present = "none")]
    moves: Option<LevelName>,
    /// From the reading of a tag to the move, ms: as long as a cow takes from the reader to the gate
    #[arg(long, value_name = "MS", default_value_t = 9_000)]
    delay_ms: u16,
    /// How long the output keeps that level, ms
    #[arg(long, value_name = "MS", default_value_t = 1_000)]
    pulse_ms: u16,
    /// From one move on, how long no other is made, ms
    #[arg(long, value_name = "MS", default_value_t = 15_000)]
    hold_ms: u32,
    /// This computer may be silent for so long, s; then the gate rests
    #[arg(long, value_name = "S", default_value_t = 180)]
    silence_s: u16,
    /// Load on the first two plates beyond which the gate never moves, kg
    #[arg(long, value_name = "KG", default_value_t = 20.0)]
    first_kg: f32,
    /// There is no gate
    #[arg(long, conflicts_with = "moves")]
    none: bool,
}

/// Runs it.
///
/// # Errors
/// When the store or the device cannot be used.
pub fn run(arguments: &GateArguments, common: &Common) -> anyhow::Result<ExitCode> {
    match &arguments.command {
        None => show(arguments.since.as_ref(), common),
        Some(GateCommand::Hold(arguments)) => hold(arguments, common),
        Some(GateCommand::Release { animal }) => release(animal, common),
        Some(GateCommand::Set(arguments)) => set(arguments, common),
    }
}

/// What came of a cow, as a row of a table.
#[derive(Serialize)]
struct EventRow<'a> {
    lane: &'a str,
    time: Timestamp,
    animal_id: &'a str,
    outcome: &'static str,
}

fn row(event: &GateRecord) -> EventRow<'_> {
    EventRow {
        lane: &event.lane,
        time: event.time,
        animal_id: &event.animal.0,
        outcome: outcome_name(event.outcome),
    }
}

fn show(since: Option<&Day>, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let now = Timestamp::now();
    let mut day = GateDay::of(&store, now)?;
    if let Some(since) = Day::been(since, &store)? {
        let begin = since.to_datetime(Time::midnight()).to_zoned_datetime(store.time_zone()?)?;
        day.events = store.gate_events(begin.timestamp(), now)?;
    }
    let (gates, zone, names) = (gates(&store)?, store.time_zone()?, store.names()?);
    let words = common.words(&store)?;
    let events: Vec<EventRow<'_>> = day.events.iter().map(row).collect();
    common.format.print(
        &json!({ "day": day, "gates": gates, "events": events }),
        |table| table.rows(&events),
        || Ok(render(&day, &gates, &names, &zone, &words)),
    )?;
    Ok(ExitCode::Done)
}

fn hold(arguments: &HoldArguments, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let Some(animal) = animal::the_one(&store, &arguments.animal)? else { return Ok(ExitCode::BadInput) };
    if !animal::is_known(&store, &animal, "nobody is held back")? {
        return Ok(ExitCode::NotFound);
    }
    let mut notes = report::notes();
    let today = today(&store)?;
    if !store.tags_worn(today)?.contains_key(&animal) {
        writeln!(notes, "fourplate: {animal} wears no tag of 15 digits, so no gate would know her")?;
        return Ok(ExitCode::BadInput);
    }
    let until = Day::maybe(arguments.until.as_ref(), &store)?.unwrap_or(today);
    if until < today {
        writeln!(notes, "fourplate: {until} is over; nobody is held back")?;
        return Ok(ExitCode::BadInput);
    }
    let hold = Hold { animal, until, why: arguments.why.clone(), who: arguments.who.clone() };
    store.put_hold(&hold)?;
    let words = common.words(&store)?;
    let called = store.names()?.long(&hold.animal);
    let said = words.say("gate-held", json!({ "cow": called, "date": until }));
    let hours = store.setting("gate_hours")?.unwrap_or_default();
    common.format.print(
        &json!({ "hold": hold }),
        |table| table.rows([&hold]),
        || {
            let no_hours =
                if hours.is_empty() { words.text("gate-held-no-hours") + "\n" } else { String::new() };
            Ok(text::wrap(&said, 0) + "\n" + &text::wrap(&no_hours, 0))
        },
    )?;
    Ok(ExitCode::Done)
}

fn release(word: &str, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let Some(animal) = animal::the_one(&store, word)? else { return Ok(ExitCode::BadInput) };
    let gone = store.remove_hold(&animal)?;
    let words = common.words(&store)?;
    let said = if gone { "gate-released" } else { "gate-not-held" };
    let said = words.say(said, json!({ "cow": store.names()?.long(&animal) }));
    common.format.print(
        &json!({ "animal_id": animal.0, "released": gone }),
        |table| table.records(&["animal_id", "released"], [[&animal.0, &gone.to_string()]]),
        || Ok(said.clone() + "\n"),
    )?;
    Ok(ExitCode::Done)
}

fn set(arguments: &SetArguments, common: &Common) -> anyhow::Result<ExitCode> {
    let gate = arguments.moves.filter(|_| !arguments.none).map(|moves| GateSettings {
        moves_high: moves == LevelName::High,
        delay_ms: arguments.delay_ms,
        pulse_ms: arguments.pulse_ms,
        hold_ms: arguments.hold_ms,
        silence_s: arguments.silence_s,
        first_kg: Kilograms(arguments.first_kg),
    });
    if gate.is_some_and(|gate| !gate.valid()) {
        bail!(
            "a gate cannot be driven so: a delay of at most 60 s, a pulse of 50 ms to 10 s, no other move for the pulse to 2 min, \
             a silence of 90 s to an hour, 5 to 60 kg on the first plates"
        );
    }
    let words = words_of(common)?;
    if gate.is_some() {
        writeln!(report::notes(), "{}", text::wrap(&words.text("caution-gate"), 0))?;
    }
    let device = at_device(&arguments.port, common, |device| {
        if !device.is_sealed() {
            bail!(
                "the device is not paired, and takes a gate from its own store alone: `fourplate lane pair` by its cable"
            );
        }
        let id = device.device().context("the device said no hello")?.device;
        device.ask(&HostMessage::SetGate(gate), WAIT, Some(AGAIN), |answer| match answer {
            DeviceMessage::Orders(orders) if orders.gate == gate => Some(()),
            _ => None,
        })?;
        Ok(format!("{:016x}", id.0))
    })?;
    let said = words.say(if gate.is_some() { "gate-set" } else { "gate-none" }, json!({ "device": device }));
    common.format.print(
        &json!({ "device": device, "gate": gate }),
        |table| table.records(&["device", "gate"], [[&device, &gate.is_some().to_string()]]),
        || Ok(said.clone() + "\n"),
    )?;
    Ok(ExitCode::Done)
}
