//! Tables whose rows are many: one thread reads and parses, the caller stores.

use crate::import::{Column, ImportError, Input, Outcome, Problems, Row, RowFault, Table, file};
use crate::store::{SourceId, Store, StoreError};
use std::{
    io::{self, Read},
    sync::mpsc::{SyncSender, sync_channel},
    thread,
};

/// Rows stored together. Our choice: a kill loses less than a second of work.
const TOGETHER: usize = 4000;
/// Rows handed over together. Our choice.
const BLOCK: usize = 500;
/// Blocks that may wait to be stored: memory stays the same however long the file is. Our choice.
const BLOCKS: usize = 4;

/// Imports a file of rows that each stand alone and keep their source: `parse` reads a row, `put` stores some, all of them
/// or none, and says how many were new.
///
/// # Errors
/// When the file cannot be read or the store cannot be written; what was stored before stays.
pub fn rows<T: Send>(
    store: &Store,
    kind: &'static str,
    input: Input,
    columns: &[Column],
    parse: impl FnMut(&Row<'_>, &mut Problems) -> Result<T, RowFault> + Send,
    mut put: impl FnMut(&Store, SourceId, &[T]) -> Result<usize, StoreError>,
) -> Result<Outcome, ImportError> {
    file(store, kind, input, columns, |table, source, counts, problems| {
        let mut store_some = |rows: &mut Vec<T>| {
            let new = store.batch(|store| put(store, source, rows))?;
            counts.added += new as u64;
            counts.already += (rows.len() - new) as u64;
            rows.clear();
            Ok::<_, ImportError>(())
        };
        let (full, blocks) = sync_channel(BLOCKS);
        thread::scope(|scope| {
            let reading = scope.spawn(move || read(table, problems, parse, &full));
            let mut together = Vec::with_capacity(TOGETHER);
            // Where the store fails the queue is dropped, and so the reader ends.
            let stored = blocks.into_iter().try_for_each(|mut block| {
                together.append(&mut block);
                if together.len() >= TOGETHER { store_some(&mut together) } else { Ok(()) }
            });
            let read = reading.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
            stored?;
            read?;
            store_some(&mut together)
        })
    })
}

/// Hands out what is made of the rows until they end, or nobody takes it any more.
fn read<T, R: Read>(
    table: &mut Table<'_, R>,
    problems: &mut Problems,
    mut parse: impl FnMut(&Row<'_>, &mut Problems) -> Result<T, RowFault>,
    full: &SyncSender<Vec<T>>,
) -> io::Result<()> {
    let mut block = Vec::with_capacity(BLOCK);
    while let Some(row) = table.next_row(problems)? {
        match parse(&row, problems) {
            Ok(value) => block.push(value),
            Err(fault) => problems.add(row.line, fault),
        }
        if block.len() == BLOCK
            && full.send(std::mem::replace(&mut block, Vec::with_capacity(BLOCK))).is_err()
        {
            return Ok(());
        }
    }
    // Nobody need take it.
    let _ = full.send(block);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: &[Column] = &[Column::needed("number")];

    fn bring_in(
        text: &str,
        put: impl FnMut(&Store, SourceId, &[u64]) -> Result<usize, StoreError>,
    ) -> Result<Outcome, ImportError> {
        let store = Store::in_memory().unwrap();
        let input = Input::of("t.csv", Box::new(std::io::Cursor::new(text.to_owned().into_bytes())), None);
        let parse = |row: &Row<'_>, _: &mut Problems| {
            let number = row.whole(0, 0, u32::MAX)?;
            number.map(u64::from).ok_or_else(|| RowFault::row("empty"))
        };
        rows(&store, "numbers", input, COLUMNS, parse, put)
    }

    #[test]
    fn rows_come_in_order_and_problems_keep_their_lines() {
        const ROWS: u64 = 3 * TOGETHER as u64 + 7;
        let wrong = [3, 700, 5000];
        let mut text = "number\n".to_owned();
        for row in 0..ROWS {
            let line = if wrong.contains(&row) { "x\n".to_owned() } else { format!("{row}\n") };
            text.push_str(&line);
        }
        let mut seen = Vec::new();
        let outcome = bring_in(&text, |_, _, rows| {
            assert!(rows.len() <= TOGETHER);
            seen.extend_from_slice(rows);
            Ok(rows.len().saturating_sub(1))
        })
        .unwrap();
        assert!(seen.iter().copied().eq((0..ROWS).filter(|row| !wrong.contains(row))));
        let lines: Vec<u64> = outcome.problems.iter().map(|problem| problem.line).collect();
        assert_eq!(lines, wrong.map(|row| row + 2));
        assert_eq!(
            (outcome.rows, outcome.bad, outcome.already),
            (ROWS, 3, 4),
            "one of each transaction was there"
        );
    }

    #[test]
    fn a_store_that_fails_ends_everything() {
        let text = format!("number\n{}", "1\n".repeat(10 * TOGETHER));
        let mut asked = 0;
        let done = bring_in(&text, |_, _, _| {
            asked += 1;
            Err(StoreError::ReadOnly)
        });
        assert!(matches!(done, Err(ImportError::Store(StoreError::ReadOnly))));
        assert_eq!(asked, 1);
    }
}
