//! One queue in its part of the flash.

use super::{JournalError, MARK_BYTES, NUMBER_BYTES};
use crate::cow_table::SLOT_BYTES;
use core::ops::{Range, RangeInclusive};
use embedded_storage_async::nor_flash::{MultiwriteNorFlash, NorFlash};
use sequential_storage::{
    Error,
    cache::{Cache, Uncached, page_states::CalculatedPageStates},
    queue::{QueueConfig, QueueStorage},
};

type PageCache = Cache<CalculatedPageStates, Uncached, Uncached>;

/// Where things are in the flash. Every range must start and end at a page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Two pages: a copy of the settings in each.
    pub settings: [Range<u32>; 2],
    /// Boot count and sequence numbers: two pages or more.
    pub marks: Range<u32>,
    /// Passages and tags: two pages or more.
    pub records: Range<u32>,
    /// Traces: two pages or more.
    pub traces: Range<u32>,
    /// Two tables of cows; empty where the flash has no room for them.
    pub tables: [Range<u32>; 2],
    /// Two pages: a list of cows to hold back in each.
    pub lists: [Range<u32>; 2],
    /// The slot for a new program; empty where there is none.
    pub second: Range<u32>,
    /// A page: where the loader leaves word of the two programs; empty where there is no second slot.
    pub state: Range<u32>,
}

/// Why a flash cannot be laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LayoutError {
    /// Fewer than sixteen pages.
    TooSmall,
    /// A range lies across a page border.
    NotAtPages,
}

impl Layout {
    /// Shares out a flash: two pages of settings, two of marks, a quarter of the rest for records, two pages of lists at the
    /// end and before them two tables where they take no more than half, what is left for traces. A page holds some 15
    /// passages; a passage of ten seconds takes half a page of trace, so that records reach the end of their space long after
    /// their traces have gone.
    ///
    /// # Errors
    /// The flash is too small.
    pub const fn of<F: NorFlash>(capacity: u32) -> Result<Self, LayoutError> {
        let page = F::ERASE_SIZE as u32;
        let pages = capacity / page;
        if pages < 16 {
            return Err(LayoutError::TooSmall);
        }
        let records = (pages - 4) / 4;
        let slot = (SLOT_BYTES as u32).div_ceil(page);
        let slot = if pages >= 4 * slot { slot } else { 0 };
        let lists = pages - 2;
        let tables = lists - 2 * slot;
        Ok(Self {
            settings: [0..page, page..2 * page],
            marks: 2 * page..4 * page,
            records: 4 * page..(4 + records) * page,
            traces: (4 + records) * page..tables * page,
            tables: [tables * page..(tables + slot) * page, (tables + slot) * page..lists * page],
            lists: [lists * page..(lists + 1) * page, (lists + 1) * page..pages * page],
            second: 0..0,
            state: 0..0,
        })
    }

    /// The same with a second slot for programs at the end of the flash, of a page more than the first one's `program` bytes,
    /// and a page for the loader's word behind it.
    ///
    /// # Errors
    /// The flash is too small, or the first slot does not end at a page.
    pub const fn with_second<F: NorFlash>(capacity: u32, program: u32) -> Result<Self, LayoutError> {
        let page = F::ERASE_SIZE as u32;
        if !program.is_multiple_of(page) {
            return Err(LayoutError::NotAtPages);
        }
        let Some(rest) = (capacity / page * page).checked_sub(program + 2 * page) else {
            return Err(LayoutError::TooSmall);
        };
        match Self::of::<F>(rest) {
            Ok(layout) => {
                let state = rest + program + page;
                Ok(Self { second: rest..state, state: state..state + page, ..layout })
            }
            Err(error) => Err(error),
        }
    }
}

pub(super) struct Region {
    range: Range<u32>,
    cache: Option<PageCache>,
}

impl Region {
    pub(super) const fn new(range: Range<u32>) -> Self {
        Self { range, cache: None }
    }

