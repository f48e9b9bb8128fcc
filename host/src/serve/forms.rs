//! What the pages may record: a mark on a cow, a case.

use crate::record::AnimalId;
use crate::record::case::Case;
use crate::record::case::field::NAMES;
use crate::record::finding::Objection;
use crate::record::finding::check;
use crate::record::mark::{Mark, Marked};
use crate::record::names::{AskedBy, Meant};
use crate::report::pages::{query_value, query_values};
use crate::serve::Refused;
use crate::store::Store;
use jiff::{Timestamp, civil::Date};

/// Most bytes of a form that are read. Our choice: far above any form of ours.
pub(super) const MOST_BYTES: usize = 16_384;

const BUSY: Refused = (503, "page-busy");
const BAD: Refused = (400, "page-bad-form");

/// The animal and the day of a form.
fn whom_and_when(store: &Store, form: &str, now: Timestamp) -> Result<(AnimalId, Date), Refused> {
    let value = |name| query_value(form, name).unwrap_or_default();
    let today = store.time_zone().map_err(|_| BUSY)?.to_datetime(now).date();
    let date: Date = value("date").parse().map_err(|_| BAD)?;
    if date > today {
        return Err((400, "page-future"));
    }
    match store.directory().map_err(|_| BUSY)?.meant(&value("id"), AskedBy::Person) {
        Meant::One(animal) => Ok((animal, date)),
        Meant::Several(_) | Meant::Unknown => Err((404, "page-no-animal")),
    }
}

/// Puts a mark or takes it back; it may come again. Says which, and whether it was taken back.
pub(super) fn mark(store: &Store, form: &str, who: &str, now: Timestamp) -> Result<(Marked, bool), Refused> {
    let value = |name| query_value(form, name).unwrap_or_default();
    let mark = Mark::from_name(&value("mark")).ok_or(BAD)?;
    let (animal, date) = whom_and_when(store, form, now)?;
    let marked = Marked { date, animal, mark, who: who.to_owned() };
    let undo = !value("undo").is_empty();
    let kept =
        if undo { store.remove_mark(&marked.animal, date, mark) } else { store.put_mark(&marked, now) };
    kept.map(|_| (marked, undo)).map_err(|_| BUSY)
}

/// What became of a case.
#[derive(Debug, PartialEq)]
pub(super) enum Taken {
    /// It is in the store; under a new number, or it was there already.
    Kept(Option<i64>),
    /// Something stands against it; `may_be_so`: it is taken if the person says that it is so.
    Against { what: Vec<Objection>, may_be_so: bool },
}

