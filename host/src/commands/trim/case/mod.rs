//! The trimmer's case: enter, follow up, correct, show, list.

mod add;
pub(crate) mod ask;
pub(crate) mod fields;
mod follow;
mod show;

pub(crate) use follow::against;

use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::{open, open_store};
use clap::Subcommand;
use jiff::{Timestamp, civil::Date};

/// What to do with cases.
#[derive(Debug, Subcommand)]
pub enum CaseCommand {
    /// Enter what was found and done on a foot
    #[command(after_help = add::EXAMPLES)]
    Add(Box<add::Add>),
    /// Enter a later look at a treated foot
    Follow(follow::Follow),
    /// Correct fields of a case; what they were is kept
    Correct(follow::Correct),
    /// Withdraw a case that should not count; it is kept, with the reason
    Withdraw(follow::Withdraw),
    /// Let a withdrawn case count again
    Reinstate(follow::Withdraw),
    /// Show one case with its follow-ups and corrections
    Show {
        /// Number of the case
        case: i64,
    },
    /// List cases, newest first
    List(show::List),
}

/// Runs a case command.
///
/// # Errors
/// When the store cannot be used or the output cannot be written.
pub fn run(command: &CaseCommand, common: &Common) -> anyhow::Result<ExitCode> {
    let store = match command {
        CaseCommand::Add(_) => open_store(common)?,
        _ => open::existing(common)?,
    };
    match command {
        CaseCommand::Add(arguments) => add::run(arguments, &store, common),
        CaseCommand::Follow(arguments) => follow::run(arguments, &store, common),
        CaseCommand::Correct(arguments) => follow::correct(arguments, &store, common),
        CaseCommand::Withdraw(arguments) => follow::withdraw(arguments, &store, common),
        CaseCommand::Reinstate(arguments) => follow::reinstate(arguments, &store, common),
        CaseCommand::Show { case } => show::one(*case, &store, common),
        CaseCommand::List(arguments) => show::list(arguments, &store, common),
    }
}

/// The farm's day of now.
///
/// # Errors
/// When the store cannot be read.
pub fn today(store: &crate::store::Store) -> anyhow::Result<Date> {
    Ok(store.time_zone()?.to_datetime(Timestamp::now()).date())
}

/// Whether questions can be asked of a person.
fn can_ask() -> bool {
    use std::io::IsTerminal;
    std::io::stdin().is_terminal() && std::io::stderr().is_terminal()
}