    /// The queue on the flash, with what is known of its pages. The cache is put back only after success: an
    /// operation that failed may have left it wrong.
    fn queue<'f, F: MultiwriteNorFlash>(
        &mut self,
        flash: &'f mut F,
    ) -> Result<QueueStorage<&'f mut F, PageCache>, JournalError> {
        let pages = (self.range.end - self.range.start) as usize / F::ERASE_SIZE;
        let config = QueueConfig::try_new(self.range.clone()).map_err(|_| JournalError::Corrupt)?;
        let cache = self
            .cache
            .take()
            .unwrap_or_else(|| Cache::new(CalculatedPageStates::new(pages), Uncached, Uncached));
        Ok(QueueStorage::new(flash, config, cache))
    }

    /// Writes an item; false where there is no room.
    pub(super) async fn push<F: MultiwriteNorFlash>(
        &mut self,
        flash: &mut F,
        item: &[u8],
        overwrite: bool,
    ) -> Result<bool, JournalError> {
        let mut queue = self.queue(flash)?;
        let pushed = match queue.push(item, overwrite).await {
            Ok(()) => true,
            Err(Error::FullStorage) => false,
            Err(error) => return Err(error.into()),
        };
        self.cache = Some(queue.destroy().1);
        Ok(pushed)
    }

    /// Removes the oldest item; false where there is none.
    pub(super) async fn pop<F: MultiwriteNorFlash>(
        &mut self,
        flash: &mut F,
        buffer: &mut [u8],
    ) -> Result<bool, JournalError> {
        let mut queue = self.queue(flash)?;
        let popped = queue.pop(buffer).await?.is_some();
        self.cache = Some(queue.destroy().1);
        Ok(popped)
    }

    /// The youngest item.
    pub(super) async fn last<'b, F: MultiwriteNorFlash>(
        &mut self,
        flash: &mut F,
        buffer: &'b mut [u8],
    ) -> Result<Option<&'b [u8; MARK_BYTES]>, JournalError> {
        let mut queue = self.queue(flash)?;
        let mut iterator = queue.iter().await?;
        let mut last = None;
        while let Some(entry) = iterator.next(buffer).await? {
            // A mark of older firmware is shorter.
            let mut mark = [0; MARK_BYTES];
            if entry.len() >= 8 {
                mark.iter_mut().zip(entry.iter()).for_each(|(to, from)| *to = *from);
                last = Some(mark);
            }
        }
        self.cache = Some(queue.destroy().1);
        let Some(mark) = last else { return Ok(None) };
        let place = buffer.first_chunk_mut::<MARK_BYTES>().ok_or(JournalError::TooLong)?;
        *place = mark;
        Ok(Some(place))
    }

    /// Puts the first item whose number is `from` or higher into `buffer`: its number and whole length.
    pub(super) async fn find<F: MultiwriteNorFlash>(
        &mut self,
        flash: &mut F,
        from: u32,
        buffer: &mut [u8],
    ) -> Result<Option<(u32, usize)>, JournalError> {
        let mut queue = self.queue(flash)?;
        let mut iterator = queue.iter().await?;
        let mut found = None;
        while let Some(entry) = iterator.next(buffer).await? {
            if let Some(number) = number(&entry).filter(|number| *number >= from) {
                found = Some((number, entry.len()));
                break;
            }
        }
        self.cache = Some(queue.destroy().1);
        Ok(found)
    }

    /// Removes the items of these numbers; how many they were.
    pub(super) async fn remove<F: MultiwriteNorFlash>(
        &mut self,
        flash: &mut F,
        numbers: RangeInclusive<u32>,
        buffer: &mut [u8],
    ) -> Result<u32, JournalError> {
        let mut queue = self.queue(flash)?;
        let mut iterator = queue.iter().await?;
        let mut removed = 0;
        while let Some(entry) = iterator.next(buffer).await? {
            match number(&entry) {
                Some(number) if number > *numbers.end() => break,
                Some(number) if numbers.contains(&number) => {
                    entry.pop().await?;
                    removed += 1;
                }
                _ => {}
            }
        }
        self.cache = Some(queue.destroy().1);
        Ok(removed)
    }

    /// How many items there are, and the number after the highest.
    pub(super) async fn survey<F: MultiwriteNorFlash>(
        &mut self,
        flash: &mut F,
        buffer: &mut [u8],
    ) -> Result<(u32, u32), JournalError> {
        let mut queue = self.queue(flash)?;
        let mut iterator = queue.iter().await?;
        let (mut items, mut after) = (0, 0);
        while let Some(entry) = iterator.next(buffer).await? {
            items += 1;
            after = after.max(number(&entry).map_or(0, |number| number.saturating_add(1)));
        }
        self.cache = Some(queue.destroy().1);
        Ok((items, after))
    }

    /// Space in use, %.
    pub(super) async fn fill_pct<F: MultiwriteNorFlash>(
        &mut self,
        flash: &mut F,
    ) -> Result<u8, JournalError> {
        let all = u64::from(self.range.end - self.range.start);
        let mut queue = self.queue(flash)?;
        let left = u64::from(queue.space_left().await?);
        self.cache = Some(queue.destroy().1);
        Ok(u8::try_from(100 * all.saturating_sub(left) / all.max(1)).unwrap_or(100))
    }
}

fn number(item: &[u8]) -> Option<u32> {
    item.first_chunk::<NUMBER_BYTES>().map(|bytes| u32::from_le_bytes(*bytes))
}

impl<E> From<Error<E>> for JournalError {
    fn from(error: Error<E>) -> Self {
        match error {
            Error::Storage { .. } => Self::Flash,
            Error::BufferTooBig | Error::BufferTooSmall(_) | Error::ItemTooBig | Error::FullStorage => {
                Self::TooLong
            }
            _ => Self::Corrupt,
        }
    }
}