/// Enters a case; the same one that comes again is one.
pub(super) fn case(
    store: &Store,
    form: &str,
    who: &str,
    now: Timestamp,
) -> Result<(AnimalId, Taken), Refused> {
    let (animal, date) = whom_and_when(store, form, now)?;
    let against = |what: Vec<Objection>, may_be_so| Ok((animal.clone(), Taken::Against { what, may_be_so }));
    if query_value(form, "leg").is_none() || query_value(form, "lesion").is_none() {
        return against(vec![Objection::LegOrLesionMissing], false);
    }
    let mut case = Case::new(animal.clone(), date);
    if !who.is_empty() {
        case.who = Some(who.to_owned());
    }
    for name in NAMES.into_iter().filter(|name| !matches!(*name, "date" | "animal_id")) {
        let value =
            query_values(form, name).filter(|value| !value.trim().is_empty()).collect::<Vec<_>>().join(";");
        if value.is_empty() || name == "who" && !who.is_empty() {
            continue;
        }
        if case.set_field(name, &value).is_err() {
            return against(vec![Objection::FieldWrong { field: name.to_owned(), text: value }], false);
        }
    }
    if case.lesion.is_some() && case.claw.is_none() {
        return against(vec![Objection::ClawMissing], false);
    }
    let today = store.time_zone().map_err(|_| BUSY)?.to_datetime(now).date();
    let others = store.cases(Some(&animal)).map_err(|_| BUSY)?;
    let sure = query_value(form, "sure").is_some();
    let found = check::case(&case, Some(today), &others).into_iter();
    let (refused, asked): (Vec<_>, Vec<_>) = found.partition(Objection::refuses);
    if !refused.is_empty() {
        return against(refused, false);
    }
    // What comes again is no second case, and nothing is asked about it twice.
    let known = others.iter().any(|kept| kept.withdrawn.is_none() && kept.case == case);
    if !asked.is_empty() && !sure && !known {
        return against(asked, true);
    }
    store.add_case(&case, now).map(|id| (animal, Taken::Kept(id))).map_err(|_| BUSY)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::HerdEntry;
    use jiff::civil::date;

    /// 2026-03-05, noon UTC.
    const NOW: Timestamp = Timestamp::constant(1_772_712_000, 0);

    fn store() -> Store {
        let store = Store::in_memory().unwrap();
        let entry = HerdEntry { animal: AnimalId("412".into()), parity: None, calving_date: None };
        store.put_herd_entry(&entry).unwrap();
        store
    }

    #[test]
    fn a_mark_that_comes_twice_is_one() {
        let store = store();
        let take = |form: &str| mark(&store, form, "anna", NOW).map(|(marked, undone)| (marked.date, undone));
        assert_eq!(take("id=412&mark=looked&date=2026-03-05"), Ok((date(2026, 3, 5), false)));
        assert_eq!(take("id=412&mark=looked&date=2026-03-05"), Ok((date(2026, 3, 5), false)), "sent twice");
        assert_eq!(store.marks(Date::MAX).unwrap().len(), 1);
        assert_eq!(store.marks(Date::MAX).unwrap()[0].who, "anna");
        for (form, status) in [
            ("id=412&mark=gone&date=2026-03-05", 400),
            ("id=412&mark=looked&date=soon", 400),
            ("id=412&mark=looked&date=2026-03-06", 400),
            ("id=%3Cscript%3E&mark=looked&date=2026-03-05", 404),
            ("", 400),
        ] {
            assert_eq!(take(form).map_err(|refused| refused.0), Err(status), "{form}");
        }
        assert_eq!(take("id=412&mark=looked&date=2026-03-05&undo=1"), Ok((date(2026, 3, 5), true)));
        assert!(store.marks(Date::MAX).unwrap().is_empty());
    }

    const FIVE_TAPS: &str = "id=412&date=2026-03-05&leg=LR&claw=outer&lesion=WL&treatment=drained&treatment=trim&block_claw=inner&note=";

    #[test]
    fn a_case_that_comes_twice_is_one() {
        let store = store();
        let take = |form: &str| case(&store, form, "anna", NOW).map(|(_, taken)| taken);
        assert_eq!(take(FIVE_TAPS), Ok(Taken::Kept(Some(1))));
        assert_eq!(take(FIVE_TAPS), Ok(Taken::Kept(None)));
        let kept = store.case(1).unwrap().unwrap().case;
        assert_eq!(kept.field("treatment"), "trim;drained;block");
        assert_eq!((kept.field("block_claw").as_str(), kept.field("who").as_str()), ("inner", "anna"));
        assert_eq!(kept.field("lesion"), "WL");
        assert_eq!(
            take(&format!("{FIVE_TAPS}&who=bert")),
            Ok(Taken::Kept(None)),
            "who is logged in has done it"
        );
    }

    #[test]
    fn what_is_missing_or_odd_is_said_and_never_taken_for_no_lesion() {
        let store = store();
        let take = |form: &str| case(&store, form, "", NOW).map(|(_, taken)| taken);
        let said = |form: &str| match take(form) {
            Ok(Taken::Against { what, may_be_so }) => (what, may_be_so),
            other => panic!("{form}: {other:?}"),
        };
        let missing = (vec![Objection::LegOrLesionMissing], false);
        assert_eq!(said("id=412&date=2026-03-05&leg=LR"), missing);
        assert_eq!(said("id=412&date=2026-03-05&lesion=WL"), missing);
        assert_eq!(said("id=412&date=2026-03-05&leg=LR&lesion=WL"), (vec![Objection::ClawMissing], false));
        let no_leg = Objection::FieldWrong { field: "leg".to_owned(), text: "LX".to_owned() };
        assert_eq!(said("id=412&date=2026-03-05&leg=LX&lesion=none"), (vec![no_leg], false));
        // A block under the sore claw cannot be, whatever the person says.
        let wrong =
            "id=412&date=2026-03-05&leg=LR&claw=inner&lesion=WL&treatment=trim&block_claw=inner&sure=1";
        assert_eq!(said(wrong), (vec![Objection::BlockOnSoreClaw], false));
        assert!(store.cases(None).unwrap().is_empty());
        // A second block on a foot is asked about.
        assert_eq!(take(&FIVE_TAPS.replace("03-05", "03-04")), Ok(Taken::Kept(Some(1))));
        assert_eq!(said(FIVE_TAPS), (vec![Objection::BlockStillOn], true));
        assert_eq!(store.cases(None).unwrap().len(), 1);
        assert_eq!(take(&format!("{FIVE_TAPS}&sure=1")), Ok(Taken::Kept(Some(2))));
        assert_eq!(take(FIVE_TAPS), Ok(Taken::Kept(None)), "what is in is not asked about again");
        assert_eq!(take("id=412&date=2026-03-06&leg=LR&lesion=none"), Err((400, "page-future")));
    }
}
