//! The herd register: who there is, what she is called, which tag she wears, where she is, and her calvings.

use crate::import::records::registers::warn_test_tag;
use crate::import::{Column, ImportError, Input, Outcome, Row, RowError, RowFault, rows, value};
use crate::record::mark::{Mark, Marked, state};
use crate::record::names::Called;
use crate::record::{AnimalId, HerdEntry};
use crate::store::Store;
use jiff::{Timestamp, civil::Date};

const COLUMNS: &[Column] = &[
    Column::optional("animal_id"),
    Column::optional("parity"),
    Column::optional("calving_date"),
    Column::optional("number"),
    Column::optional("name"),
    Column::optional("tag"),
    Column::optional("tag_from"),
    Column::optional("state"),
    Column::optional("state_date"),
];

/// Highest lactation number taken. Our choice: above any cow's.
const MOST_PARITY: u32 = 30;

/// A row of the register, read.
struct Registered {
    id: Option<AnimalId>,
    tag: Option<(AnimalId, Option<Date>)>,
    called: Called,
    parity: Option<u8>,
    calving_date: Option<Date>,
    state: Option<(Mark, Option<Date>)>,
}

/// Imports the register: any of its columns, as long as each row has an `animal_id`, a `tag` or a `number`. A row a
/// lactation is one animal.
///
/// # Errors
/// When the file cannot be read or the store cannot be written.
pub fn herd(store: &Store, input: Input) -> Result<Outcome, ImportError> {
    let now = input.now;
    let mut renamed = false;
    let outcome = rows(store, "herd", input, COLUMNS, |store, row, problems| {
        let registered = read(row, now)?;
        for id in registered.id.iter().chain(registered.tag.as_ref().map(|(tag, _)| tag)) {
            warn_test_tag(id, problems);
        }
        let animal = animal(store, &registered)?;
        let named = put_names(store, &animal, &registered)?;
        renamed |= named;
        let mut changed = named;
        let entry = HerdEntry {
            animal: animal.clone(),
            parity: registered.parity,
            calving_date: registered.calving_date,
        };
        changed |= store.put_herd_entry(&entry)?;
        if let Some((mark, date)) = registered.state {
            changed |= put_state(store, &animal, mark, date, now)?;
        }
        Ok(changed)
    })?;
    if renamed {
        store.batch(Store::name_anew)?;
    }
    Ok(outcome)
}

fn read(row: &Row<'_>, now: Timestamp) -> Result<Registered, RowFault> {
    let text = |column| Ok::<_, RowFault>(row.text(column)?.unwrap_or_default().to_owned());
    let id = |column: usize, name| row.text(column)?.map(|text| value::animal(name, text)).transpose();
    let parity = row.whole(1, 0, MOST_PARITY)?.and_then(|parity| u8::try_from(parity).ok());
    let state = match row.text(7)? {
        None => None,
        Some(word) => {
            let mark = Mark::from_name(word).filter(|mark| mark.is_state()).ok_or_else(|| {
                RowFault::of("state", format!("`{word}` is none of milking, dry, sold, died, lent"))
            })?;
            Some((mark, row.past_date(8, now)?))
        }
    };
    let tag = id(5, "tag")?.map(|tag| Ok::<_, RowFault>((tag, row.past_date(6, now)?))).transpose()?;
    let called = Called { number: text(3)?, name: text(4)? };
    let id = id(0, "animal_id")?;
    if id.is_none() && tag.is_none() && called.number.is_empty() {
        return Err(RowFault::row("nobody is named; give an animal_id, a tag or a number"));
    }
    Ok(Registered { id, tag, called, parity, calving_date: row.past_date(2, now)?, state })
}

/// The animal of a row: one that is known by its id, its tag on that day or its number; else a new one of that id.
fn animal(store: &Store, row: &Registered) -> Result<AnimalId, RowError> {
    if let Some(id) = &row.id {
        return Ok(store.wearer(&id.0, None)?.unwrap_or_else(|| id.clone()));
    }
    if let Some((tag, from)) = &row.tag
        && let Some(animal) = store.wearer(&tag.0, *from)?
    {
        return Ok(animal);
    }
    if !row.called.number.is_empty() {
        match &store.numbered(&row.called.number)?[..] {
            [animal] => return Ok(animal.clone()),
            [one, other, ..] => {
                let what = format!("both {one} and {other} have the number; give an animal_id or a tag");
                return Err(RowFault::of("number", what).into());
            }
            [] => {}
        }
    }
    let own = row.tag.as_ref().map(|(tag, _)| tag.clone());
    Ok(own.unwrap_or_else(|| AnimalId(row.called.number.clone())))
}

