//! Which cow is meant on the command line.

use crate::commands::trim::case::today;
use crate::record::AnimalId;
use crate::record::names::{AskedBy, Meant};
use crate::report;
use crate::store::Store;
use std::io::Write;

/// Whom a word means today: an id, a number, a name, a tag, or last digits.
///
/// # Errors
/// When the store cannot be read.
pub fn meant(store: &Store, text: &str) -> anyhow::Result<Meant> {
    Ok(store.meant(&store.directory()?, text, today(store)?, AskedBy::Person)?)
}

/// The animal meant, or the word as given where nobody is known by it. `None` where several may be meant: that is said.
///
/// # Errors
/// When the store cannot be read, or the note not be written.
pub fn the_one(store: &Store, text: &str) -> anyhow::Result<Option<AnimalId>> {
    Ok(match meant(store, text)? {
        Meant::One(animal) => Some(animal),
        Meant::Unknown => Some(AnimalId(text.trim().to_owned())),
        Meant::Several(found) => {
            let names = store.names()?;
            let found: Vec<String> = found.iter().map(|animal| names.long(animal)).collect();
            writeln!(report::notes(), "fourplate: {text} may be {}; say which", found.join(", or "))?;
            None
        }
    })
}

/// Whether anybody here is called so. Where nobody is, it is said, with what comes of it.
///
/// # Errors
/// When the store cannot be read, or the note not be written.
pub fn is_known(store: &Store, animal: &AnimalId, so: &str) -> anyhow::Result<bool> {
    let known = store.directory()?.animals.contains(animal);
    if !known {
        writeln!(report::notes(), "fourplate: nobody here is called {animal}; {so}")?;
    }
    Ok(known)
}
