//! Bringing files in. Every import can be repeated: what is there already is not added again.

pub mod capture;
pub mod input;
pub mod layout;
pub mod lines;
pub mod parsed;
pub mod passages;
pub mod problems;
pub mod readings;
pub mod records;
pub mod table;
pub mod undo;
pub mod value;

pub use input::{Checksummed, Input};
pub use problems::{Odd, Problem, Problems, RowFault};
pub use table::{Column, NextRow, Row, Table};

use crate::store::{SourceCounts, SourceId, Store, StoreError};
use jiff::Timestamp;
use serde::Serialize;
use std::io::Read;

/// Rows or passages stored together. Our choice: a kill loses less than a second of work.
pub const BATCH: usize = 1000;

/// What the import of one file did.
#[derive(Clone, Debug, Serialize)]
pub struct Outcome {
    /// The file.
    pub file: String,
    /// What it held: `readings`, `tags` ...
    pub kind: &'static str,
    /// Rows read, good and bad.
    pub rows: u64,
    /// What was new or corrected something.
    pub added: u64,
    /// What was there before.
    pub already: u64,
    /// Problems, count.
    pub bad: u64,
    /// The first problems.
    pub problems: Vec<Problem>,
    /// What is worth saying but left nothing out.
    pub notes: Vec<String>,
    /// Rows taken in although odd.
    pub odd: Vec<Odd>,
}

/// Why an import stopped.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The file cannot be read to its end.
    #[error("the file cannot be read to its end")]
    Read(#[from] std::io::Error),
}

/// Imports a file: `take` gets its table, where it has one, with the source, what is counted, and the problems.
fn file(
    store: &Store,
    kind: &'static str,
    input: Input,
    columns: &[Column],
    take: impl FnOnce(&mut FileTable<'_>, SourceId, &mut SourceCounts, &mut Problems) -> Result<(), ImportError>,
) -> Result<Outcome, ImportError> {
    let (name, counted) = (input.name.clone(), input.counted());
    let mut problems = Problems::of(&name);
    let mut counts = SourceCounts::default();
    let table = Table::open(layout::documented(input, columns, &mut problems)?, columns, &mut problems)?;
    let source = store.begin_source(kind, &name, Timestamp::now())?;
    if let Some(mut table) = table {
        take(&mut table, source, &mut counts, &mut problems)?;
        counts.rows = table.rows();
    }
    (counts.bytes, counts.crc32, counts.bad) = (counted.bytes(), counted.crc32(), problems.count);
    store.finish_source(source, &counts, Timestamp::now())?;
    Ok(Outcome::new(kind, name, &counts, problems))
}

/// The table of a file in the documented form.
type FileTable<'c> = Table<'c, Box<dyn Read + Send>>;

/// Imports a file of rows that each stand alone: `put` reads a row and stores it, and says whether that was new.
///
/// # Errors
/// When the file cannot be read or the store cannot be written; what was stored before stays.
pub fn rows(
    store: &Store,
    kind: &'static str,
    input: Input,
    columns: &[Column],
    mut put: impl FnMut(&Store, &Row<'_>, &mut Problems) -> Result<bool, RowError>,
) -> Result<Outcome, ImportError> {
    file(store, kind, input, columns, |table, _, counts, problems| {
        let mut more = true;
        while more {
            more = store.batch(|store| {
                for _ in 0..BATCH {
                    let Some(row) = table.next_row(problems)? else {
                        return Ok::<_, ImportError>(false);
                    };
                    match put(store, &row, problems) {
                        Ok(true) => counts.added += 1,
                        Ok(false) => counts.already += 1,
                        Err(RowError::RowFault(fault)) => problems.add(row.line, fault),
                        Err(RowError::Store(error)) => return Err(error.into()),
                    }
                }
                Ok(true)
            })?;
        }
        Ok(())
    })
}

/// Why a row was not stored.
#[derive(Debug)]
pub enum RowError {
    /// The row is bad: it is left out, the import goes on.
    RowFault(RowFault),
    /// The store failed: the import stops.
    Store(StoreError),
}

impl From<RowFault> for RowError {
    fn from(fault: RowFault) -> Self {
        Self::RowFault(fault)
    }
}

impl From<StoreError> for RowError {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

impl Outcome {
    /// Takes in what another importer made of the same file.
    pub(crate) fn join(&mut self, other: Self) {
        self.rows += other.rows;
        self.added += other.added;
        self.already += other.already;
        self.bad += other.bad;
        self.problems.extend(other.problems);
        self.notes.extend(other.notes);
        self.odd.extend(other.odd);
    }

    /// Counts faults that were found before the rows were; each with its line.
    pub(crate) fn refuse(&mut self, faults: Vec<(u64, RowFault)>) {
        let mut problems = Problems::of(&self.file);
        faults.into_iter().for_each(|(line, fault)| problems.add(line, fault));
        self.bad += problems.count;
        self.rows += problems.count;
        self.problems.extend(problems.first);
        self.problems.truncate(problems::SHOWN);
    }

    /// What was counted, and what is wrong.
    #[must_use]
    pub fn new(kind: &'static str, file: String, counts: &SourceCounts, problems: Problems) -> Self {
        Self {
            file,
            kind,
            rows: counts.rows,
            added: counts.added,
            already: counts.already,
            bad: problems.count,
            problems: problems.first,
            notes: problems.notes,
            odd: problems.odd,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_found_before_the_rows_count_as_rows_and_only_the_first_are_shown() {
        let counts = SourceCounts { rows: 3, ..SourceCounts::default() };
        let mut problems = Problems::of("a file");
        problems.add(2, RowFault::row("of a row"));
        let mut outcome = Outcome::new("ade", "a file".to_owned(), &counts, problems);
        let faults = |lines: std::ops::Range<u64>| lines.map(|line| (line, RowFault::row("early"))).collect();
        // 3 + 2 rows, 1 + 2 of them bad.
        outcome.refuse(faults(4..6));
        assert_eq!((outcome.rows, outcome.bad), (5, 3));
        let shown: Vec<_> = outcome.problems.iter().map(|problem| (problem.line, &*problem.what)).collect();
        assert_eq!(shown, [(2, "of a row"), (4, "early"), (5, "early")]);
        // 3 are shown, of 25 more only 17 up to the 20.
        outcome.refuse(faults(10..35));
        assert_eq!((outcome.rows, outcome.bad, outcome.problems.len()), (30, 28, 20));
        assert_eq!(outcome.problems[19].line, 26);
    }
}
