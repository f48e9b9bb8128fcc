//! The journal: what the host has not yet acknowledged, kept in flash through any power cut.
//!
//! Two queues of frames as they will be sent, each item with its sequence number before it: passages and tags in
//! one, traces in the other, so that traces crowd out only traces. A third, tiny queue holds the marks: the boot
//! count and the sequence numbers given out. The queues are those of `sequential-storage`: an item that was
//! not written whole is never read back.

mod region;

pub use region::{Layout, LayoutError};

use embassy_futures::block_on;
use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use region::Region;
use shared::limits::MAX_FRAME_BYTES;

/// Bytes of the sequence number before each frame.
const NUMBER_BYTES: usize = 4;
/// Largest item, rounded up to the largest word any flash here writes.
const ITEM_BYTES: usize = (NUMBER_BYTES + MAX_FRAME_BYTES).next_multiple_of(32);
/// Sequence numbers reserved by one mark: after a power cut at most so many are skipped (our choice).
const RESERVED_AT_ONCE: u32 = 64;
/// Bytes of a mark: boot count, first sequence number not reserved, name of the journal.
const MARK_BYTES: usize = 16;

/// Why the journal could not do it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JournalError {
    /// The flash failed.
    Flash,
    /// The flash holds what was never written by us, and could not be repaired.
    Corrupt,
    /// The frame is longer than an item may be.
    TooLong,
}

/// What an item is: it decides what goes first when the flash is full.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A passage or a tag: goes last.
    Record,
    /// A piece of a trace: goes first.
    Trace,
}

/// The journal.
pub struct Journal<F> {
    flash: F,
    marks: Region,
    records: Region,
    traces: Region,
    boot: u32,
    /// Given by the first host; 0 before.
    name: u64,
    next: u32,
    reserved: u32,
    waiting: u32,
    records_dropped: u32,
    traces_dropped: u32,
    buffer: [u8; ITEM_BYTES],
}

impl<F: MultiwriteNorFlash> Journal<F> {
    /// Opens the journal and counts the boot. Flash that was never used may hold anything: erase it first.
    ///
    /// # Errors
    /// The flash failed, or cannot be made sense of.
    pub fn open(flash: F, layout: &Layout) -> Result<Self, JournalError> {
        let mut journal = Self::closed(flash, layout);
        journal.start()?;
        Ok(journal)
    }

    /// A journal that must be started before it is used: for a board that makes it where it is to stay.
    pub const fn closed(flash: F, layout: &Layout) -> Self {
        Self {
            flash,
            marks: Region::new(layout.marks.start..layout.marks.end),
            records: Region::new(layout.records.start..layout.records.end),
            traces: Region::new(layout.traces.start..layout.traces.end),
            boot: 0,
            name: 0,
            next: 0,
            reserved: 0,
            waiting: 0,
            records_dropped: 0,
            traces_dropped: 0,
            buffer: [0; ITEM_BYTES],
        }
    }

    /// Finds what the flash holds and counts the boot.
    ///
    /// # Errors
    /// As [`Self::open`].
    #[inline(never)]
    pub fn start(&mut self) -> Result<(), JournalError> {
        self.read_marks()?;
        let (records, traces) = (self.survey(Kind::Record)?, self.survey(Kind::Trace)?);
        self.waiting = records.0 + traces.0;
        // The marks come first; what the queues hold only helps where the marks were lost.
        self.next = self.reserved.max(records.1).max(traces.1);
        self.reserved = self.next;
        self.boot = self.boot.saturating_add(1);
        self.mark(self.next.saturating_add(RESERVED_AT_ONCE))
    }

    /// Hands the flash back.
    pub fn release(self) -> F {
        self.flash
    }

    /// The flash, for what else lives in it.
    pub const fn flash(&mut self) -> &mut F {
        &mut self.flash
    }

    /// Boots counted so far, this one too.
    #[must_use]
    pub const fn boot(&self) -> u32 {
        self.boot
    }

    /// What the journal is called; 0 where nobody has named it.
    #[must_use]
    pub const fn name(&self) -> u64 {
        self.name
    }

    /// Names the journal, for good.
    ///
    /// # Errors
    /// The flash failed; then it has no name.
    #[inline(never)]
    pub fn give_name(&mut self, name: u64) -> Result<(), JournalError> {
        if self.name != 0 {
            return Ok(());
        }
        self.name = name;
        self.mark(self.reserved).inspect_err(|_| self.name = 0)
    }

    /// The sequence number the next item gets.
    #[must_use]
    pub const fn next_sequence(&self) -> u32 {
        self.next
    }

    /// Items that wait for an acknowledgement.
    #[must_use]
    pub const fn waiting(&self) -> u32 {
        self.waiting
    }

    /// Passages and tags given up for space since boot.
    #[must_use]
    pub const fn records_dropped(&self) -> u32 {
        self.records_dropped
    }

    /// Trace pieces given up for space since boot.
    #[must_use]
    pub const fn traces_dropped(&self) -> u32 {
        self.traces_dropped
    }

    /// Space in use, %: of the fuller queue.
    ///
    /// # Errors
    /// The flash failed.
    pub fn fill_pct(&mut self) -> Result<u8, JournalError> {
        let records = block_on(self.records.fill_pct(&mut self.flash))?;
        let traces = block_on(self.traces.fill_pct(&mut self.flash))?;
        Ok(records.max(traces))
    }

