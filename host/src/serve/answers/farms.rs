//! What of the farm an answer is made from: no more of it is read than the answer needs, and while the store is as it was
//! then it is held ready.

use super::Stamp;
use crate::record::AnimalId;
use crate::record::names::{AskedBy, Directory, Meant};
use crate::report::exchange::api;
use crate::report::farm::{Farm, Part};
use crate::report::pages::query_value;
use crate::store::Store;
use jiff::civil::Date;
use percent_encoding::percent_decode_str;
use std::sync::Arc;

/// How many are held ready. Our choice.
const READY: usize = 8;

/// A farm, or none where the store is empty.
pub(super) type FarmOfDay = Arc<Option<Farm>>;

/// What an address needs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Needed {
    /// The list, its passages and the lanes.
    List,
    /// The days of all cows.
    Days,
    /// One cow.
    Cow(AnimalId),
}

impl Needed {
    /// By an address; a word that does not name one cow needs no cow.
    fn by(url: &str, directory: &Directory) -> Self {
        let (path, query) = url.split_once('?').unwrap_or((url, ""));
        let in_path =
            path.strip_prefix(api::UNDER).unwrap_or(path).trim_start_matches('/').strip_prefix("cow/");
        let word = match path {
            "/herd" => return Self::Days,
            "/cow" | "/crush" | "/passage" | "/change" => query_value(query, "id"),
            _ => in_path.map(|word| percent_decode_str(word).decode_utf8_lossy().into_owned()),
        };
        let Some(word) = word else { return Self::List };
        let asked_by = if path.starts_with(api::UNDER) { AskedBy::File } else { AskedBy::Person };
        match directory.meant(word.trim(), asked_by) {
            Meant::One(animal) => Self::Cow(animal),
            _ => Self::List,
        }
    }

    const fn part(&self) -> Part<'_> {
        match self {
            Self::List => Part::List,
            Self::Days => Part::Days,
            Self::Cow(animal) => Part::Cow(animal),
        }
    }
}

/// What was asked for, while the store is as it was then.
#[derive(Default)]
pub(super) struct Farms {
    stamp: Stamp,
    directory: Option<Directory>,
    ready: Vec<(Option<Date>, Needed, FarmOfDay)>,
}

impl Farms {
    /// A day of the farm, as the store has it now; many ask for the same.
    pub fn get(
        &mut self,
        store: &Store,
        now: Stamp,
        date: Option<Date>,
        url: &str,
    ) -> anyhow::Result<FarmOfDay> {
        if self.stamp != now {
            *self = Self { stamp: now, ..Self::default() };
        }
        let directory = match &mut self.directory {
            Some(directory) => directory,
            unread => unread.insert(store.directory()?),
        };
        let needed = Needed::by(url, directory);
        let held = self.ready.iter().find(|(day, what, _)| *day == date && *what == needed);
        if let Some((_, _, farm)) = held {
            return Ok(Arc::clone(farm));
        }
        let farm = Arc::new(Farm::load_part(store, date, needed.part())?);
        if self.ready.len() == READY {
            self.ready.remove(0);
        }
        self.ready.push((date, needed, Arc::clone(&farm)));
        Ok(farm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::HerdEntry;

    #[test]
    fn each_address_needs_no_more_than_it_shows() {
        let store = Store::in_memory().unwrap();
        let id = "999000000000412";
        let entry = HerdEntry { animal: AnimalId(id.into()), parity: None, calving_date: None };
        store.put_herd_entry(&entry).unwrap();
        let directory = store.directory().unwrap();
        let needed = |url: &str| Needed::by(url, &directory);
        for url in
            ["/", "/?date=2026-03-05", "/rechecks", "/lane", "/people", "/api/list", "/api/openapi.json"]
        {
            assert_eq!(needed(url), Needed::List, "{url}");
        }
        assert_eq!(needed("/herd?x=1"), Needed::Days);
        for url in ["/cow/412", "/cow?id=412", "/crush?id=+412", "/change?id=412", "/passage?id=412&at=1"] {
            assert_eq!(needed(url), Needed::Cow(AnimalId(id.into())), "{url}");
        }
        assert_eq!(needed(&format!("/api/cow/{id}?date=2026-03-05")), Needed::Cow(AnimalId(id.into())));
        assert_eq!(needed("/cow/nobody"), Needed::List);
        assert_eq!(needed("/cow/%34%31%32"), Needed::Cow(AnimalId(id.into())));
    }

    #[test]
    fn what_is_ready_holds_until_the_store_changes() {
        let store = Store::in_memory().unwrap();
        let mut farms = Farms::default();
        let first = farms.get(&store, [None; 2], None, "/").unwrap();
        let again = farms.get(&store, [None; 2], None, "/lane").unwrap();
        assert!(Arc::ptr_eq(&first, &again));
        assert!(!Arc::ptr_eq(&first, &farms.get(&store, [None; 2], None, "/herd").unwrap()));
        let later = [Some((1, std::time::SystemTime::UNIX_EPOCH)), None];
        assert!(!Arc::ptr_eq(&first, &farms.get(&store, later, None, "/").unwrap()));
    }
}
