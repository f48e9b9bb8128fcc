//! Withdrawal ends as people entered them. None is ever computed.

use crate::record::AnimalId;
use crate::record::case::KeptCase;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// A cow whose milk or meat must not go out yet.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Withdrawal {
    /// Which animal.
    pub animal_id: AnimalId,
    /// Last day of milk withdrawal, while it is not over.
    pub milk_end: Option<Date>,
    /// Last day of meat withdrawal, while it is not over.
    pub meat_end: Option<Date>,
}

/// The latest ends of milk and of meat withdrawal of each cow that has any.
#[must_use]
pub fn latest(cases: &[KeptCase]) -> BTreeMap<&AnimalId, [Option<Date>; 2]> {
    let mut ends: BTreeMap<&AnimalId, [Option<Date>; 2]> = BTreeMap::new();
    for kept in cases.iter().filter(|kept| kept.withdrawn.is_none()) {
        let medicine = &kept.case.medicine;
        let given = [medicine.milk_withdrawal_end, medicine.meat_withdrawal_end];
        if given.iter().any(Option::is_some) {
            let known = ends.entry(&kept.case.animal).or_default();
            *known = [known[0].max(given[0]), known[1].max(given[1])];
        }
    }
    ends
}

/// The withdrawals that are not over on `date`; where a cow has several, the latest end of each counts.
#[must_use]
pub fn open(cases: &[KeptCase], date: Date) -> Vec<Withdrawal> {
    let open = |(animal, ends): (&AnimalId, [Option<Date>; 2])| {
        let [milk_end, meat_end] = ends.map(|end| end.filter(|end| *end >= date));
        let some = milk_end.or(meat_end).is_some();
        some.then(|| Withdrawal { animal_id: animal.clone(), milk_end, meat_end })
    };
    latest(cases).into_iter().filter_map(open).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::case::Case;
    use jiff::civil::date;

    fn kept(animal: &str, milk: Option<Date>, meat: Option<Date>) -> KeptCase {
        let mut case = Case::new(AnimalId(animal.into()), date(2026, 3, 1));
        case.medicine.milk_withdrawal_end = milk;
        case.medicine.meat_withdrawal_end = meat;
        KeptCase { id: 1, case, follow_ups: vec![], withdrawn: None }
    }

    #[test]
    fn the_last_day_still_counts_and_the_next_does_not() {
        let cases = [kept("1", Some(date(2026, 3, 4)), Some(date(2026, 3, 8)))];
        let ends = |on| open(&cases, on).first().map(|w| (w.milk_end.is_some(), w.meat_end.is_some()));
        assert_eq!(ends(date(2026, 3, 4)), Some((true, true)));
        assert_eq!(ends(date(2026, 3, 5)), Some((false, true)));
        assert_eq!(ends(date(2026, 3, 8)), Some((false, true)));
        assert_eq!(ends(date(2026, 3, 9)), None);
    }

    #[test]
    fn the_latest_end_counts_and_a_withdrawn_case_does_not() {
        let mut wrong = kept("1", Some(date(2026, 3, 30)), None);
        wrong.withdrawn = Some("wrong cow".into());
        let cases = [kept("1", Some(date(2026, 3, 4)), None), kept("1", Some(date(2026, 3, 6)), None), wrong];
        assert_eq!(open(&cases, date(2026, 3, 2))[0].milk_end, Some(date(2026, 3, 6)));
    }
}