    /// Keeps a frame under the number [`Self::next_sequence`] told. When this returns, it is kept.
    ///
    /// # Errors
    /// The flash failed (the number is used up all the same), or the frame is too long.
    pub fn keep(&mut self, kind: Kind, frame: &[u8]) -> Result<u32, JournalError> {
        self.keep_with(kind, |room| {
            room.get_mut(..frame.len())?.copy_from_slice(frame);
            Some(frame.len())
        })
    }

    /// As [`Self::keep`], of a frame that `write` puts at the start of the room it is given; it says how long the
    /// frame is, or `None` where it does not fit.
    ///
    /// # Errors
    /// As [`Self::keep`].
    pub fn keep_with(
        &mut self,
        kind: Kind,
        write: impl FnOnce(&mut [u8]) -> Option<usize>,
    ) -> Result<u32, JournalError> {
        let sequence = self.next;
        if sequence >= self.reserved {
            self.mark(sequence.saturating_add(RESERVED_AT_ONCE))?;
        }
        self.next = sequence.wrapping_add(1);
        let (number, room) = self.buffer.split_first_chunk_mut().ok_or(JournalError::TooLong)?;
        *number = sequence.to_le_bytes();
        let length = NUMBER_BYTES + write(room).ok_or(JournalError::TooLong)?;
        let item = self.buffer.get(..length).ok_or(JournalError::TooLong)?;
        let (region, dropped) = match kind {
            Kind::Record => (&mut self.records, &mut self.records_dropped),
            Kind::Trace => (&mut self.traces, &mut self.traces_dropped),
        };
        while !block_on(region.push(&mut self.flash, item, false))? {
            if !give_up_oldest(region, &mut self.flash)? {
                return Err(JournalError::TooLong);
            }
            *dropped = dropped.saturating_add(1);
            self.waiting = self.waiting.saturating_sub(1);
        }
        self.waiting = self.waiting.saturating_add(1);
        Ok(sequence)
    }

    /// The kept frame with the lowest number not below `from`, and its number.
    ///
    /// # Errors
    /// The flash failed.
    pub fn next_from(&mut self, from: u32) -> Result<Option<(u32, &[u8])>, JournalError> {
        let record =
            block_on(self.records.find(&mut self.flash, from, &mut self.buffer))?.map(|found| found.0);
        let trace = block_on(self.traces.find(&mut self.flash, from, &mut self.buffer))?;
        let found = match (record, trace) {
            (Some(record), Some(trace)) if trace.0 < record => Some(trace),
            (Some(_), _) => block_on(self.records.find(&mut self.flash, from, &mut self.buffer))?,
            (None, trace) => trace,
        };
        Ok(found.and_then(|(number, length)| Some((number, self.buffer.get(NUMBER_BYTES..length)?))))
    }

    /// Forgets the items numbered from `first` to `last`, both included.
    ///
    /// # Errors
    /// The flash failed; some may be forgotten already.
    #[inline(never)]
    pub fn acknowledge(&mut self, first: u32, last: u32) -> Result<(), JournalError> {
        for region in [&mut self.records, &mut self.traces] {
            let gone = block_on(region.remove(&mut self.flash, first..=last, &mut self.buffer))?;
            self.waiting = self.waiting.saturating_sub(gone);
        }
        Ok(())
    }

    fn read_marks(&mut self) -> Result<(), JournalError> {
        let mark = block_on(self.marks.last(&mut self.flash, &mut self.buffer))?;
        if let Some(&[b0, b1, b2, b3, s0, s1, s2, s3, name @ ..]) = mark {
            self.boot = u32::from_le_bytes([b0, b1, b2, b3]);
            self.reserved = u32::from_le_bytes([s0, s1, s2, s3]);
            self.name = u64::from_le_bytes(name);
        }
        Ok(())
    }

    fn mark(&mut self, reserved: u32) -> Result<(), JournalError> {
        let mut mark = [0; MARK_BYTES];
        mark[..4].copy_from_slice(&self.boot.to_le_bytes());
        mark[4..8].copy_from_slice(&reserved.to_le_bytes());
        mark[8..].copy_from_slice(&self.name.to_le_bytes());
        if !block_on(self.marks.push(&mut self.flash, &mark, true))? {
            return Err(JournalError::Corrupt);
        }
        self.reserved = reserved;
        Ok(())
    }

    /// How many items a queue holds, and the number after its highest.
    fn survey(&mut self, kind: Kind) -> Result<(u32, u32), JournalError> {
        let region = match kind {
            Kind::Record => &mut self.records,
            Kind::Trace => &mut self.traces,
        };
        block_on(region.survey(&mut self.flash, &mut self.buffer))
    }
}

/// Removes the oldest item; false where there is none. The buffer is not the journal's, where an item waits to be
/// written.
#[inline(never)]
fn give_up_oldest<F: MultiwriteNorFlash>(region: &mut Region, flash: &mut F) -> Result<bool, JournalError> {
    block_on(region.pop(flash, &mut [0; ITEM_BYTES]))
}

#[cfg(test)]
mod tests;
