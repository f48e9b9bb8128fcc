//! Show and change the settings of the farm.

use crate::commands::cli::{Common, Format};
use crate::commands::exit_code::ExitCode;
use crate::report;
use crate::report::text;
use crate::store::{SETTINGS, Setting, Store, StoreError};
use clap::Args;
use serde::Serialize;
use std::io::Write;

/// Show the settings, or change some.
#[derive(Debug, Args)]
pub struct FarmArgs {
    /// Settings to change, such as time_zone=Europe/Amsterdam
    #[arg(value_name = "KEY=VALUE")]
    changes: Vec<String>,
}

#[derive(Serialize)]
struct SettingLine {
    key: &'static str,
    value: String,
    about: &'static str,
}

/// Changes what is named, then shows every setting.
///
/// # Errors
/// When the store fails.
pub fn run(args: &FarmArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = crate::commands::open_store(common)?;
    let changed = store.batch(|store| {
        args.changes.iter().try_for_each(|change| {
            let (key, value) = change.split_once('=').unwrap_or((change, ""));
            store.set_setting(key.trim(), value.trim())
        })
    });
    match changed {
        Err(error @ StoreError::Setting { .. }) => {
            writeln!(report::notes(), "fourplate: {error}")?;
            return Ok(ExitCode::Usage);
        }
        other => other?,
    }
    show(&store, common.format)?;
    Ok(ExitCode::Done)
}

fn show(store: &Store, format: Format) -> anyhow::Result<()> {
    let line = |setting: &'static Setting| {
        let value = store.setting(setting.key)?.unwrap_or_default();
        Ok::<_, StoreError>(SettingLine { key: setting.key, value, about: setting.about })
    };
    let lines = SETTINGS.iter().map(line).collect::<Result<Vec<_>, _>>()?;
    format.print(
        &lines,
        |table| table.rows(&lines),
        || {
            let mut table = text::table(&["setting", "value", "what it is"]);
            for line in &lines {
                table.add_row([line.key, &line.value, line.about]);
            }
            Ok(text::render(&table))
        },
    )
}
