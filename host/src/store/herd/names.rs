//! What the animals are called, and which of them a word means.

use crate::record::AnimalId;
use crate::record::names::{AskedBy, Called, Directory, Meant, Names};
use crate::store::{Store, StoreError};
use jiff::civil::Date;
use rusqlite::OptionalExtension;
use shared::identity::AnimalCode;
use std::collections::{BTreeMap, HashMap};

/// What holds rows that came under a word for an animal, each with the day on which the word was said.
const CALLED: [(&str, &str); 5] = [
    ("passages", "date(start_ms / 1000, 'unixepoch')"),
    ("mobility_scores", "date"),
    ("cases", "date"),
    ("marks", "date"),
    ("herd", "calving_date"),
];

/// After every other, as text.
const LAST_DAY: &str = "9999-12-31";

/// What words for animals mean, remembered for many rows in a row. Holds while nobody changes tags and numbers: for one
/// transaction.
#[derive(Debug, Default)]
pub struct Meanings(HashMap<String, Meaning>);

#[derive(Debug)]
struct Meaning {
    /// Who wears it as a tag from a day on, the latest first.
    worn: Vec<(String, String)>,
    /// Who has it as a number.
    numbered: Option<String>,
}

impl Store {
    /// The same as [`Self::animal_called`], asked of the store once for each word.
    pub(in crate::store) fn animal_meant(
        &self,
        known: &mut Meanings,
        called: &str,
        day: Date,
    ) -> Result<String, StoreError> {
        if !known.0.contains_key(called) {
            let mut statement = self.connection.prepare_cached(
                "SELECT from_day, animal_id FROM ear_tags WHERE tag = ?1 ORDER BY from_day DESC",
            )?;
            let worn = statement.query_map([called], |row| Ok((row.get(0)?, row.get(1)?)))?;
            let meaning =
                Meaning { worn: worn.collect::<Result<_, _>>()?, numbered: self.alone_with(called)? };
            known.0.insert(called.to_owned(), meaning);
        }
        let meaning = &known.0[called];
        let day = if meaning.worn.is_empty() { String::new() } else { day.to_string() };
        let worn = meaning.worn.iter().find(|(from, _)| *from <= day).map(|(_, animal)| animal);
        Ok(worn.or(meaning.numbered.as_ref()).map_or_else(|| called.to_owned(), String::clone))
    }

    /// The animal that alone has a number which is no animal's id.
    fn alone_with(&self, called: &str) -> Result<Option<String>, StoreError> {
        let mut statement = self.connection.prepare_cached(
            "SELECT min(animal_id) FROM animals WHERE number = ?1
             AND NOT EXISTS (SELECT 1 FROM animals WHERE animal_id = ?1) HAVING count(*) = 1",
        )?;
        Ok(statement.query_row([called], |row| row.get(0)).optional()?)
    }

