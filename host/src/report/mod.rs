//! How results are printed: text for people, CSV for tables, JSON for programs.

pub mod cow;
pub mod csv;
pub mod day_table;
pub mod evaluation;
pub mod exchange;
pub mod farm;
#[cfg(test)]
pub mod invented;
pub mod json;
pub mod lane;
pub mod list;
pub mod live;
pub mod pages;
pub mod spark;
#[cfg(test)]
mod speed;
pub mod style;
pub mod text;
pub mod trim;
pub mod words;

use anyhow::Context;
use std::{
    fs::File,
    io::{self, BufWriter, Write},
    path::Path,
};

/// How results are printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// For people, 80 columns.
    Text,
    /// For programs.
    Json,
    /// For tables.
    Csv,
}

/// Standard output for text: styles are dropped where it is no terminal or `NO_COLOR` is set.
#[must_use]
pub fn out() -> anstream::AutoStream<io::Stdout> {
    anstream::stdout()
}

/// Standard error for notes and problems, styled likewise.
#[must_use]
pub fn notes() -> anstream::AutoStream<io::Stderr> {
    anstream::stderr()
}

/// Where an export goes: a file, or standard output where none is named or it is `-`.
///
/// # Errors
/// When the file cannot be made.
pub fn destination(path: Option<&Path>) -> anyhow::Result<Box<dyn Write>> {
    Ok(match path.filter(|path| *path != Path::new("-")) {
        Some(path) => {
            let file = File::create(path).with_context(|| format!("cannot write {}", path.display()))?;
            Box::new(BufWriter::new(file))
        }
        None => Box::new(BufWriter::new(io::stdout())),
    })
}
