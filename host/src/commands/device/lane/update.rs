//! A new program for a device, over the line of a paired one.

use crate::commands::cli::Common;
use crate::commands::device::lane::{at_device, words_of};
use crate::commands::device::port::PortArguments;
use crate::commands::exit_code::ExitCode;
use crate::link::operator::program::{Bringing, Came, Program};
use crate::progress;
use crate::report::{notes, text};
use anyhow::Context;
use serde::Serialize;
use serde_json::json;
use std::{io::Write, path::PathBuf};

/// Said before it begins, and in the help.
pub const CAUTIONS: &str = "\
The device must be paired. Do it between two milkings: it starts afresh, and for
up to a minute no passage is weighed, and a gate behind the lane rests. Nothing
that waits in its journal is lost. Keep its power on; should the power fail, the
program before or the new one runs, whole. Where the new one does not come up,
the one before comes back by itself.";

/// Which program, and for which device.
#[derive(Debug, clap::Args)]
pub struct UpdateArguments {
    #[command(flatten)]
    port: PortArguments,
    /// The program, as it lies in its slot (firmware/README.md says how it is built)
    file: PathBuf,
}

/// What came of it.
#[derive(Debug, Serialize)]
struct UpdateRow {
    device: String,
    version: String,
    outcome: &'static str,
}

/// Runs it.
///
/// # Errors
/// When the file is no program, the device cannot be reached, or the program cannot run there.
pub fn run(arguments: &UpdateArguments, common: &Common) -> anyhow::Result<ExitCode> {
    let words = words_of(common)?;
    let bytes = std::fs::read(&arguments.file).with_context(|| arguments.file.display().to_string())?;
    let length = bytes.len() as u64;
    let program = Program::of(bytes).with_context(|| arguments.file.display().to_string())?;
    // Where the log cannot be written nobody misses it.
    let _ = writeln!(notes(), "{}", text::wrap(&words.text("program-cautions"), 0));
    let bar = progress::bytes(&version(program.version), Some(length));
    let (device, came) = at_device(&arguments.port, common, |device| {
        let mut waits = false;
        let came = device.bring(&program, |now| match now {
            Bringing::Bytes(done, _) => {
                waits = false;
                bar.set_position(u64::from(done));
            }
            Bringing::Cow if waits => {}
            Bringing::Cow => {
                waits = true;
                bar.suspend(|| writeln!(notes(), "{}", words.text("program-cow")).unwrap_or_default());
            }
            Bringing::Starts => {
                bar.finish_and_clear();
                let _ = writeln!(notes(), "{}", words.text("program-starts"));
            }
        })?;
        let id = device.device().context("the device said no hello")?.device;
        Ok((format!("{:016x}", id.0), came))
    })?;
    let (outcome, said, runs) = match came {
        Came::Up => ("up", "program-up", program.version),
        Came::FellBack(before) => ("fell back", "program-fell-back", before),
        Came::OnTrial => ("on trial", "program-on-trial", program.version),
    };
    let version = version(runs);
    let said = words.say(said, json!({ "device": &device, "version": &version }));
    let row = UpdateRow { device, version, outcome };
    common.format.print(&row, |table| table.rows([&row]), || Ok(text::wrap(&said, 0) + "\n"))?;
    Ok(if came == Came::Up { ExitCode::Done } else { ExitCode::Failed })
}

fn version([major, minor, patch]: [u8; 3]) -> String {
    format!("{major}.{minor}.{patch}")
}
