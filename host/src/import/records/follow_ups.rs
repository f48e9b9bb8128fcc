//! Later looks at treated feet, one row each.

use crate::import::records::who::Who;
use crate::import::{Column, ImportError, Input, Outcome, RowError, RowFault, rows, value};
use crate::record::case::lesion::Lesion;
use crate::record::case::{BlockSeen, Course, FollowUp, KeptCase, height_left};
use crate::record::finding::check;
use crate::store::Store;

/// The columns: which case, then what was seen. The order is that of `export follow-ups`.
pub const COLUMNS: [Column; 11] = [
    Column::needed("case_date"),
    Column::needed("animal_id"),
    Column::needed("leg"),
    Column::optional("claw"),
    Column::optional("lesion"),
    Column::needed("date"),
    Column::optional("block"),
    Column::optional("block_height_mm"),
    Column::optional("course"),
    Column::optional("note"),
    Column::optional("who"),
];

/// A follow-up as a row.
#[must_use]
pub fn row_of(kept: &KeptCase, look: &FollowUp) -> [String; COLUMNS.len()] {
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    [
        kept.case.field("date"),
        kept.case.field("animal_id"),
        kept.case.field("leg"),
        kept.case.field("claw"),
        kept.case.field("lesion"),
        look.date.to_string(),
        look.block.map_or("", BlockSeen::name).to_owned(),
        look.height_mm.map_or_else(String::new, |height| height.to_string()),
        look.course.map_or("", Course::name).to_owned(),
        text(&look.note),
        text(&look.who),
    ]
}

/// Imports follow-ups; a row whose case is not here, or may be one of several, is a problem.
///
/// # Errors
/// When the file cannot be read or the store cannot be written; what was stored before stays.
pub fn import(store: &Store, input: Input) -> Result<Outcome, ImportError> {
    let now = input.now;
    let today = store.time_zone()?.to_datetime(now).date();
    let mut who = Who::of(store)?;
    let mut outcome = rows(store, "follow-ups", input, &COLUMNS, |store, row, problems| {
        let mut texts = [const { String::new() }; COLUMNS.len()];
        for (index, text) in texts.iter_mut().enumerate() {
            row.text(index)?.unwrap_or_default().clone_into(text);
        }
        let worked = value::past("case_date", row.needed_date(0)?, now)?;
        let animal = who.animal(store, row.animal(1)?, worked)?;
        let hers = store.wearer(&animal.0, Some(worked))?.unwrap_or(animal);
        let lesion =
            Lesion::from_text(&texts[4]).map_or_else(String::new, |lesion| lesion.as_str().to_owned());
        let mut cases = store.cases(Some(&hers))?;
        cases.retain(|kept| {
            kept.case.date == worked
                && kept.case.field("leg").eq_ignore_ascii_case(&texts[2])
                && (texts[3].is_empty() || kept.case.field("claw").eq_ignore_ascii_case(&texts[3]))
                && (texts[4].is_empty() || kept.case.field("lesion") == lesion)
        });
        let kept = match &cases[..] {
            [kept] => kept,
            [] => return Err(RowFault::row("no case of that day, cow and foot is here").into()),
            _ => return Err(RowFault::row("several cases fit; write claw and lesion").into()),
        };
        let date = value::past("date", row.needed_date(5)?, now)?;
        let look = look(&texts, date)?;
        if kept.follow_ups.contains(&look) {
            return Ok(false);
        }
        for finding in check::follow_up(&KeptCase { withdrawn: None, ..kept.clone() }, &look, today) {
            if finding.refuses() {
                return Err(RowFault::against(finding).into());
            }
            problems.odd(row.line, finding);
        }
        store.add_follow_up(kept.id, &look, now)?;
        Ok(true)
    })?;
    outcome.notes.extend(who.unknown_note());
    Ok(outcome)
}

fn look(texts: &[String; COLUMNS.len()], date: jiff::civil::Date) -> Result<FollowUp, RowError> {
    fn one<T>(
        column: &'static str,
        text: &str,
        of: &str,
        read: impl Fn(&str) -> Option<T>,
    ) -> Result<Option<T>, RowError> {
        if text.is_empty() {
            return Ok(None);
        }
        read(text).map(Some).ok_or_else(|| RowFault::of(column, format!("`{text}` is not {of}")).into())
    }
    let filled = |text: &String| Some(text.clone()).filter(|text| !text.is_empty());
    Ok(FollowUp {
        date,
        block: one("block", &texts[6], "on, lost or off", BlockSeen::from_name)?,
        height_mm: one("block_height_mm", &texts[7], "a height in mm", height_left)?,
        course: one("course", &texts[8], "healed, improving, same or worse", Course::from_name)?,
        note: filled(&texts[9]),
        who: filled(&texts[10]),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::import::records::trims;
    use crate::import::undo::undo;
    use crate::store::SourceId;
    use jiff::Timestamp;

    const NOW: &str = "2026-04-01T00:00:00Z";

    fn now() -> Timestamp {
        NOW.parse().unwrap()
    }

    fn file(text: &'static str) -> Input {
        let mut input = Input::of("a file", Box::new(text.as_bytes()), None);
        input.now = now();
        input
    }

    fn farm() -> Store {
        let store = Store::in_memory().unwrap();
        let text = "date,animal_id,leg,claw,lesion,block_claw\n2026-03-02,412,RR,outer,WL,inner\n\
                    2026-03-02,412,RR,inner,SH,\n";
        assert_eq!(trims::import(&store, file(text)).unwrap().added, 2);
        store
    }

    #[test]
    fn a_look_finds_its_case_once() {
        let store = farm();
        let text = "case_date,animal_id,leg,lesion,date,block,block_height_mm,course\n\
                    2026-03-02,412,RR,WL,2026-03-10,on,14.5,improving\n";
        let outcome = import(&store, file(text)).unwrap();
        assert_eq!((outcome.added, outcome.bad), (1, 0), "{:?}", outcome.problems);
        assert_eq!(import(&store, file(text)).unwrap().already, 1);
        let kept = store.case(1).unwrap().unwrap();
        assert_eq!(row_of(&kept, &kept.follow_ups[0])[5..9], ["2026-03-10", "on", "14.5", "improving"]);
        assert!(undo(&store, SourceId(2), now()).unwrap().is_some());
        assert!(store.case(1).unwrap().unwrap().follow_ups.is_empty());
    }

    #[test]
    fn what_has_no_case_or_several_or_cannot_be_is_a_problem() {
        let store = farm();
        let text = "case_date,animal_id,leg,claw,lesion,date,block,course\n\
                    2026-03-02,412,LR,,,2026-03-10,,same\n\
                    2026-03-02,412,RR,,,2026-03-10,,same\n\
                    2026-03-02,412,RR,outer,,2026-03-01,,same\n\
                    2026-03-02,412,RR,outer,,2026-03-10,away,\n\
                    2026-03-02,412,RR,inner,,2026-03-10,on,\n\
                    2026-03-02,412,RR,inner,,2031-03-10,,same\n\
                    2026-03-02,412,RR,inner,,2026-03-10,,\n";
        let outcome = import(&store, file(text)).unwrap();
        assert_eq!((outcome.added, outcome.bad), (0, 7), "{:?}", outcome.problems);
    }
}
