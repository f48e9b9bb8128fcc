//! Pairs a device with this store, by its cable: from then on the two hear only each other.

use crate::commands::cli::Common;
use crate::commands::device::lane::at_device;
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::commands::store_path;
use crate::link::Line;
use crate::link::connect::line_to_name;
use crate::report::text;
use crate::store::Store;
use anyhow::{Context, anyhow, bail};
use serde_json::json;
use shared::wire::{HostMessage, LinkKey};
use std::time::Duration;

/// The device says hello anew within this time; our choice: it calls every five seconds.
const WAIT: Duration = Duration::from_secs(15);

/// Which device.
#[derive(Debug, clap::Args)]
pub struct Pair {
    #[command(flatten)]
    port: PortArguments,
    /// Take the pairing back
    #[arg(long)]
    remove: bool,
}

/// Runs it.
///
/// # Errors
/// When the device cannot be reached, or not by a cable, or the key cannot be kept.
pub fn run(arguments: &Pair, common: &Common) -> anyhow::Result<ExitCode> {
    let address = arguments.port.tcp.as_ref().or(arguments.port.serve.as_ref());
    if address.is_some_and(|address| line_to_name(address) == Line::Network) {
        bail!("a device is paired by its cable only (--serial): over a network anybody may read it");
    }
    let path = store_path(common)?;
    let store = Store::open(&path).with_context(|| format!("store {}", path.display()))?;
    let words = common.words(&store)?;
    let paired = !arguments.remove;
    let id = at_device(&arguments.port, common, |device| {
        let id = device.device().context("the device said no hello")?.device;
        let held = store.link_key(id)?.filter(|_| device.is_sealed());
        match (arguments.remove, held) {
            (false, None) => {
                let mut key = LinkKey::NONE;
                getrandom::fill(&mut key.0).map_err(|_| anyhow!("the system gives no random bytes"))?;
                // The store has it first: a device with a key that nobody holds could not be spoken to any more.
                store.put_link_key(id, Some(key))?;
                device.meet_again(&HostMessage::Pair(key), true, WAIT)?;
            }
            (true, Some(_)) => {
                device.meet_again(&HostMessage::Pair(LinkKey::NONE), false, WAIT)?;
                store.put_link_key(id, None)?;
            }
            // It is as it is wanted; a key of which the device knows nothing is of no use.
            (true, None) => store.put_link_key(id, None)?,
            (false, Some(_)) => {}
        }
        Ok(id)
    })?;
    let said = if paired { "step-paired" } else { "step-not-paired" };
    let device = format!("{:016x}", id.0);
    let said = words.say(said, json!({ "device": device }));
    common.format.print(
        &json!({ "device": device, "paired": paired }),
        |table| table.records(&["device", "paired"], [[&device, &paired.to_string()]]),
        || Ok(text::wrap(&said, 0) + "\n"),
    )?;
    Ok(ExitCode::Done)
}
