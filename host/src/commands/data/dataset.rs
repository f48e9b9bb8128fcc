//! Share the farm's data with an organisation, or stop doing so.

use crate::commands::cli::Format;
use crate::commands::exit_code::ExitCode;
use crate::report;
use crate::report::exchange::dataset::{self, DatasetError};
use crate::store::Store;
use clap::Args;
use std::io::Write;
use std::path::PathBuf;

/// Which data set, and what is to become of the farm's part of it.
#[derive(Debug, Args)]
pub struct DatasetArgs {
    /// The folder of the data set
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Whose data set it is; an empty folder becomes theirs
    #[arg(long, value_name = "NAME")]
    organisation: Option<String>,
    /// Take the farm's part out of it
    #[arg(long)]
    leave: bool,
}

/// Writes and extends the farm's part, or takes it out.
///
/// # Errors
/// When the store cannot be read, or the data set cannot be written.
pub fn run(store: &Store, args: &DatasetArgs, format: Format) -> anyhow::Result<ExitCode> {
    let done = if args.leave {
        dataset::leave(store, &args.folder)
    } else {
        dataset::write(store, &args.folder, args.organisation.as_deref())
    };
    let done = match done {
        Err(
            error @ (DatasetError::NoDataset(_)
            | DatasetError::Organisation { .. }
            | DatasetError::NotShared(_)
            | DatasetError::NoCode
            | DatasetError::Twice(_)),
        ) => {
            writeln!(report::notes(), "fourplate: {error}")?;
            return Ok(ExitCode::Usage);
        }
        done => done?,
    };
    let text = if args.leave {
        format!("{} left the data set of {}\n", done.farm, done.organisation)
    } else {
        format!(
            "{} in the data set of {}: {} passages; files written {}, as they were {}, taken away {}\n",
            done.farm,
            done.organisation,
            done.passages,
            done.files_written,
            done.files_kept,
            done.files_removed
        )
    };
    format.print(&done, |table| table.rows([&done]), || Ok(text))?;
    Ok(ExitCode::Done)
}
