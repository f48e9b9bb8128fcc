//! Which cow a row of a file means.

use crate::import::{RowError, RowFault};
use crate::record::AnimalId;
use crate::record::names::{AskedBy, Directory, Meant};
use crate::store::{Store, StoreError};
use jiff::civil::Date;
use std::collections::BTreeSet;

/// Unknown animals named before only their number is given. Our choice.
const NAMED: usize = 12;

/// Finds cows for the rows of a file, and keeps count of those that nobody knows.
pub(super) struct Who {
    directory: Directory,
    unknown: BTreeSet<String>,
}

impl Who {
    pub(super) fn of(store: &Store) -> Result<Self, StoreError> {
        Ok(Self { directory: store.directory()?, unknown: BTreeSet::new() })
    }

    /// The word to keep for the cow of a row: as given where it is a tag, a number or an id, or where nobody knows her
    /// yet; her id where it is her name or its last digits.
    pub(super) fn animal(
        &mut self,
        store: &Store,
        given: AnimalId,
        date: Date,
    ) -> Result<AnimalId, RowError> {
        if store.wearer(&given.0, Some(date))?.is_some() {
            return Ok(given);
        }
        match self.directory.meant(&given.0, AskedBy::File) {
            Meant::One(animal) => Ok(animal),
            Meant::Several(found) => {
                let found: Vec<String> =
                    found.iter().map(|animal| self.directory.names.long(animal)).collect();
                Err(RowFault::of(
                    "animal_id",
                    format!("`{given}` is one of {}; write which", found.join(", ")),
                )
                .into())
            }
            Meant::Unknown => {
                self.unknown.insert(given.0.clone());
                Ok(given)
            }
        }
    }

    /// What is said of the cows that nobody knows.
    pub(super) fn unknown_note(&self) -> Option<String> {
        if self.unknown.is_empty() {
            return None;
        }
        let named: Vec<&str> = self.unknown.iter().take(NAMED).map(String::as_str).collect();
        let more = match self.unknown.len().saturating_sub(NAMED) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        Some(format!(
            "nobody here is called {}{more}; what is said of them is kept, and counts once a passage or the register names them",
            named.join(", ")
        ))
    }
}
