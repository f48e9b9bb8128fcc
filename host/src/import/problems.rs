//! What is wrong with a file, and where.

use serde::Serialize;
use std::fmt;

/// Problems shown one by one; the rest is counted. Our choice.
pub const SHOWN: usize = 20;

/// What is wrong with a row, and in which column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RowFault {
    /// The column, where it is one column's fault.
    pub column: Option<&'static str>,
    /// What is wrong and what to do.
    pub what: String,
}

impl RowFault {
    /// A fault of one column.
    pub fn of(column: &'static str, what: impl Into<String>) -> Self {
        Self { column: Some(column), what: what.into() }
    }

    /// A fault of the whole row.
    pub fn row(what: impl Into<String>) -> Self {
        Self { column: None, what: what.into() }
    }
}

/// A fault at its place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// The file.
    pub file: String,
    /// The line, from 1; 0 for the file as a whole.
    pub line: u64,
    /// The column, where it is one column's fault.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<&'static str>,
    /// What is wrong and what to do.
    pub what: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if self.line > 0 {
            write!(f, ", line {}", self.line)?;
        }
        if let Some(column) = self.column {
            write!(f, ", column {column}")?;
        }
        write!(f, ": {}", self.what)
    }
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
            self.first.push(Problem { file, line, column: fault.column, what: fault.what });
        }
    }

    /// Adds something worth saying, once.
    pub fn note(&mut self, note: String) {
        if self.notes.len() < SHOWN && !self.notes.contains(&note) {
            self.notes.push(note);
        }
    }
}
