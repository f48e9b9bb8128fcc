//! The journal and the settings on a flash as inside microcontrollers: written in words of four bytes, each at most
//! twice between two erasures, through a driver that waits.

use embedded_storage::nor_flash::{ErrorType, MultiwriteNorFlash, NorFlash, NorFlashErrorKind, ReadNorFlash};
use firmware::{
    blocking_flash::BlockingFlash,
    journal::{Journal, Kind, Layout},
    settings::{Store, factory},
};
use std::collections::BTreeMap;

const PAGE: usize = 4_096;
const WORD: usize = 4;
/// Writes a word stands between two erasures: nRF52840 product specification, nWRITE; from memory.
const MOST_WRITES: u8 = 2;

struct WordFlash {
    cells: Vec<u8>,
    writes: Vec<u8>,
}

impl WordFlash {
    fn new(pages: usize) -> Self {
        Self { cells: vec![0xFF; pages * PAGE], writes: vec![0; pages * PAGE / WORD] }
    }
}

impl ErrorType for WordFlash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for WordFlash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        let from = offset as usize;
        bytes
            .copy_from_slice(self.cells.get(from..from + bytes.len()).ok_or(NorFlashErrorKind::OutOfBounds)?);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.cells.len()
    }
}

impl NorFlash for WordFlash {
    const WRITE_SIZE: usize = WORD;
    const ERASE_SIZE: usize = PAGE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        let (from, to) = (from as usize, to as usize);
        if !from.is_multiple_of(PAGE) || !to.is_multiple_of(PAGE) {
            return Err(NorFlashErrorKind::NotAligned);
        }
        self.cells.get_mut(from..to).ok_or(NorFlashErrorKind::OutOfBounds)?.fill(0xFF);
        self.writes[from / WORD..to / WORD].fill(0);
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        let from = offset as usize;
        if !from.is_multiple_of(WORD) || !bytes.len().is_multiple_of(WORD) {
            return Err(NorFlashErrorKind::NotAligned);
        }
        for (n, word) in bytes.chunks(WORD).enumerate() {
            let writes = &mut self.writes[from / WORD + n];
            *writes += 1;
            assert!(*writes <= MOST_WRITES, "the word at {} is written too often", from + n * WORD);
            for (cell, byte) in self.cells[from + n * WORD..].iter_mut().zip(word) {
                *cell &= byte;
            }
        }
        Ok(())
    }
}

impl MultiwriteNorFlash for WordFlash {}

type Flash = BlockingFlash<WordFlash>;

#[test]
fn a_busy_week_keeps_to_the_words_and_loses_nothing() {
    let pages = 24;
    let layout = Layout::of::<Flash>((pages * PAGE) as u32).expect("large enough");
    let mut flash = BlockingFlash(WordFlash::new(pages));
    let mut waiting = BTreeMap::new();
    for day in 0..14_u32 {
        let mut journal = Journal::open(flash, &layout).expect("opens");
        let (mut store, mut settings) = Store::load(journal.flash(), &layout);
        assert_eq!(
            settings.zero.0[0].0,
            if day == 0 { factory().zero.0[0].0 } else { day.cast_signed() - 1 }
        );
        settings.zero.0[0].0 = day.cast_signed();
        store.save(journal.flash(), &settings).expect("stored");
        for cow in 0..40_u32 {
            for piece in 0..6 {
                let kind = if piece < 5 { Kind::Trace } else { Kind::Record };
                let frame = vec![(day * 40 + cow) as u8 | 1; 150 + (cow as usize * 7 + piece) % 100];
                let number = journal.keep(kind, &frame).expect("kept");
                waiting.insert(number, frame);
            }
            // A host that comes now and then, and does not always get the last of it.
            if cow % 5 == 4 {
                let last = *waiting.keys().next_back().expect("some") - cow % 3;
                while let Some((number, frame)) =
                    journal.next_from(0).expect("readable").filter(|item| item.0 <= last)
                {
                    assert_eq!(waiting.remove(&number).as_deref(), Some(frame));
                    journal.acknowledge(number, number).expect("written");
                }
            }
        }
        assert_eq!((journal.records_dropped(), journal.traces_dropped()), (0, 0));
        assert_eq!(journal.waiting() as usize, waiting.len());
        flash = journal.release();
    }
}
