//! The lanes: how they are, and a person's work at one of them.

pub mod calibrate;
mod check;
mod pair;
pub mod person;
mod raw;
mod settings;
mod status;
mod update;
mod verify;

use crate::commands::cli::Common;
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::commands::{open_store, store_path};
use crate::link::StoreKeeper;
use crate::link::connect::Port;
use crate::link::operator::Operator;
use crate::report::words::Words;
use crate::store::Store;
use anyhow::Context;
use jiff::Timestamp;
use std::sync::{Arc, atomic::AtomicBool};

/// How the lanes are, or work at one of them.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct LaneArguments {
    #[command(subcommand)]
    command: Option<LaneCommand>,
}

#[derive(Debug, clap::Subcommand)]
enum LaneCommand {
    /// Calibrate a lane: empty plates, a known weight on each, checks at the corners
    #[command(after_help = calibrate::CAUTIONS)]
    Calibrate(calibrate::Calibrate),
    /// Hold a known weight on each plate, in the middle and at a corner, against the limits of a scale
    #[command(after_help = calibrate::CAUTIONS)]
    Verify(verify::Verify),
    /// What a lane can see: passages that can be used, how well it repeats itself, the smallest change told
    Check(check::CheckArguments),
    /// Read the settings of a device, or change some
    Settings(settings::SettingsArguments),
    /// Pair a device with this store by its cable; over a network only paired devices are believed
    Pair(pair::Pair),
    /// Give a paired device a new program, tried before the old one is given up
    #[command(after_help = update::CAUTIONS)]
    Update(update::UpdateArguments),
    /// Look at the raw readings of a device for a while, and record them
    Raw(raw::Raw),
}

/// Runs it.
///
/// # Errors
/// When the store or the device cannot be used.
pub fn run(arguments: &LaneArguments, common: &Common) -> anyhow::Result<ExitCode> {
    match &arguments.command {
        None => {
            let store = open_store(common)?;
            status::run(&store, common.format, &common.words(&store)?, Timestamp::now())
        }
        Some(LaneCommand::Calibrate(arguments)) => calibrate::run(arguments, common),
        Some(LaneCommand::Verify(arguments)) => verify::run(arguments, common),
        Some(LaneCommand::Check(arguments)) => check::run(arguments, common),
        Some(LaneCommand::Settings(arguments)) => settings::run(arguments, common),
        Some(LaneCommand::Pair(arguments)) => pair::run(arguments, common),
        Some(LaneCommand::Update(arguments)) => update::run(arguments, common),
        Some(LaneCommand::Raw(arguments)) => raw::run(arguments, common),
    }
}

/// A device and the person at it. What the device delivers meanwhile goes into the store, as with `listen`.
pub type AtDevice<'s> = Operator<'s, Box<dyn Port>, StoreKeeper<'s>>;

/// The words of the farm's language, before a device is worked at.
pub fn words_of(common: &Common) -> anyhow::Result<Words> {
    let path = store_path(common)?;
    let store = Store::open(&path).with_context(|| format!("store {}", path.display()))?;
    Ok(common.words(&store)?)
}

/// Works at a device.
pub fn at_device<T>(
    port: &PortArguments,
    common: &Common,
    work: impl FnOnce(&mut AtDevice<'_>) -> anyhow::Result<T>,
) -> anyhow::Result<T> {
    let path = store_path(common)?;
    let store = Store::open(&path).with_context(|| format!("store {}", path.display()))?;
    let stop = Arc::new(AtomicBool::new(false));
    let stopped = Arc::clone(&stop);
    ctrlc::set_handler(move || stopped.store(true, std::sync::atomic::Ordering::Relaxed))
        .context("cannot watch for ctrl-c")?;
    let name = port.name();
    let (port, line) = port.open(&stop).with_context(|| name.clone())?;
    let source = store.begin_source("link", &name, Timestamp::now())?;
    let mut operator = Operator::meet(port, line, StoreKeeper::new(&store, source), &stop)?;
    let result = work(&mut operator);
    let kept = operator.kept();
    operator.end()?;
    store.finish_source(source, &kept.as_source(), Timestamp::now())?;
    result
}
