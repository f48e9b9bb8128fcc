//! The command line: definitions only.

use crate::commands::data::{export, farm, import, person};
pub use crate::report::Format;
use crate::report::words::{Language, Words};
use crate::store::{Store, StoreError};
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// Which leg is she saving, how much, since when, and is it getting better?
#[derive(Debug, Parser)]
#[command(name = "fourplate", version, about, propagate_version = true)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// What holds for every command.
    #[command(flatten)]
    pub common: Common,
}

/// Options of every command.
#[derive(Clone, Debug, Args)]
pub struct Common {
    /// The store (default: fourplate/store.sqlite under the user's data directory)
    #[arg(long, global = true, value_name = "PATH", env = "FOURPLATE_STORE")]
    pub store: Option<PathBuf>,
    /// How to print
    #[arg(long, global = true, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Write CSV cells as they are, also those that a spreadsheet would run as a formula
    #[arg(long, global = true)]
    pub raw: bool,
    /// The language of lists, cows and cases (default: the farm's)
    #[arg(long, global = true, value_enum)]
    pub language: Option<Language>,
}

impl Common {
    /// The words in the language asked for, or the farm's own.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn words(&self, store: &Store) -> Result<Words, StoreError> {
        let language = match self.language {
            Some(language) => language,
            None => store.setting("language")?.and_then(|tag| Language::of_tag(&tag)).unwrap_or_default(),
        };
        Ok(Words::new(language))
    }
}

/// The catalogue is read for the one who asks for the help, and not at every start.
fn with_visit_help(command: clap::Command) -> clap::Command {
    command.after_help(Words::new(Language::English).text("visit-help"))
}

/// What fourplate can do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Bring in files; what is there already is not added again
    Import(import::ImportArgs),
    /// Write tables for other programs
    Export(export::ExportArgs),
    /// Show the settings of the farm, or change some
    Farm(farm::FarmArgs),
    /// Let people log in to the pages of `serve`, or no more
    Person(person::PersonArgs),
    /// Print the morning list: which cows to look at, which leg first
    List(crate::commands::herd::list::ListArgs),
    /// Mark a cow: looked, booked, dry, sold, died, lent or back
    Mark(crate::commands::herd::mark::MarkArgs),
    /// Show one cow's history
    Cow(crate::commands::herd::cow::CowArgs),
    /// Tell how good the list is here, against observers, lesions or an outside truth
    Evaluate(crate::commands::herd::evaluate::EvaluateArgs),
    /// Tell people what cannot wait: urgent cows, a silent lane, withdrawals that are over
    Tell(crate::commands::herd::tell::TellArgs),
    /// Show the list as web pages on this machine; marks are set there too
    Serve(crate::commands::herd::serve::ServeArgs),
    /// Listen to lane devices: store what they send, then acknowledge it
    Listen(crate::commands::device::listen::Listen),
    /// Show how the lanes are, and what to do about it; calibrate and set a lane
    Lane(crate::commands::device::lane::LaneArguments),
    /// Whom the gate behind the plates holds back, and what came of it; hold a cow; how a device drives it
    Gate(crate::commands::device::gate::GateArguments),
    /// Copy the store into a new file, while it is in use
    Backup(crate::commands::data::backup::Backup),
    /// Put a backup in the place of the store
    Restore(crate::commands::data::backup::Restore),
    /// Print the completion script of a shell
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual page
    Manual,
    /// Enter, follow up, correct, show and list the trimmer's cases
    Case {
        /// What to do
        #[command(subcommand)]
        command: crate::commands::trim::case::CaseCommand,
    },
    /// A day at the crush: cow after cow, a line a foot, and the sheet of the visit
    #[command(defer(with_visit_help))]
    Visit(crate::commands::trim::visit::Visit),
    /// Hold a cow against herself before and after a trim
    Compare(crate::commands::trim::compare::Compare),
    /// List the feet to look at again, by day
    Recheck(crate::commands::trim::recheck::RecheckArguments),
    /// Score every cow and day anew; write the day table, the smoothed history, the lanes' errors
    Rescore(crate::commands::data::rescore::Rescore),
    /// Count how cases went
    Outcomes(crate::commands::trim::outcomes::Outcomes),
}
