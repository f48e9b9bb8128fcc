//! People who may log in to the pages.

use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::{open, open_store};
use crate::record::person::{Person, Role};
use crate::report;
use crate::report::output::Columns;
use crate::serve::sessions::hashed;
use clap::{Args, Subcommand};
use std::io::{BufRead, IsTerminal, Write};

/// People of the pages.
#[derive(Debug, Args)]
pub struct PersonArgs {
    #[command(subcommand)]
    command: PersonCommand,
}

/// What to do.
#[derive(Debug, Subcommand)]
enum PersonCommand {
    /// Let somebody log in, or give a new role and password; the password is asked for, or read as a line
    Add {
        /// The name to log in with
        name: String,
        /// look: read; record: enter marks and cases too; administer: see who entered what too
        #[arg(long, default_value = "record", value_parser = role)]
        role: Role,
    },
    /// Let somebody in no more, at once
    Remove {
        /// The name
        name: String,
    },
    /// Show who may log in
    List,
}

fn role(text: &str) -> Result<Role, String> {
    Role::from_name(text).ok_or_else(|| "look, record or administer".to_owned())
}

/// Adds, removes or shows people.
///
/// # Errors
/// When the store cannot be used, or the password is too short.
pub fn run(args: &PersonArgs, common: &Common) -> anyhow::Result<ExitCode> {
    match &args.command {
        PersonCommand::Add { name, role } => {
            let name = name.trim();
            anyhow::ensure!(
                !name.is_empty() && name.chars().all(|c| !c.is_control()),
                "a name is a line of text"
            );
            let password = password()?;
            let person = Person { name: name.to_owned(), role: *role, password: hashed(&password)? };
            open_store(common)?.put_person(&person)?;
            writeln!(report::notes(), "fourplate: {name} may log in now: {}", role.name())?;
        }
        PersonCommand::Remove { name } => {
            if !open::existing(common)?.remove_person(name)? {
                writeln!(report::notes(), "fourplate: there is no {name}")?;
                return Ok(ExitCode::NotFound);
            }
        }
        PersonCommand::List => {
            let people = open::existing(common)?.people()?;
            common.format.print(
                &people,
                |table| table.columns(COLUMNS, &people),
                || {
                    Ok(people
                        .iter()
                        .map(|person| format!("{}: {}\n", person.name, person.role.name()))
                        .collect())
                },
            )?;
        }
    }
    Ok(ExitCode::Done)
}

const COLUMNS: &Columns<Person> =
    &[("name", |person| person.name.clone()), ("role", |person| person.role.name().to_owned())];

fn password() -> anyhow::Result<String> {
    let input = std::io::stdin();
    if input.is_terminal() {
        let prompt =
            dialoguer::Password::new().with_prompt("Password").with_confirmation("Again", "They differ");
        return Ok(prompt.interact()?);
    }
    let mut line = String::new();
    input.lock().read_line(&mut line)?;
    Ok(line.trim_end_matches(['\r', '\n']).to_owned())
}
