//! The store's schema, one numbered step after another. A published step is never edited: add the next.

use crate::store::StoreError;
use rusqlite::{Connection, Transaction, TransactionBehavior};

/// Marks a file as a fourplate store ("4plt").
pub(super) const APPLICATION_ID: i32 = 0x3470_6c74;

/// Number and statements of every step, in rising order; the file's `user_version` is the last one done.
const STEPS: &[(u32, &str)] = &[
    (1, include_str!("migrations/001_to_012/001_core.sql")),
    (2, include_str!("migrations/001_to_012/002_cases.sql")),
    (3, include_str!("migrations/001_to_012/003_devices.sql")),
    (4, include_str!("migrations/001_to_012/004_scores.sql")),
    (5, include_str!("migrations/001_to_012/005_ledger.sql")),
    (6, include_str!("migrations/001_to_012/006_item_content.sql")),
    (7, include_str!("migrations/001_to_012/007_reader_offsets.sql")),
    (8, include_str!("migrations/001_to_012/008_animals.sql")),
    (9, include_str!("migrations/001_to_012/009_follow_ups.sql")),
    (10, include_str!("migrations/001_to_012/010_upkeep.sql")),
    (11, include_str!("migrations/001_to_012/011_people.sql")),
    (12, include_str!("migrations/001_to_012/012_pairing.sql")),
    (13, include_str!("migrations/013_messages.sql")),
    (14, include_str!("migrations/014_scoring_settings.sql")),
    (15, include_str!("migrations/015_other_devices.sql")),
    (16, include_str!("migrations/016_gate.sql")),
];

/// The newest schema this program knows.
pub(super) fn newest() -> u32 {
    STEPS.last().map_or(0, |step| step.0)
}

/// Brings the file up to the newest schema.
pub(super) fn migrate(connection: &Connection) -> Result<(), StoreError> {
    if check(connection)? == newest() {
        return Ok(());
    }
    let transaction = Transaction::new_unchecked(connection, TransactionBehavior::Immediate)?;
    // Another process may have migrated while this one waited for the lock.
    let done = check(&transaction)?;
    for (number, statements) in STEPS.iter().filter(|step| step.0 > done) {
        transaction.execute_batch(statements)?;
        transaction.pragma_update(None, "user_version", number)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.commit()?;
    Ok(())
}

/// Whether a file that cannot be written has the newest schema.
pub(super) fn is_newest(connection: &Connection) -> Result<(), StoreError> {
    if check(connection)? == newest() { Ok(()) } else { Err(StoreError::ReadOnly) }
}

/// The schema number of the file, 0 where it is new.
pub(super) fn check(connection: &Connection) -> Result<u32, StoreError> {
    let number = |name: &str| connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let found = u32::try_from(number("user_version")?).unwrap_or(u32::MAX);
    let tables: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    if tables > 0 && number("application_id")? != i64::from(APPLICATION_ID) {
        return Err(StoreError::NotAStore);
    }
    if found > newest() {
        return Err(StoreError::Newer { found, known: newest() });
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Store;

    #[test]
    fn a_store_of_an_older_schema_is_kept_beside_the_new_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("store.sqlite");
        let older = newest() - 1;
        let connection = Connection::open(&path).unwrap();
        for (number, statements) in STEPS.iter().filter(|step| step.0 <= older) {
            connection.execute_batch(statements).unwrap();
            connection.pragma_update(None, "user_version", number).unwrap();
        }
        connection.pragma_update(None, "application_id", APPLICATION_ID).unwrap();
        drop(connection);
        drop(Store::open(&path).unwrap());
        let schema = |path: &std::path::Path| check(&Connection::open(path).unwrap()).unwrap();
        let kept = folder.path().join(format!("store.sqlite.schema-{older}"));
        assert_eq!((schema(&path), schema(&kept)), (newest(), older));
        // Opened again, or made anew, there is nothing to keep.
        drop(Store::open(&path).unwrap());
        drop(Store::open(&folder.path().join("new.sqlite")).unwrap());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3);
    }

    #[test]
    fn steps_rise() {
        assert!(STEPS.windows(2).all(|pair| pair[0].0 < pair[1].0));
    }
}