    /// The animal that a word means on a day: the wearer of a tag, or the one with that number; else the word itself.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(in crate::store) fn animal_called(&self, called: &str, day: &str) -> Result<String, StoreError> {
        // The two halves of the view `calls`: asked through it, SQLite plans the query anew for every word.
        let worn = self
            .connection
            .prepare_cached(
                "SELECT animal_id FROM ear_tags WHERE tag = ?1 AND from_day <= ?2 ORDER BY from_day DESC LIMIT 1",
            )?
            .query_row([called, day], |row| row.get(0))
            .optional()?;
        if let Some(animal) = worn {
            return Ok(animal);
        }
        Ok(self.alone_with(called)?.unwrap_or_else(|| called.to_owned()))
    }

    /// The animal that a word means on a day, or ever where none is given.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn wearer(&self, called: &str, day: Option<Date>) -> Result<Option<AnimalId>, StoreError> {
        let day = day.map_or_else(|| LAST_DAY.to_owned(), |day| day.to_string());
        let found = self.animal_called(called, &day)?;
        Ok((found != called).then_some(AnimalId(found)))
    }

    /// The tag of 15 digits that each animal wears on a day; one whose id is such a tag wears it.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn tags_worn(&self, day: Date) -> Result<BTreeMap<AnimalId, AnimalCode>, StoreError> {
        let mut worn = BTreeMap::new();
        for animal in self.animals()? {
            if let Ok(code) = animal.0.parse() {
                worn.insert(animal, code);
            }
        }
        // By tag and day: the last wearer has it, whoever had it before.
        let mut wearers = BTreeMap::new();
        for (tag, from, animal) in self.ear_tags()? {
            if from.is_none_or(|from| from <= day)
                && let Ok(code) = tag.parse::<AnimalCode>()
            {
                wearers.insert(code, animal);
            }
        }
        worn.retain(|_, code| !wearers.contains_key(code));
        worn.extend(wearers.into_iter().map(|(code, animal)| (animal, code)));
        Ok(worn)
    }

    /// Gives every row the animal that its word means now; says how many changed.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn name_anew(&self) -> Result<u64, StoreError> {
        let mut changed = 0;
        for (table, day) in CALLED {
            changed += self.connection.execute(
                &format!(
                    "UPDATE OR REPLACE {table} SET animal_id = {WHO} WHERE called IS NOT NULL AND animal_id IS NOT {WHO}",
                    WHO = format_args!(
                        "ifnull((SELECT calls.animal_id FROM calls
                            WHERE calls.called = {table}.called AND from_day <= {day}
                            ORDER BY from_day DESC LIMIT 1), called)"
                    )
                ),
                [],
            )?;
        }
        Ok(changed as u64)
    }

    /// Keeps what an animal is called; what is empty stays as it was. Says whether anything changed.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_called(&self, animal: &AnimalId, called: &Called) -> Result<bool, StoreError> {
        let was: Option<String> = self
            .connection
            .prepare_cached("SELECT number || char(31) || name FROM animals WHERE animal_id = ?1")?
            .query_row([&animal.0], |row| row.get(0))
            .optional()?;
        let changed = self
            .connection
            .prepare_cached(
                "INSERT INTO animals (animal_id, number, name) VALUES (?1, ?2, ?3)
                 ON CONFLICT (animal_id) DO UPDATE SET
                    number = iif(excluded.number = '', number, excluded.number),
                    name = iif(excluded.name = '', name, excluded.name)
                 WHERE excluded.number NOT IN ('', number) OR excluded.name NOT IN ('', name)",
            )?
            .execute([&animal.0, &called.number, &called.name])?;
        if changed > 0 {
            self.note_brought("animal", &[&animal.0], was)?;
        }
        Ok(changed > 0)
    }

    /// Keeps who wears a tag from a day on; without a day, she always did. Says whether anything changed.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn put_ear_tag(&self, tag: &str, from: Option<Date>, animal: &AnimalId) -> Result<bool, StoreError> {
        let from = from.map(|date| date.to_string()).unwrap_or_default();
        let was: Option<String> = self
            .connection
            .prepare_cached("SELECT animal_id FROM ear_tags WHERE tag = ?1 AND from_day = ?2")?
            .query_row([tag, &from], |row| row.get(0))
            .optional()?;
        if was.as_ref() == Some(&animal.0) {
            return Ok(false);
        }
        self.connection
            .prepare_cached("INSERT OR REPLACE INTO ear_tags (tag, from_day, animal_id) VALUES (?1, ?2, ?3)")?
            .execute([tag, &from, &animal.0])?;
        self.note_brought("ear_tag", &[tag, &from], was)?;
        Ok(true)
    }

    /// The animals with a number.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn numbered(&self, number: &str) -> Result<Vec<AnimalId>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT animal_id FROM animals WHERE number = ?1 ORDER BY animal_id")?;
        let rows = statement.query_map([number], |row| Ok(AnimalId(row.get(0)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// What the animals are called.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn names(&self) -> Result<Names, StoreError> {
        let mut statement = self.connection.prepare_cached("SELECT animal_id, number, name FROM animals")?;
        let rows = statement.query_map([], |row| {
            Ok((AnimalId(row.get(0)?), Called { number: row.get(1)?, name: row.get(2)? }))
        })?;
        Ok(Names(rows.collect::<Result<_, _>>()?))
    }

    /// Every animal, and the words for them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn directory(&self) -> Result<Directory, StoreError> {
        let mut statement = self.connection.prepare_cached("SELECT tag, animal_id FROM ear_tags")?;
        let tags = statement.query_map([], |row| Ok((row.get(0)?, AnimalId(row.get(1)?))))?;
        let tags = tags.collect::<Result<_, _>>()?;
        Ok(Directory { animals: self.animals()?.into_iter().collect(), names: self.names()?, tags })
    }

    /// The tags, each with the first day on which it was worn where that is known, and who wears it.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn ear_tags(&self) -> Result<Vec<(String, Option<Date>, AnimalId)>, StoreError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT tag, from_day, animal_id FROM ear_tags ORDER BY tag, from_day")?;
        let tags = statement.query_map([], |row| {
            Ok((row.get(0)?, row.get::<_, String>(1)?.parse().ok(), AnimalId(row.get(2)?)))
        })?;
        Ok(tags.collect::<Result<_, _>>()?)
    }

    /// Whom a word means on a day.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn meant(
        &self,
        directory: &Directory,
        text: &str,
        day: Date,
        asked: AskedBy,
    ) -> Result<Meant, StoreError> {
        let called = self.animal_called(text.trim(), &day.to_string())?;
        if called == text.trim() {
            Ok(directory.meant(text, asked))
        } else {
            Ok(Meant::One(AnimalId(called)))
        }
    }

    /// Words under which something was said of animals that nobody knows: each waits until she is named.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn waiting_for_a_name(&self) -> Result<Vec<String>, StoreError> {
        let known: std::collections::BTreeSet<AnimalId> = self.animals()?.into_iter().collect();
        let mut statement = self.connection.prepare_cached(
            "SELECT animal_id FROM cases WHERE withdrawn IS NULL
             UNION SELECT animal_id FROM mobility_scores UNION SELECT animal_id FROM marks ORDER BY 1",
        )?;
        let rows = statement.query_map([], |row| row.get::<_, String>(0))?;
        let words: Vec<String> = rows.collect::<Result<_, _>>()?;
        Ok(words.into_iter().filter(|word| !known.contains(&AnimalId(word.clone()))).collect())
    }
}
