//! The trimmer's cases, their follow-ups and their corrections.

use crate::record::case::field::NAMES;
use crate::record::case::history::{CorrectedField, Correction};
use crate::record::case::{BlockSeen, Case, Course, FollowUp, KeptCase};
use crate::record::case::{history, versions};
use crate::record::mark::Mark;
use crate::record::{AnimalId, FootWork, VersionSpan};
use crate::store::{Store, StoreError};
use jiff::{Timestamp, civil::Date};
use rusqlite::{OptionalExtension, Row, params, params_from_iter};
use std::collections::HashMap;

impl Store {
    /// Keeps a new case; `None` where the same entry is kept already, corrected or not.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn add_case(&self, case: &Case, now: Timestamp) -> Result<Option<i64>, StoreError> {
        let mut values: Vec<String> = NAMES.iter().map(|name| case.field(name)).collect();
        let marks = vec!["?"; NAMES.len() + 3].join(", ");
        let sql = format!(
            "INSERT INTO cases ({}, as_entered, entered_ms, called) VALUES ({marks}) ON CONFLICT (as_entered) DO NOTHING",
            NAMES.join(", ")
        );
        let as_entered = values.join("\u{1f}");
        let called = case.animal.0.clone();
        let hers = self.animal_called(&called, &case.date.to_string())?;
        if self.holds_case(&values, &hers)? {
            return Ok(None);
        }
        for value in
            values.iter_mut().zip(NAMES).filter(|(_, name)| *name == "animal_id").map(|(value, _)| value)
        {
            value.clone_from(&hers);
        }
        let all = values.into_iter().chain([as_entered, now.as_millisecond().to_string(), called]);
        let added = self.connection().prepare_cached(&sql)?.execute(params_from_iter(all))?;
        let id = (added > 0).then(|| self.connection().last_insert_rowid());
        if let Some(id) = id {
            self.note_brought("case", &[&id.to_string()], None)?;
        }
        Ok(id)
    }

    /// Whether a case of that cow stands so, by correction or as entered.
    fn holds_case(&self, values: &[String], hers: &str) -> Result<bool, StoreError> {
        let same: Vec<String> = NAMES.iter().map(|name| format!("{name} = ?")).collect();
        let sql = format!("SELECT EXISTS (SELECT 1 FROM cases WHERE {})", same.join(" AND "));
        let values = NAMES.iter().zip(values).map(|(name, value)| match *name {
            "animal_id" => hers,
            _ => value.as_str(),
        });
        Ok(self.connection().prepare_cached(&sql)?.query_row(params_from_iter(values), |row| row.get(0))?)
    }

    /// The cases of one cow, or of all, in the order of their days; withdrawn ones are marked.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn cases(&self, animal: Option<&AnimalId>) -> Result<Vec<KeptCase>, StoreError> {
        let sql = format!(
            "SELECT id, withdrawn, {} FROM cases WHERE ?1 IS NULL OR animal_id = ?1 ORDER BY date, id",
            NAMES.join(", ")
        );
        let mut statement = self.connection().prepare_cached(&sql)?;
        let mut cases: Vec<KeptCase> =
            statement.query_map([animal.map(|a| &a.0)], kept_case)?.collect::<Result<_, _>>()?;
        let mut follow_ups = self.follow_ups(animal)?;
        for case in &mut cases {
            case.follow_ups = follow_ups.remove(&case.id).unwrap_or_default();
        }
        Ok(cases)
    }

    /// One case.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn case(&self, id: i64) -> Result<Option<KeptCase>, StoreError> {
        let animal: Option<String> = self
            .connection()
            .prepare_cached("SELECT animal_id FROM cases WHERE id = ?1")?
            .query_row([id], |row| row.get(0))
            .optional()?;
        let Some(animal) = animal else { return Ok(None) };
        Ok(self.cases(Some(&AnimalId(animal)))?.into_iter().find(|case| case.id == id))
    }

    fn follow_ups(&self, animal: Option<&AnimalId>) -> Result<HashMap<i64, Vec<FollowUp>>, StoreError> {
        let mut statement = self.connection().prepare_cached(
            "SELECT case_id, f.date, f.block, f.height_mm, f.course, f.note, f.who
             FROM follow_ups f JOIN cases c ON c.id = f.case_id
             WHERE f.withdrawn IS NULL AND (?1 IS NULL OR c.animal_id = ?1) ORDER BY f.date, f.id",
        )?;
        let filled = |text: String| (!text.is_empty()).then_some(text);
        let rows = statement.query_map([animal.map(|a| &a.0)], |row| {
            let follow_up = FollowUp {
                date: day(row, 1)?,
                block: BlockSeen::from_name(&row.get::<_, String>(2)?),
                height_mm: row.get(3)?,
                course: Course::from_name(&row.get::<_, String>(4)?),
                note: filled(row.get(5)?),
                who: filled(row.get(6)?),
            };
            Ok((row.get::<_, i64>(0)?, follow_up))
        })?;
        let mut by_case: HashMap<i64, Vec<FollowUp>> = HashMap::new();
        for row in rows {
            let (case, follow_up) = row?;
            by_case.entry(case).or_default().push(follow_up);
        }
        Ok(by_case)
    }

    /// Keeps a follow-up of a case; its number.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn add_follow_up(&self, case: i64, look: &FollowUp, now: Timestamp) -> Result<i64, StoreError> {
        self.connection()
            .prepare_cached(
                "INSERT INTO follow_ups (case_id, date, block, height_mm, course, note, who, entered_ms)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            )?
            .execute(params![
                case,
                look.date.to_string(),
                look.block.map_or("", BlockSeen::name),
                look.height_mm,
                look.course.map_or("", Course::name),
                look.note.as_deref().unwrap_or(""),
                look.who.as_deref().unwrap_or(""),
                now.as_millisecond(),
            ])?;
        let id = self.connection().last_insert_rowid();
        self.note_brought("follow_up", &[&id.to_string()], None)?;
        Ok(id)
    }

    /// Marks a follow-up as no longer counting; it stays.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn withdraw_follow_up(&self, id: i64, why: &str) -> Result<(), StoreError> {
        self.connection()
            .prepare_cached("UPDATE follow_ups SET withdrawn = ?2 WHERE id = ?1")?
            .execute(params![id, why])?;
        Ok(())
    }

    /// Puts a corrected case in the place of the one kept, and what it was into the history.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn correct_case(
        &self,
        id: i64,
        corrected: &Case,
        changes: &[CorrectedField],
        who: &str,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        let sets: Vec<String> =
            NAMES.iter().enumerate().map(|(place, name)| format!("{name} = ?{}", place + 3)).collect();
        // Another cow is one by her own name: what the case was called no longer counts.
        let sql = format!(
            "UPDATE cases SET called = iif(animal_id = ?1, called, ?1), {} WHERE id = ?2",
            sets.join(", ")
        );
        let values = [corrected.animal.0.clone(), id.to_string()]
            .into_iter()
            .chain(NAMES.iter().map(|name| corrected.field(name)));
        self.batch(|store| {
            store.connection().prepare_cached(&sql)?.execute(params_from_iter(values))?;
            changes.iter().try_for_each(|change| store.note_change(id, change, who, now))
        })
    }

    /// Marks a case as no longer counting; it and its history stay.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn withdraw_case(&self, id: i64, why: &str, who: &str, now: Timestamp) -> Result<(), StoreError> {
        self.batch(|store| store.withdraw_within(id, why, who, now))
    }

    /// Lets a withdrawn case count again.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn reinstate_case(
        &self,
        kept: &KeptCase,
        why: &str,
        who: &str,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        let was = kept.withdrawn.clone().unwrap_or_default();
        self.batch(|store| {
            store
                .connection()
                .prepare_cached("UPDATE cases SET withdrawn = NULL WHERE id = ?1")?
                .execute([kept.id])?;
            let change = CorrectedField { field: "withdrawn".to_owned(), was, is: format!("no: {why}") };
            store.note_change(kept.id, &change, who, now)
        })
    }

    /// Withdraws it within a transaction that is open.
    pub(crate) fn withdraw_within(
        &self,
        id: i64,
        why: &str,
        who: &str,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        self.connection()
            .prepare_cached("UPDATE cases SET withdrawn = ?2 WHERE id = ?1")?
            .execute(params![id, why])?;
        let change = CorrectedField { field: "withdrawn".to_owned(), was: String::new(), is: why.to_owned() };
        self.note_change(id, &change, who, now)
    }

    fn note_change(
        &self,
        id: i64,
        change: &CorrectedField,
        who: &str,
        now: Timestamp,
    ) -> Result<(), StoreError> {
        self.connection()
            .prepare_cached(
                "INSERT INTO corrections (case_id, at_ms, who, field, was, became) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute(params![id, now.as_millisecond(), who, change.field, change.was, change.is])?;
        Ok(())
    }

    /// The corrections of a case, oldest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn corrections(&self, id: i64) -> Result<Vec<history::Correction>, StoreError> {
        let mut statement = self.connection().prepare_cached(
            "SELECT at_ms, who, field, was, became FROM corrections WHERE case_id = ?1 ORDER BY id",
        )?;
        let rows = statement.query_map([id], |row| {
            Ok(Correction {
                at: Timestamp::from_millisecond(row.get(0)?).unwrap_or_default(),
                who: row.get(1)?,
                change: CorrectedField { field: row.get(2)?, was: row.get(3)?, is: row.get(4)? },
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The corrections of all cases: by case, each with the farm's local day it was made, oldest first.
    fn dated_corrections(&self) -> Result<HashMap<i64, Vec<(Date, CorrectedField)>>, StoreError> {
        let zone = self.time_zone()?;
        let mut statement = self
            .connection()
            .prepare_cached("SELECT case_id, at_ms, field, was, became FROM corrections ORDER BY id")?;
        let rows = statement.query_map([], |row| {
            let made = Timestamp::from_millisecond(row.get(1)?).unwrap_or_default();
            let change = CorrectedField { field: row.get(2)?, was: row.get(3)?, is: row.get(4)? };
            Ok((row.get::<_, i64>(0)?, (zone.to_datetime(made).date(), change)))
        })?;
        let mut by_case: HashMap<i64, Vec<(Date, CorrectedField)>> = HashMap::new();
        for row in rows {
            let (case, change) = row?;
            by_case.entry(case).or_default().push(change);
        }
        Ok(by_case)
    }

    /// What the score needs to know of the trims and treatments, in the order of their days: every version of each,
    /// with the days on which it was the one known.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn foot_work(&self) -> Result<Vec<FootWork>, StoreError> {
        let corrections = self.dated_corrections()?;
        let of = |id: &i64| corrections.get(id).map_or(&[][..], Vec::as_slice);
        let mut work: Vec<FootWork> =
            self.cases(None)?.iter().flat_map(|kept| versions::versions(kept, of(&kept.id))).collect();
        let looks = self.marks(Date::MAX)?.into_iter().filter(|marked| marked.mark == Mark::Looked);
        work.extend(looks.map(|marked| FootWork {
            look: true,
            date: marked.date,
            animal: marked.animal,
            leg: None,
            lesion: false,
            block: false,
            block_off: None,
            block_due: None,
            known: VersionSpan { from: marked.date, until: None },
        }));
        work.sort_by_key(|work| work.date);
        Ok(work)
    }

    /// The cases as known by the end of a day: later ones left out, later corrections undone.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn cases_known_on(&self, day: Date) -> Result<Vec<KeptCase>, StoreError> {
        let corrections = self.dated_corrections()?;
        let of = |id: &i64| corrections.get(id).map_or(&[][..], Vec::as_slice);
        let cases = self.cases(None)?;
        Ok(cases.iter().filter_map(|kept| versions::known_on(kept, of(&kept.id), day)).collect())
    }
}

fn day(row: &Row<'_>, index: usize) -> rusqlite::Result<Date> {
    let text: String = row.get(index)?;
    text.parse().map_err(|error: jiff::Error| damaged(index, error))
}

fn damaged(index: usize, error: impl std::error::Error + Send + Sync + 'static) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(index, rusqlite::types::Type::Text, Box::new(error))
}

fn kept_case(row: &Row<'_>) -> rusqlite::Result<KeptCase> {
    let mut case = Case::new(AnimalId(String::new()), Date::default());
    for (index, name) in NAMES.iter().enumerate() {
        let text: String = row.get(index + 2)?;
        case.set_field(name, &text).map_err(|error| damaged(index + 2, error))?;
    }
    Ok(KeptCase { id: row.get(0)?, case, follow_ups: Vec::new(), withdrawn: row.get(1)? })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn blocked() -> Case {
        let mut case = Case::new(AnimalId("412".into()), date(2026, 3, 2));
        for (name, value) in [("leg", "RR"), ("claw", "outer"), ("lesion", "WL"), ("block_claw", "inner")] {
            case.set_field(name, value).unwrap();
        }
        case
    }

    fn look(day: Date, block: BlockSeen) -> FollowUp {
        FollowUp {
            date: day,
            block: Some(block),
            height_mm: Some(12.0),
            course: Some(Course::Improving),
            note: None,
            who: None,
        }
    }

    #[test]
    fn a_case_comes_back_as_it_was_kept_and_only_once() {
        let store = Store::in_memory().unwrap();
        let id = store.add_case(&blocked(), Timestamp::UNIX_EPOCH).unwrap().unwrap();
        assert_eq!(store.add_case(&blocked(), Timestamp::UNIX_EPOCH).unwrap(), None);
        store.add_follow_up(id, &look(date(2026, 3, 12), BlockSeen::On), Timestamp::UNIX_EPOCH).unwrap();
        let kept = store.case(id).unwrap().unwrap();
        assert_eq!(kept.case, blocked());
        assert_eq!(kept.follow_ups, [look(date(2026, 3, 12), BlockSeen::On)]);
        assert_eq!(store.case(id + 1).unwrap(), None);
    }

    #[test]
    fn corrections_keep_what_was_and_nothing_can_be_deleted() {
        let store = Store::in_memory().unwrap();
        let id = store.add_case(&blocked(), Timestamp::UNIX_EPOCH).unwrap().unwrap();
        let (corrected, changes) = history::apply(&blocked(), &[("zone".into(), "3".into())]).unwrap();
        store.correct_case(id, &corrected, &changes, "trimmer", Timestamp::UNIX_EPOCH).unwrap();
        store.withdraw_case(id, "wrong cow", "trimmer", Timestamp::UNIX_EPOCH).unwrap();
        let kept = store.case(id).unwrap().unwrap();
        assert_eq!(kept.case.field("zone"), "3");
        assert_eq!(kept.withdrawn.as_deref(), Some("wrong cow"));
        let history = store.corrections(id).unwrap();
        assert_eq!(history.len(), 2);
        assert_eq!((history[0].change.was.as_str(), history[0].change.is.as_str()), ("", "3"));
        assert!(store.foot_work().unwrap().is_empty());
        // The line that was imported is still known, so importing it again does not bring it back.
        assert_eq!(store.add_case(&blocked(), Timestamp::UNIX_EPOCH).unwrap(), None);
        assert!(store.connection().execute("DELETE FROM cases", []).is_err());
        assert!(store.connection().execute("DELETE FROM corrections", []).is_err());
    }

    #[test]
    fn a_past_day_knows_the_case_as_it_stood_then() {
        let store = Store::in_memory().unwrap();
        let id = store.add_case(&blocked(), Timestamp::UNIX_EPOCH).unwrap().unwrap();
        let (corrected, changes) = history::apply(&blocked(), &[("leg".into(), "LR".into())]).unwrap();
        let made: Timestamp = "2026-03-10T09:00:00Z".parse().unwrap();
        store.correct_case(id, &corrected, &changes, "trimmer", made).unwrap();
        let leg = |day| store.cases_known_on(day).unwrap().first().map(|kept| kept.case.field("leg"));
        assert_eq!(leg(date(2026, 3, 1)), None);
        assert_eq!(leg(date(2026, 3, 9)).as_deref(), Some("RR"));
        assert_eq!(leg(date(2026, 3, 10)).as_deref(), Some("LR"));
        let work = store.foot_work().unwrap();
        assert_eq!(
            work.iter().map(|work| work.known.from).collect::<Vec<_>>(),
            [date(2026, 3, 2), date(2026, 3, 10)]
        );
    }

    #[test]
    fn a_block_is_due_and_gone_at_its_time_or_as_seen() {
        let store = Store::in_memory().unwrap();
        let id = store.add_case(&blocked(), Timestamp::UNIX_EPOCH).unwrap().unwrap();
        let ends = || {
            let work = store.foot_work().unwrap().pop().unwrap();
            (work.block_due, work.block_off)
        };
        assert_eq!(ends(), (Some(date(2026, 3, 30)), Some(date(2026, 5, 11))));
        store.add_follow_up(id, &look(date(2026, 4, 2), BlockSeen::On), Timestamp::UNIX_EPOCH).unwrap();
        assert_eq!(ends(), (Some(date(2026, 4, 3)), Some(date(2026, 6, 11))));
        store.add_follow_up(id, &look(date(2026, 4, 6), BlockSeen::TakenOff), Timestamp::UNIX_EPOCH).unwrap();
        assert_eq!(ends(), (None, Some(date(2026, 4, 6))));
    }
}