fn put_names(store: &Store, animal: &AnimalId, row: &Registered) -> Result<bool, RowError> {
    let mut changed = false;
    if row.called != Called::default() {
        changed |= store.put_called(animal, &row.called)?;
    }
    if let Some((tag, from)) = &row.tag
        && (tag != animal || from.is_some())
    {
        changed |= store.put_ear_tag(&tag.0, *from, animal)?;
    }
    Ok(changed)
}

/// A state without a day holds from today on, unless it is the one she is in.
fn put_state(
    store: &Store,
    animal: &AnimalId,
    mark: Mark,
    date: Option<Date>,
    now: Timestamp,
) -> Result<bool, RowError> {
    let today = store.time_zone()?.to_datetime(now).date();
    let marks: Vec<Marked> =
        store.marks(today)?.into_iter().filter(|marked| marked.animal == *animal).collect();
    if date.is_none() && state(&marks, None, today) == mark {
        return Ok(false);
    }
    let date = date.unwrap_or(today);
    let marked = Marked { date, animal: animal.clone(), mark, who: String::new() };
    Ok(store.put_mark(&marked, now)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::import::passages;
    use crate::import::records::registers;
    use crate::record::names::{AskedBy, Meant};
    use crate::store::{PassageFilter, SourceId};
    use jiff::civil::date;

    fn file(text: &'static str) -> Input {
        Input::of("a file", Box::new(text.as_bytes()), None)
    }

    fn seen(store: &Store) -> Vec<Option<String>> {
        store
            .passages(&PassageFilter::default())
            .unwrap()
            .into_iter()
            .map(|p| p.animal.map(|a| a.0))
            .collect()
    }

    const REGISTER: &str = "animal_id,number,name,tag,tag_from,state,state_date,parity,calving_date\n\
        999000000000098,98,Berta,,,,,1,2024-01-10\n\
        999000000000098,98,Berta,,,,,2,2025-02-10\n\
        999000000000198,198,,999000000077777,2026-03-02,dry,2026-03-05,,\n";

    #[test]
    fn a_row_a_lactation_is_one_animal_and_every_name_is_hers() {
        let store = Store::in_memory().unwrap();
        let outcome = herd(&store, file(REGISTER)).unwrap();
        assert_eq!((outcome.added, outcome.bad), (3, 0), "{:?}", outcome.problems);
        assert_eq!(herd(&store, file(REGISTER)).unwrap().added, 0, "the same file adds nothing");
        assert_eq!(store.animals().unwrap().len(), 2);
        assert_eq!(store.herd().unwrap().len(), 3);
        let directory = store.directory().unwrap();
        let meant = |text| store.meant(&directory, text, date(2026, 3, 10), AskedBy::Person).unwrap();
        let berta = AnimalId("999000000000098".into());
        for word in ["98", "Berta", "999000000000098", "0098"] {
            assert_eq!(meant(word), Meant::One(berta.clone()), "{word}");
        }
        assert_eq!(meant("999000000077777"), Meant::One(AnimalId("999000000000198".into())));
        let marks = store.marks(date(2026, 3, 10)).unwrap();
        assert_eq!(
            marks.iter().map(|m| (m.date, m.mark)).collect::<Vec<_>>(),
            [(date(2026, 3, 5), Mark::Dry)]
        );
    }

    #[test]
    fn a_row_by_a_tag_is_of_the_cow_that_wears_it_on_its_day() {
        // REGISTER gives ...77777 to ...198 from 2 March on.
        let herd_after = |row: &str| {
            let store = Store::in_memory().expect("memory");
            herd(&store, file(REGISTER)).expect("read");
            let text = format!("animal_id,name,tag,tag_from\n{row}\n");
            let input = Input::of("a file", Box::new(std::io::Cursor::new(text)), None);
            assert_eq!(herd(&store, input).expect("read").bad, 0);
            store.animals().expect("readable").len()
        };
        assert_eq!(herd_after(",Clara,999000000077777,"), 2, "hers");
        assert_eq!(herd_after(",Clara,999000000077777,2026-03-02"), 2, "hers from that day on");
        assert_eq!(herd_after(",Clara,999000000077777,2026-03-01"), 3, "not yet hers: another cow");
        assert_eq!(herd_after("999000000077777,Clara,,"), 2, "hers, though it stands as an id");
        assert_eq!(herd_after("999000000000198,Clara,,"), 2, "her own id");
        assert_eq!(herd_after("999000000000099,Clara,,"), 3, "an id that nobody has");
    }

    #[test]
    fn a_new_tag_is_the_old_cow_from_its_day_on() {
        let store = Store::in_memory().unwrap();
        let passages_file =
            "animal_id,time,body_weight_kg\n,2026-03-01T06:00:00Z,640\n,2026-03-02T06:00:00Z,640\n";
        passages::passages(&store, file(passages_file), "exit").unwrap();
        let tags =
            "time,animal_id\n2026-03-01T05:59:59Z,999000000077777\n2026-03-02T05:59:59Z,999000000077777\n";
        registers::tags(&store, file(tags), "exit").unwrap();
        assert_eq!(seen(&store), [Some("999000000077777".into()), Some("999000000077777".into())]);
        herd(&store, file(REGISTER)).unwrap();
        assert_eq!(seen(&store), [Some("999000000077777".into()), Some("999000000000198".into())]);
        assert!(crate::import::undo::undo(&store, SourceId(3), Timestamp::UNIX_EPOCH).unwrap().is_some());
        assert_eq!(seen(&store), [Some("999000000077777".into()), Some("999000000077777".into())]);
        assert_eq!(store.names().unwrap().0.len(), 0);
    }

    #[test]
    fn what_is_said_of_a_cow_that_nobody_knows_waits_until_she_is_named() {
        let store = Store::in_memory().unwrap();
        herd(&store, file("animal_id\n999000000000001\n")).unwrap();
        let outcome = registers::scores(&store, file("date,animal_id,score\n2026-03-01,98,2\n")).unwrap();
        assert!(
            outcome.notes.iter().any(|note| note.contains("98") && note.contains("kept")),
            "{:?}",
            outcome.notes
        );
        crate::import::records::trims::import(
            &store,
            file("date,animal_id,leg,lesion\n2026-03-02,98,RR,SU\n"),
        )
        .unwrap();
        assert_eq!(store.animals().unwrap(), [AnimalId("999000000000001".into())], "she makes no animal");
        assert_eq!(store.waiting_for_a_name().unwrap(), ["98"]);
        herd(&store, file(REGISTER)).unwrap();
        let berta = AnimalId("999000000000098".into());
        assert_eq!(store.mobility_scores().unwrap()[0].animal, berta);
        assert_eq!(store.cases(Some(&berta)).unwrap().len(), 1);
        assert!(store.waiting_for_a_name().unwrap().is_empty());
        // The same files again add nothing, though she has another id by now.
        let again = registers::scores(&store, file("date,animal_id,score\n2026-03-01,98,2\n")).unwrap();
        assert_eq!((again.added, again.already), (0, 1));
        let trims = "date,animal_id,leg,lesion\n2026-03-02,98,RR,SU\n";
        assert_eq!(crate::import::records::trims::import(&store, file(trims)).unwrap().added, 0);
    }

    #[test]
    fn a_word_that_fits_two_cows_is_refused_with_both() {
        let store = Store::in_memory().unwrap();
        herd(&store, file("animal_id\n999000000000412\n998000000000412\n")).unwrap();
        let outcome = registers::scores(&store, file("date,animal_id,score\n2026-03-01,412,2\n")).unwrap();
        assert_eq!(outcome.bad, 1);
        let said = outcome.problems[0].to_string();
        assert!(said.contains("998000000000412") && said.contains("999000000000412"), "{said}");
    }

    #[test]
    fn rows_that_name_nobody_or_no_state_are_told() {
        let store = Store::in_memory().unwrap();
        let outcome =
            herd(&store, file("number,name,state,state_date\n,Berta,,\n98,,gone,\n98,,dry,2031-01-01\n"));
        let outcome = outcome.unwrap();
        assert_eq!(outcome.bad, 3);
        let said: Vec<String> = outcome.problems.iter().map(ToString::to_string).collect();
        assert!(
            said[0].contains("nobody is named") && said[1].contains("gone") && said[2].contains("future"),
            "{said:?}"
        );
        assert!(store.animals().unwrap().is_empty());
    }
}
