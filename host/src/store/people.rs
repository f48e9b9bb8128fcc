//! People of the pages, and what they did.

use crate::record::person::{Deed, Person, Role};
use crate::store::{Store, StoreError};
use jiff::Timestamp;
use rusqlite::{OptionalExtension, Row, params};

fn person(row: &Row<'_>) -> rusqlite::Result<Person> {
    let role: String = row.get(1)?;
    // A role that is not known may do the least.
    Ok(Person {
        name: row.get(0)?,
        role: Role::from_name(&role).unwrap_or(Role::Look),
        password: row.get(2)?,
    })
}

impl Store {
    /// Adds a person, or changes role and password of one.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_person(&self, person: &Person) -> Result<(), StoreError> {
        self.connection().execute(
            "INSERT INTO people (name, role, password) VALUES (?1, ?2, ?3)
             ON CONFLICT (name) DO UPDATE SET role = excluded.role, password = excluded.password",
            params![person.name, person.role.name(), person.password],
        )?;
        Ok(())
    }

    /// Takes a person out; says whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn remove_person(&self, name: &str) -> Result<bool, StoreError> {
        Ok(self.connection().execute("DELETE FROM people WHERE name = ?1", [name])? > 0)
    }

    /// The person of a name.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn person(&self, name: &str) -> Result<Option<Person>, StoreError> {
        let mut statement =
            self.connection().prepare_cached("SELECT name, role, password FROM people WHERE name = ?1")?;
        Ok(statement.query_row([name], person).optional()?)
    }

    /// Everybody, by name.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn people(&self) -> Result<Vec<Person>, StoreError> {
        let mut statement =
            self.connection().prepare_cached("SELECT name, role, password FROM people ORDER BY name")?;
        let rows = statement.query_map([], person)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Writes down what somebody did.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn note_deed(&self, deed: &Deed) -> Result<(), StoreError> {
        self.connection()
            .prepare_cached("INSERT INTO deeds (at_ms, who, what) VALUES (?1, ?2, ?3)")?
            .execute(params![deed.at.as_millisecond(), deed.who, deed.what])?;
        Ok(())
    }

    /// The last deeds, the latest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn deeds(&self, most: usize) -> Result<Vec<Deed>, StoreError> {
        let mut statement = self
            .connection()
            .prepare_cached("SELECT at_ms, who, what FROM deeds ORDER BY id DESC LIMIT ?1")?;
        let rows = statement.query_map([i64::try_from(most).unwrap_or(i64::MAX)], |row| {
            let at = Timestamp::from_millisecond(row.get(0)?).unwrap_or_default();
            Ok(Deed { at, who: row.get(1)?, what: row.get(2)? })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_are_put_changed_and_removed() {
        let store = Store::in_memory().unwrap();
        let of = |role, password: &str| Person { name: "anna".into(), role, password: password.into() };
        store.put_person(&of(Role::Look, "a")).unwrap();
        store.put_person(&of(Role::Record, "b")).unwrap();
        assert_eq!(store.people().unwrap(), [of(Role::Record, "b")]);
        assert_eq!(store.person("anna").unwrap(), Some(of(Role::Record, "b")));
        assert_eq!(store.person("Anna").unwrap(), None);
        assert!(store.remove_person("anna").unwrap() && !store.remove_person("anna").unwrap());
    }

    #[test]
    fn deeds_come_back_latest_first() {
        let store = Store::in_memory().unwrap();
        let deed = |at, what: &str| Deed {
            at: Timestamp::from_millisecond(at).unwrap(),
            who: "anna".into(),
            what: what.into(),
        };
        for (at, what) in [(1, "log-in"), (2, "mark 412 looked"), (3, "case 7")] {
            store.note_deed(&deed(at, what)).unwrap();
        }
        assert_eq!(store.deeds(2).unwrap(), [deed(3, "case 7"), deed(2, "mark 412 looked")]);
    }
}
