//! How an answer leaves: text for people, CSV for tables, JSON for programs, each made only where it is asked for.

pub mod csv;
pub mod day_rows;
pub mod json;

use self::csv::Guarded;
use anyhow::Context;
use serde::Serialize;
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

/// A column of a table: its name and what a row has there.
pub type Column<R> = (&'static str, fn(&R) -> String);
/// Columns of a table, in order.
pub type Columns<R> = [Column<R>];

/// A table on its way out; cells that a spreadsheet would run are guarded.
pub struct Table<W: Write>(::csv::Writer<Guarded<W>>);

impl<W: Write> Table<W> {
    /// Writes a header and the rows under it.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn columns<R>(&mut self, columns: &Columns<R>, rows: &[R]) -> anyhow::Result<()> {
        self.0.write_record(columns.iter().map(|(name, _)| name))?;
        for row in rows {
            self.0.write_record(columns.iter().map(|(_, cell)| cell(row)))?;
        }
        Ok(())
    }

    /// Writes rows with the names of their fields as the header.
    ///
    /// # Errors
    /// When they cannot be written.
    pub fn rows<R: Serialize>(&mut self, rows: impl IntoIterator<Item = R>) -> anyhow::Result<()> {
        rows.into_iter().try_for_each(|row| Ok(self.0.serialize(row)?))
    }

    /// Writes a header and rows whose width is known only now.
    ///
    /// # Errors
    /// When they cannot be written.
    pub fn records<C: AsRef<[u8]>, R: IntoIterator<Item = C>>(
        &mut self,
        header: &[&str],
        rows: impl IntoIterator<Item = R>,
    ) -> anyhow::Result<()> {
        self.0.write_record(header)?;
        rows.into_iter().try_for_each(|row| Ok(self.0.write_record(row)?))
    }
}

impl Format {
    /// Prints an answer to standard output: its fields, its table or its text.
    ///
    /// # Errors
    /// When it cannot be made or written.
    pub fn print(
        self,
        fields: &impl Serialize,
        table: impl FnOnce(&mut Table<anstream::AutoStream<io::Stdout>>) -> anyhow::Result<()>,
        text: impl FnOnce() -> anyhow::Result<String>,
    ) -> anyhow::Result<()> {
        match self {
            Self::Json => json::write(out(), fields),
            Self::Csv => as_table(out(), table),
            Self::Text => Ok(out().write_all(text()?.as_bytes())?),
        }
    }

    /// Whether a person reads it.
    #[must_use]
    pub fn for_people(self) -> bool {
        self == Self::Text
    }

    /// Writes one after another without holding them all: as a JSON array of their fields, or as a table.
    ///
    /// # Errors
    /// When they cannot be written.
    pub fn write<R: Serialize, W: Write>(
        self,
        mut out: W,
        rows: impl IntoIterator<Item = R>,
        table: impl FnOnce(&mut Table<&mut W>) -> anyhow::Result<()>,
    ) -> anyhow::Result<()> {
        match self {
            Self::Json => json::write_rows(&mut out, rows),
            Self::Csv | Self::Text => as_table(&mut out, table),
        }
    }

    /// Writes rows one after another: the names of their fields are those of the columns.
    ///
    /// # Errors
    /// When they cannot be written.
    pub fn write_rows<R: Serialize>(
        self,
        out: impl Write,
        rows: impl IntoIterator<Item = R>,
    ) -> anyhow::Result<()> {
        match self {
            Self::Json => json::write_rows(out, rows),
            Self::Csv | Self::Text => as_table(out, |table| table.rows(rows)),
        }
    }
}

fn as_table<W: Write>(out: W, write: impl FnOnce(&mut Table<W>) -> anyhow::Result<()>) -> anyhow::Result<()> {
    let mut table = Table(csv::writer(out));
    write(&mut table)?;
    Ok(table.0.flush()?)
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
