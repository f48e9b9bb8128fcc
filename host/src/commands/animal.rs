//! Which cow is meant: people say the last digits of a number.

use crate::record::AnimalId;
use crate::store::{Store, StoreError};

/// Fewest last digits that name a cow (our choice).
const LEAST_DIGITS: usize = 3;

/// Whom a word on the command line means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Meant {
    /// The only animal with that number, or whose number ends so.
    One(AnimalId),
    /// Several end so.
    Several(Vec<AnimalId>),
    /// None does; the number as given.
    Unknown(AnimalId),
}

/// Finds the animal of a number or of its last digits.
///
/// # Errors
/// When the store cannot be read.
pub fn meant(store: &Store, text: &str) -> Result<Meant, StoreError> {
    Ok(among(&store.animals()?, text.trim()))
}

/// The animal meant, or the number as given where that is not clear.
///
/// # Errors
/// When the store cannot be read.
pub fn or_as_given(store: &Store, text: &str) -> Result<AnimalId, StoreError> {
    Ok(match meant(store, text)? {
        Meant::One(animal) | Meant::Unknown(animal) => animal,
        Meant::Several(_) => AnimalId(text.trim().to_owned()),
    })
}

fn among(animals: &[AnimalId], text: &str) -> Meant {
    let given = AnimalId(text.to_owned());
    if animals.contains(&given) {
        return Meant::One(given);
    }
    let ends = |animal: &&AnimalId| text.len() >= LEAST_DIGITS && animal.0.ends_with(text);
    let found: Vec<AnimalId> = animals.iter().filter(ends).cloned().collect();
    match found.len() {
        0 => Meant::Unknown(given),
        1 => Meant::One(found[0].clone()),
        _ => Meant::Several(found),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn last_digits_name_a_cow_where_only_one_ends_so() {
        let animals = ["412", "999000000000412", "999000000000413", "998000000000413"];
        let animals: Vec<AnimalId> = animals.iter().map(|a| AnimalId((*a).to_owned())).collect();
        let whole = AnimalId("999000000000412".into());
        assert_eq!(among(&animals, "412"), Meant::One(AnimalId("412".into())));
        assert_eq!(among(&animals, "0412"), Meant::One(whole.clone()));
        assert_eq!(among(&animals[1..2], "412"), Meant::One(whole));
        assert!(matches!(among(&animals, "413"), Meant::Several(found) if found.len() == 2));
        assert_eq!(among(&animals[1..], "12"), Meant::Unknown(AnimalId("12".into())));
    }
}
