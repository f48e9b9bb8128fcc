//! Readings on their way through three threads: one reads and parses, one analyses, and the caller stores. The queues
//! between them are short, so that memory stays the same however long the file is; each is in order, so that the
//! result is that of one thread.

use crate::import::readings::pace::Pace;
use crate::import::readings::reading;
use crate::import::readings::recorder::{PassageRecorder, Recorded};
use crate::import::readings::rows::{ReadingRows, Timed};
use crate::import::{ImportError, Problems};
use std::{
    io::{self, Read},
    sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel},
    thread,
};

/// Readings handed over together: 100 kB. Our choice.
const BLOCK: usize = 4096;
/// Blocks that may wait to be analysed. Our choice.
const BLOCKS: usize = 4;
/// Groups of passages that may wait to be stored. Our choice: with their traces, a megabyte each.
const GROUPS: usize = 1;

/// The analysis, and the rate beside it.
pub(super) type Analysis = (PassageRecorder, Pace);

/// Analyses all rows that are left; `store` gets the passages as they end, `together` at a time, the last ones fewer.
/// Gives the analysis as the rows left it.
///
/// # Errors
/// When the input cannot be read, or what `store` says; it gets nothing more then.
pub(super) fn run<R: Read + Send>(
    rows: &mut ReadingRows<'_, R>,
    problems: &mut Problems,
    analysis: Analysis,
    together: usize,
    mut store: impl FnMut(Vec<Recorded>) -> Result<(), ImportError>,
) -> Result<Analysis, ImportError> {
    let (full, blocks) = sync_channel(BLOCKS);
    let (used, empty) = channel();
    let (ended, groups) = sync_channel(GROUPS);
    thread::scope(|scope| {
        let reading = scope.spawn(move || read(rows, problems, &full, &empty));
        let analysing = scope.spawn(move || analyse(analysis, together, &blocks, &used, &ended));
        // Ends when the analysis does. Where the store fails the queue is dropped, and so the others end.
        let stored = groups.into_iter().try_for_each(&mut store);
        let read = reading.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        let (mut recorder, pace) = analysing.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        stored?;
        read?;
        store(std::mem::take(&mut recorder.passages))?;
        Ok((recorder, pace))
    })
}

/// Hands out the rows in blocks until they end, or nobody takes them any more.
fn read<R: Read>(
    rows: &mut ReadingRows<'_, R>,
    problems: &mut Problems,
    full: &SyncSender<Vec<Timed>>,
    empty: &Receiver<Vec<Timed>>,
) -> io::Result<()> {
    loop {
        let mut block = empty.try_recv().unwrap_or_else(|_| Vec::with_capacity(BLOCK));
        while block.len() < BLOCK
            && let Some(timed) = rows.next(problems)?
        {
            block.push(timed);
        }
        let more = block.len() == BLOCK;
        if full.send(block).is_err() || !more {
            return Ok(());
        }
    }
}

fn analyse(
    (mut recorder, mut pace): Analysis,
    together: usize,
    blocks: &Receiver<Vec<Timed>>,
    used: &Sender<Vec<Timed>>,
    ended: &SyncSender<Vec<Recorded>>,
) -> Analysis {
    for mut block in blocks {
        for (time, loads) in block.drain(..) {
            pace.push(time);
            recorder.push(&reading(time, loads));
            if recorder.passages.len() >= together
                && ended.send(std::mem::take(&mut recorder.passages)).is_err()
            {
                return (recorder, pace);
            }
        }
        // The reader may have ended.
        let _ = used.send(block);
    }
    (recorder, pace)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::import::Table;
    use crate::import::readings::{COLUMNS, tests::file};
    use crate::store::StoreError;
    use jiff::Timestamp;
    use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};

    /// Cows of the file; each is on for 4 s of 30.
    const COWS: usize = 20;
    const ROWS_A_COW: usize = 3000;

    /// Gives a text in small pieces, counts them, and fails at a place.
    struct Drip<'a> {
        text: &'a [u8],
        given: &'a AtomicUsize,
        fails_at: usize,
    }

    impl Read for Drip<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let at = self.given.load(SeqCst);
            if at >= self.fails_at {
                return Err(io::Error::other("the disk is gone"));
            }
            let length = buffer.len().min(1000).min(self.text.len() - at);
            buffer[..length].copy_from_slice(&self.text[at..at + length]);
            self.given.store(at + length, SeqCst);
            Ok(length)
        }
    }

    /// Runs the text of the file, one passage at a time; what became of it, and the problems.
    fn run_on(
        text: &str,
        given: &AtomicUsize,
        fails_at: usize,
        store: impl FnMut(Vec<Recorded>) -> Result<(), ImportError>,
    ) -> (Result<(), ImportError>, Problems) {
        let mut problems = Problems::of("t.csv");
        let input = Drip { text: text.as_bytes(), given, fails_at };
        let table = Table::open(input, COLUMNS, &mut problems).unwrap().unwrap();
        let mut rows = ReadingRows::new(table, Timestamp::now());
        let analysis = (PassageRecorder::new(100.0), Pace::new(100.0));
        let done = run(&mut rows, &mut problems, analysis, 1, store).map(|_| ());
        (done, problems)
    }

    #[test]
    fn passages_come_in_order_and_reading_does_not_run_ahead() {
        let (text, given) = (file(COWS), AtomicUsize::new(0));
        let most_a_row = text.lines().map(str::len).max().unwrap() + 1;
        let mut starts = Vec::new();
        let (done, _) = run_on(&text, &given, usize::MAX, |ended| {
            starts.extend(ended.iter().map(|(summary, _)| summary.start.0));
            // One group is here, GROUPS wait, one is about to; and what fills the blocks after that.
            let analysed = (starts.len() + GROUPS + 1) * ROWS_A_COW;
            let ahead = (BLOCKS + 3) * BLOCK;
            assert!(given.load(SeqCst) <= (analysed + ahead) * most_a_row + 1000);
            Ok(())
        });
        done.unwrap();
        assert_eq!(starts.len(), COWS);
        assert!(starts.is_sorted());
    }

    #[test]
    fn what_was_whole_before_a_read_error_is_stored_and_problems_keep_their_lines() {
        let mut lines: Vec<String> = file(COWS).lines().map(str::to_owned).collect();
        lines[9_000] = lines[9_000].replacen('.', ".x", 1);
        let text = lines.join("\n");
        let (given, mut stored) = (AtomicUsize::new(0), 0);
        let (done, problems) = run_on(&text, &given, text.len() / 2, |ended| {
            stored += ended.len();
            Ok(())
        });
        assert!(matches!(done, Err(ImportError::Read(_))), "{done:?}");
        // The blocks before the error are analysed; the one that it cut off is not.
        assert!((COWS / 2 - 3..=COWS / 2).contains(&stored), "{stored}");
        assert_eq!(problems.first.iter().map(|problem| problem.line).collect::<Vec<_>>(), [9_001]);
    }

    #[test]
    fn a_store_that_fails_ends_everything() {
        let (text, given) = (file(COWS), AtomicUsize::new(0));
        let mut asked = 0;
        let (done, _) = run_on(&text, &given, usize::MAX, |_| {
            asked += 1;
            if asked < 3 { Ok(()) } else { Err(StoreError::ReadOnly.into()) }
        });
        assert!(matches!(done, Err(ImportError::Store(StoreError::ReadOnly))), "{done:?}");
        assert_eq!(asked, 3);
    }
}
