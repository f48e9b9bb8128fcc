//! What is wrong with a file, and where.

use crate::record::finding::{Objection, coded, one_code};
use serde::Serialize;
use std::fmt;

/// Problems shown one by one; the rest is counted. Our choice.
pub const SHOWN: usize = 20;

/// What is wrong with a row, and in which column.
#[derive(Clone, Debug, PartialEq)]
pub struct RowFault {
    /// The column, where it is one column's fault.
    pub column: Option<&'static str>,
    /// What is wrong and what to do; the code of the objection where it is one.
    pub what: String,
    /// What stands against the entry, for whoever has words for it.
    pub objection: Option<Objection>,
}

impl RowFault {
    /// A fault of one column.
    pub fn of(column: &'static str, what: impl Into<String>) -> Self {
        Self { column: Some(column), what: what.into(), objection: None }
    }

    /// A fault of the whole row.
    pub fn row(what: impl Into<String>) -> Self {
        Self { column: None, what: what.into(), objection: None }
    }

    /// What stands against the entry of a row.
    #[must_use]
    pub fn against(objection: Objection) -> Self {
        Self { column: None, what: coded(&objection).to_string(), objection: Some(objection) }
    }
}

/// A fault at its place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Problem {
    /// The file.
    pub file: String,
    /// The line, from 1; 0 for the file as a whole.
    pub line: u64,
    /// The column, where it is one column's fault.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<&'static str>,
    /// What is wrong and what to do; the code of the objection where it is one.
    pub what: String,
    /// What stands against the entry, for whoever has words for it.
    #[serde(skip)]
    pub objection: Option<Objection>,
}

impl Problem {
    /// File, line and column.
    #[must_use]
    pub fn place(&self) -> String {
        let line = if self.line > 0 { format!(", line {}", self.line) } else { String::new() };
        let column = self.column.map_or_else(String::new, |column| format!(", column {column}"));
        format!("{}{line}{column}", self.file)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place(), self.what)
    }
}

/// A row taken in although something about it is odd.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Odd {
    /// The line, from 1.
    pub line: u64,
    /// What is odd.
    #[serde(serialize_with = "one_code")]
    pub objection: Objection,
}

/// The problems of one file: every row left out is one.
#[derive(Clone, Debug, Default)]
pub struct Problems {
    file: String,
    /// The first [`SHOWN`] of them.
    pub first: Vec<Problem>,
    /// All of them, count.
    pub count: u64,
    /// What is worth saying but leaves nothing out.
    pub notes: Vec<String>,
    /// The first [`SHOWN`] rows that were taken in although odd.
    pub odd: Vec<Odd>,
}

impl Problems {
    /// None yet.
    #[must_use]
    pub fn of(file: &str) -> Self {
        Self { file: file.to_owned(), ..Self::default() }
    }

    /// Adds one; `line` counts from 1, 0 means the file as a whole.
    pub fn add(&mut self, line: u64, fault: RowFault) {
        self.count += 1;
        if self.first.len() < SHOWN {
            let file = self.file.clone();
            let RowFault { column, what, objection } = fault;
            self.first.push(Problem { file, line, column, what, objection });
        }
    }

    /// Adds a row taken in although it is odd.
    pub fn odd(&mut self, line: u64, objection: Objection) {
        if self.odd.len() < SHOWN {
            self.odd.push(Odd { line, objection });
        }
    }

    /// Adds something worth saying, once.
    pub fn note(&mut self, note: String) {
        if self.notes.len() < SHOWN && !self.notes.contains(&note) {
            self.notes.push(note);
        }
    }
}
