//! Trims and treatments, one row for each foot and lesion.

use crate::import::records::who::Who;
use crate::import::{Column, ImportError, Input, Outcome, RowFault, rows, value};
use crate::record::case::Case;
use crate::record::case::field::{FieldError, NAMES};
use crate::record::finding::check;
use crate::store::Store;

/// The fields of a case; only the day and the cow must be there.
const COLUMNS: [Column; NAMES.len() + 1] = {
    let mut columns = [Column::optional("withdrawn"); NAMES.len() + 1];
    let mut index = 0;
    while index < NAMES.len() {
        columns[index] = Column { name: NAMES[index], needed: index < 2 };
        index += 1;
    }
    columns
};

/// Imports a trims file. Rows that cannot be are problems; odd ones are taken in with a note.
///
/// # Errors
/// When the file cannot be read or the store cannot be written; what was stored before stays.
pub fn import(store: &Store, input: Input) -> Result<Outcome, ImportError> {
    let now = input.now;
    let mut who = Who::of(store)?;
    let mut outcome = rows(store, "trims", input, &COLUMNS, |store, row, problems| {
        let date = value::past("date", row.needed_date(0)?, now)?;
        let mut case = Case::new(who.animal(store, row.animal(1)?, date)?, date);
        for (index, name) in NAMES.iter().enumerate().skip(2) {
            let text = row.text(index)?.unwrap_or_default();
            if !text.is_empty() {
                case.set_field(name, text).map_err(|error| fault(name, &error))?;
            }
        }
        let hers = store.wearer(&case.animal.0, Some(date))?.unwrap_or_else(|| case.animal.clone());
        let others = store.cases(Some(&hers))?;
        for finding in check::case(&case, None, &others) {
            if finding.refuses() {
                return Err(RowFault::against(finding).into());
            }
            if !others.iter().any(|other| other.case == case) {
                problems.odd(row.line, finding);
            }
        }
        let added = store.add_case(&case, now)?;
        if let (Some(id), Some(why)) = (added, row.text(NAMES.len())?.filter(|why| !why.is_empty())) {
            store.withdraw_within(id, why, "import", now)?;
        }
        Ok(added.is_some())
    })?;
    outcome.notes.extend(who.unknown_note());
    Ok(outcome)
}

fn fault(name: &'static str, error: &FieldError) -> RowFault {
    match error {
        FieldError::Value { text, expected, .. } => RowFault::of(name, format!("`{text}` is not {expected}")),
        other => RowFault::of(name, other.to_string()),
    }
}
