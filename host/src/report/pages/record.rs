//! What the pages may record: a mark on a cow.

use crate::record::mark::{Mark, Marked};
use crate::record::names::{AskedBy, Meant};
use crate::report::pages::render::query_value;
use crate::store::Store;
use jiff::{Timestamp, civil::Date};

/// Most bytes of a form that are read. Our choice: far above any form of ours.
pub(super) const MOST_BYTES: usize = 4096;

/// Why a form was not taken, by HTTP status and the id of its message.
pub(super) type Refused = (u16, &'static str);

/// A token that only this run's own pages know: another site's form cannot send it. `None` where the system has no
/// random numbers.
pub(super) fn token() -> Option<String> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes).ok()?;
    Some(format!("{:032x}", u128::from_le_bytes(bytes)))
}

/// Takes a form in; it may come again. Says which day's list to show after it.
pub(super) fn mark(store: &Store, form: &str, token: &str, now: Timestamp) -> Result<Date, Refused> {
    let value = |name| query_value(form, name).unwrap_or_default();
    // Equal in length and in every byte, however many are: how long it takes tells nothing.
    let given = value("token");
    let alike = given.len() == token.len()
        && given.bytes().zip(token.bytes()).fold(0, |differs, (a, b)| differs | (a ^ b)) == 0;
    if !alike {
        return Err((403, "page-old-form"));
    }
    let mark = Mark::from_name(&value("mark")).ok_or((400, "page-bad-form"))?;
    let today = store.time_zone().map_err(|_| (503, "page-busy"))?.to_datetime(now).date();
    let date: Date = value("date").parse().map_err(|_| (400, "page-bad-form"))?;
    if date > today {
        return Err((400, "page-future"));
    }
    let directory = store.directory().map_err(|_| (503, "page-busy"))?;
    let animal = match directory.meant(&value("id"), AskedBy::Person) {
        Meant::One(animal) => animal,
        Meant::Several(_) | Meant::Unknown => return Err((404, "page-no-animal")),
    };
    let marked = Marked { date, animal, mark, who: String::new() };
    let kept = if value("undo").is_empty() {
        store.put_mark(&marked, now)
    } else {
        store.remove_mark(&marked.animal, date, mark)
    };
    kept.map(|_| date).map_err(|_| (503, "page-busy"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{AnimalId, HerdEntry};
    use jiff::civil::date;

    /// 2026-03-05, noon UTC.
    const NOW: Timestamp = Timestamp::constant(1_772_712_000, 0);

    #[test]
    fn a_form_is_taken_once_and_only_from_our_own_pages() {
        let store = Store::in_memory().unwrap();
        let entry = HerdEntry { animal: AnimalId("412".into()), parity: None, calving_date: None };
        store.put_herd_entry(&entry).unwrap();
        let take = |form: &str| mark(&store, form, "0123", NOW);
        assert_eq!(take("id=412&mark=looked&date=2026-03-05&token=0123"), Ok(date(2026, 3, 5)));
        assert_eq!(take("id=412&mark=looked&date=2026-03-05&token=0123"), Ok(date(2026, 3, 5)), "sent twice");
        assert_eq!(store.marks(Date::MAX).unwrap().len(), 1);
        for (form, status) in [
            ("id=412&mark=looked&date=2026-03-05&token=0124", 403),
            ("id=412&mark=looked&date=2026-03-05", 403),
            ("id=412&mark=gone&date=2026-03-05&token=0123", 400),
            ("id=412&mark=looked&date=soon&token=0123", 400),
            ("id=412&mark=looked&date=2026-03-06&token=0123", 400),
            ("id=%3Cscript%3E&mark=looked&date=2026-03-05&token=0123", 404),
            ("", 403),
        ] {
            assert_eq!(take(form).map_err(|refused| refused.0), Err(status), "{form}");
        }
        assert_eq!(store.marks(Date::MAX).unwrap().len(), 1);
        assert!(take("id=412&mark=looked&date=2026-03-05&token=0123&undo=1").is_ok());
        assert!(store.marks(Date::MAX).unwrap().is_empty());
        assert_ne!(token(), token());
    }
}
