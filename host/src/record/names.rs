//! One animal, many names: which cow a word means, and what people call her.

use crate::record::AnimalId;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Fewest last digits that name a cow. Our choice.
const LEAST_DIGITS: usize = 2;
/// Fewest last digits that name a cow in a file, where nobody sees which was meant. Our choice.
const LEAST_DIGITS_IN_FILES: usize = 3;

/// What people call an animal.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Called {
    /// The farm's own number; may be empty.
    pub number: String,
    /// Her name; may be empty.
    pub name: String,
}

impl Called {
    /// Number and name, for lists: `98 Berta`; the id where neither is known.
    #[must_use]
    pub fn short(&self, animal: &AnimalId) -> String {
        let text = format!("{} {}", self.number, self.name).trim().to_owned();
        if text.is_empty() { animal.0.clone() } else { text }
    }

    /// The same with the id behind it where that is another: `98 Berta (999000000000098)`.
    #[must_use]
    pub fn long(&self, animal: &AnimalId) -> String {
        let short = self.short(animal);
        if self.number == animal.0 || short == animal.0 { short } else { format!("{short} ({animal})") }
    }
}

/// What people call the animals of a farm. Those that are known by their id alone are not in it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Names(pub BTreeMap<AnimalId, Called>);

impl Names {
    /// Her number and name, for lists: `98 Berta`; the id where neither is known.
    #[must_use]
    pub fn short(&self, animal: &AnimalId) -> String {
        self.of(animal).short(animal)
    }

    /// The same with her id behind it where that is another: `98 Berta (999000000000098)`.
    #[must_use]
    pub fn long(&self, animal: &AnimalId) -> String {
        self.of(animal).long(animal)
    }

    /// What she is called; nothing where that is not known.
    #[must_use]
    pub fn of(&self, animal: &AnimalId) -> Called {
        self.0.get(animal).cloned().unwrap_or_default()
    }
}

/// Whom a word means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Meant {
    /// One animal.
    One(AnimalId),
    /// Several may be meant.
    Several(Vec<AnimalId>),
    /// Nobody who is known.
    Unknown,
}

/// Who asks which cow is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AskedBy {
    /// Somebody who sees the answer: a few last digits will do.
    Person,
    /// A file or a program: last digits name only animals without a number, since a number may end like another.
    File,
}

/// Every animal, and the words for them.
#[derive(Clone, Debug, Default)]
pub struct Directory {
    /// Every animal.
    pub animals: BTreeSet<AnimalId>,
    /// Their numbers and names.
    pub names: Names,
    /// Tags by the animal that wears or wore them.
    pub tags: Vec<(String, AnimalId)>,
}

impl Directory {
    /// Whether there is such an animal.
    #[must_use]
    pub fn has(&self, animal: &AnimalId) -> bool {
        self.animals.contains(animal)
    }

    /// Whom a word means that is neither a tag nor a number of one animal alone.
    #[must_use]
    pub fn meant(&self, text: &str, asked: AskedBy) -> Meant {
        let text = text.trim();
        if let Some(animal) = self.animals.get(&AnimalId(text.to_owned())) {
            return Meant::One(animal.clone());
        }
        let called = |test: &dyn Fn(&Called) -> bool| {
            self.names.0.iter().filter(|(_, called)| test(called)).map(|(animal, _)| animal.clone()).collect()
        };
        if text.is_empty() {
            return Meant::Unknown;
        }
        let exact: BTreeSet<AnimalId> =
            called(&|called| called.number == text || called.name.to_lowercase() == text.to_lowercase());
        if !exact.is_empty() {
            return Self::only(exact);
        }
        let fewest = if asked == AskedBy::Person { LEAST_DIGITS } else { LEAST_DIGITS_IN_FILES };
        if text.len() < fewest || !text.bytes().all(|byte| byte.is_ascii_digit()) {
            return Meant::Unknown;
        }
        let open = |animal: &AnimalId| asked == AskedBy::Person || !self.numbered(animal);
        let mut ends: BTreeSet<AnimalId> =
            self.animals.iter().filter(|a| a.0.ends_with(text)).cloned().collect();
        ends.extend(
            self.tags.iter().filter(|(tag, _)| tag.ends_with(text)).map(|(_, animal)| animal.clone()),
        );
        ends.extend::<BTreeSet<AnimalId>>(called(&|called| called.number.ends_with(text)));
        ends.retain(open);
        Self::only(ends)
    }

    fn numbered(&self, animal: &AnimalId) -> bool {
        self.names.0.get(animal).is_some_and(|called| !called.number.is_empty())
    }

    fn only(found: BTreeSet<AnimalId>) -> Meant {
        let mut found: Vec<AnimalId> = found.into_iter().collect();
        match found.len() {
            0 => Meant::Unknown,
            1 => Meant::One(found.remove(0)),
            _ => Meant::Several(found),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn id(text: &str) -> AnimalId {
        AnimalId(text.into())
    }

    fn directory() -> Directory {
        let animals = ["412", "999000000000412", "999000000000413", "998000000000413", "999000000000998"];
        let called = |number: &str, name: &str| Called { number: number.into(), name: name.into() };
        Directory {
            animals: animals.map(id).into(),
            names: Names(
                [
                    (id("999000000000998"), called("98", "Berta")),
                    (id("999000000000413"), called("198", "")),
                    (id("998000000000413"), called("", "Alma")),
                ]
                .into(),
            ),
            tags: vec![("999000000077777".into(), id("412"))],
        }
    }

    #[test]
    fn an_id_a_number_or_a_name_comes_before_last_digits() {
        let one = |text| directory().meant(text, AskedBy::Person);
        assert_eq!(one("412"), Meant::One(id("412")), "an id, though another ends so");
        assert_eq!(one("98"), Meant::One(id("999000000000998")), "a number, though 198 ends so");
        assert_eq!(one("berta"), Meant::One(id("999000000000998")));
        assert_eq!(one("Alma"), Meant::One(id("998000000000413")));
        assert_eq!(one(" 0412 "), Meant::One(id("999000000000412")));
        assert_eq!(one("777"), Meant::One(id("412")), "by the tag she wears");
        assert_eq!(one("8"), Meant::Unknown, "one digit is too few");
        assert_eq!(one("5000"), Meant::Unknown);
        assert_eq!(one(""), Meant::Unknown);
    }

    #[test]
    fn several_that_end_so_are_all_named() {
        assert_eq!(
            directory().meant("413", AskedBy::Person),
            Meant::Several(vec![id("998000000000413"), id("999000000000413")])
        );
    }

    #[test]
    fn a_file_names_no_numbered_cow_by_last_digits() {
        let by_file = |text| directory().meant(text, AskedBy::File);
        assert_eq!(by_file("0998"), Meant::Unknown);
        assert_eq!(by_file("413"), Meant::One(id("998000000000413")), "the other has a number");
        assert_eq!(by_file("98"), Meant::One(id("999000000000998")), "her number");
        assert_eq!(by_file("12"), Meant::Unknown);
    }

    #[test]
    fn number_and_name_come_first_and_the_id_last() {
        let names = directory().names;
        assert_eq!(names.short(&id("999000000000998")), "98 Berta");
        assert_eq!(names.long(&id("999000000000998")), "98 Berta (999000000000998)");
        assert_eq!(names.short(&id("998000000000413")), "Alma");
        assert_eq!(names.long(&id("412")), "412");
        let same = Names([(id("7"), Called { number: "7".into(), name: "Eva".into() })].into());
        assert_eq!(same.long(&id("7")), "7 Eva");
    }
}
