//! The table of cows, in flash: two slots, so that the last good table stays until the next one is whole. Its head is
//! written last; each row has a check of its own.
//!
//! A slot is, little-endian: `length u16, generation u32, head (postcard), CRC-32/ISCSI of all before` in its first 256
//! bytes, then rows of 128 bytes: `length u8, row (postcard), CRC-32/ISCSI of all before`.

use core::ops::Range;
use embassy_futures::block_on;
use embedded_storage_async::nor_flash::NorFlash;
use shared::{
    identity::AnimalCode,
    lane_score::{CowRow, TABLE_VERSION, TableHead},
    limits::{MAX_ROW_BYTES, MAX_TABLE_ROWS},
    wire::{Refusal, TableRows, crc32},
};

/// Room of the head.
const HEAD_BYTES: usize = 256;
/// Room of a row.
pub const ROW_BYTES: usize = 128;
const CHECK_BYTES: usize = 4;
/// Bytes of a slot for a full table.
pub const SLOT_BYTES: usize = HEAD_BYTES + MAX_TABLE_ROWS * ROW_BYTES;

/// A table that is coming in.
#[derive(Clone, Copy, Debug)]
struct Coming {
    head: TableHead,
    next: u16,
    last: Option<AnimalCode>,
}

/// Where tables lie in the flash.
pub struct CowTable {
    slots: [Range<u32>; 2],
    generation: u32,
    current: usize,
    head: Option<TableHead>,
    coming: Option<Coming>,
}

impl CowTable {
    /// Nothing is known of the flash yet.
    #[must_use]
    pub const fn new(slots: [Range<u32>; 2]) -> Self {
        Self { slots, generation: 0, current: 1, head: None, coming: None }
    }

    /// Reads the newest whole table.
    #[inline(never)]
    pub fn load<F: NorFlash>(&mut self, flash: &mut F) {
        for n in 0..self.slots.len() {
            self.load_slot(flash, n);
        }
    }

    #[inline(never)]
    fn load_slot<F: NorFlash>(&mut self, flash: &mut F, n: usize) {
        if let Some((generation, head)) = self.slots.get(n).and_then(|slot| read_head(flash, slot))
            && generation > self.generation
        {
            (self.generation, self.current, self.head) = (generation, n, Some(head));
        }
    }

    /// The table in use; 0 for none.
    #[must_use]
    pub fn name(&self) -> u32 {
        self.head.map_or(0, |head| head.table)
    }

    /// The table that is coming in, and its next row; zeros for none.
    #[must_use]
    pub fn coming(&self) -> (u32, u16) {
        self.coming.map_or((0, 0), |coming| (coming.head.table, coming.next))
    }

    /// A table begins.
    ///
    /// # Errors
    /// It cannot be used here; the table before stays.
    #[inline(never)]
    pub fn begin<F: NorFlash>(&mut self, flash: &mut F, head: &TableHead) -> Result<(), Refusal> {
        if head.version != TABLE_VERSION {
            return Err(Refusal::NewerTable);
        }
        let room = self.slots.first().map_or(0, |slot| slot.end - slot.start) as usize;
        let rows = usize::from(head.rows);
        if head.table == 0 || rows > MAX_TABLE_ROWS || HEAD_BYTES + rows * ROW_BYTES > room || !head.usable()
        {
            return Err(Refusal::BadTable);
        }
        if self.name() == head.table {
            self.coming = None;
            return Ok(());
        }
        if self.coming.is_none_or(|coming| coming.head != *head) {
            self.coming = Some(Coming { head: *head, next: 0, last: None });
            self.clear_page(flash, 0)?;
        }
        self.end_if_whole(flash)
    }

    /// Rows come in. What is known already, or comes too soon, is passed over: the answer says which row is next.
    ///
    /// # Errors
    /// They make no sense, or the flash failed: then the table must begin again; the one before stays.
    #[inline(never)]
    pub fn rows<F: NorFlash>(&mut self, flash: &mut F, rows: &TableRows) -> Result<(), Refusal> {
        let Some(coming) = self.coming.filter(|coming| coming.head.table == rows.table) else {
            return Ok(());
        };
        if rows.first != coming.next {
            return Ok(());
        }
        let mut rest = &rows.rows[..];
        while !rest.is_empty() {
            let Some(after) = self.row(flash, rest) else {
                self.coming = None;
                return Err(Refusal::BadTable);
            };
            rest = after;
        }
        self.end_if_whole(flash)
    }

    /// Forgets everything: another host has the device now.
    pub fn forget<F: NorFlash>(&mut self, flash: &mut F) {
        (self.head, self.coming) = (None, None);
        for slot in &self.slots {
            if slot.end > slot.start {
                let _ = block_on(flash.erase(slot.start, slot.start + F::ERASE_SIZE as u32));
            }
        }
    }

    /// A cow's row, with what holds for all.
    #[inline(never)]
    pub fn find<F: NorFlash>(&self, flash: &mut F, code: AnimalCode) -> Option<(&TableHead, CowRow)> {
        let head = self.head.as_ref()?;
        let slot = self.slots.get(self.current)?;
        let (mut low, mut high) = (0, head.rows);
        while low < high {
            let middle = low + (high - low) / 2;
            match read_code(flash, slot, middle)?.cmp(&code.bits()) {
                core::cmp::Ordering::Equal => return Some((head, read_row(flash, slot, middle)?)),
                core::cmp::Ordering::Less => low = middle + 1,
                core::cmp::Ordering::Greater => high = middle,
            }
        }
        None
    }

    fn other_slot(&self) -> Option<Range<u32>> {
        self.slots.get(1 - self.current.min(1)).cloned()
    }

    /// Takes the row at the front; what is left. `None` where it is none.
    #[inline(never)]
    fn row<'r, F: NorFlash>(&mut self, flash: &mut F, bytes: &'r [u8]) -> Option<&'r [u8]> {
        let coming = self.coming.as_mut()?;
        let (row, rest): (CowRow, _) = postcard::take_from_bytes(bytes).ok()?;
        let own = bytes.get(..bytes.len() - rest.len()).filter(|own| own.len() <= MAX_ROW_BYTES)?;
        if coming.next >= coming.head.rows || coming.last.is_some_and(|last| last.bits() >= row.code.bits()) {
            return None;
        }
        let place = coming.next;
        (coming.next, coming.last) = (place + 1, Some(row.code));
        let mut bytes = [0xFF; ROW_BYTES];
        put(&mut bytes, &[own.len() as u8], own)?;
        let at = row_at(place);
        if at.is_multiple_of(F::ERASE_SIZE as u32) {
            self.clear_page(flash, at).ok()?;
        }
        let slot = self.other_slot()?;
        block_on(flash.write(slot.start + at, &bytes)).ok()?;
        (read_row(flash, &slot, place)? == row).then_some(rest)
    }

    fn clear_page<F: NorFlash>(&mut self, flash: &mut F, at: u32) -> Result<(), Refusal> {
        let slot = self.other_slot().ok_or(Refusal::BadTable)?;
        let from = slot.start + at;
        block_on(flash.erase(from, from + F::ERASE_SIZE as u32)).map_err(|_| {
            self.coming = None;
            Refusal::NotStored
        })
    }

    /// Puts a whole table in the place of the one before.
    #[inline(never)]
    fn end_if_whole<F: NorFlash>(&mut self, flash: &mut F) -> Result<(), Refusal> {
        let Some(coming) = self.coming.filter(|coming| coming.next == coming.head.rows) else {
            return Ok(());
        };
        self.coming = None;
        let slot = self.other_slot().ok_or(Refusal::BadTable)?;
        let generation = self.generation.saturating_add(1);
        write_head(flash, &slot, generation, &coming.head).ok_or(Refusal::NotStored)?;
        (self.generation, self.current) = (generation, 1 - self.current.min(1));
        self.head = Some(coming.head);
        Ok(())
    }
}

const fn row_at(place: u16) -> u32 {
    HEAD_BYTES as u32 + place as u32 * ROW_BYTES as u32
}

/// Puts `head` and `body` at the start of a room, and a check behind them.
fn put(room: &mut [u8], head: &[u8], body: &[u8]) -> Option<()> {
    let end = head.len() + body.len();
    let bytes = head.iter().chain(body);
    room.get_mut(..end)?.iter_mut().zip(bytes).for_each(|(to, byte)| *to = *byte);
    let check = crc32(room.get(..end)?).to_le_bytes();
    room.get_mut(end..end + CHECK_BYTES)?.iter_mut().zip(check).for_each(|(to, byte)| *to = byte);
    Some(())
}

/// Whether the check behind the first `end` bytes is theirs.
fn checked(bytes: &[u8], end: usize) -> Option<&[u8]> {
    let check = bytes.get(end..)?.first_chunk::<CHECK_BYTES>()?;
    bytes.get(..end).filter(|whole| crc32(whole) == u32::from_le_bytes(*check))
}

/// Writes the head and reads it back.
#[inline(never)]
fn write_head<F: NorFlash>(
    flash: &mut F,
    slot: &Range<u32>,
    generation: u32,
    head: &TableHead,
) -> Option<()> {
    let mut body = [0; HEAD_BYTES - 6 - CHECK_BYTES];
    let body = postcard::to_slice(head, &mut body).ok()?;
    let mut bytes = [0xFF; HEAD_BYTES];
    let [l0, l1] = u16::try_from(body.len()).ok()?.to_le_bytes();
    let [g0, g1, g2, g3] = generation.to_le_bytes();
    put(&mut bytes, &[l0, l1, g0, g1, g2, g3], body)?;
    block_on(flash.write(slot.start, &bytes)).ok()?;
    for (at, written) in (slot.start..).step_by(32).zip(bytes.chunks(32)) {
        let mut held = [0; 32];
        block_on(flash.read(at, &mut held)).ok()?;
        if held != *written {
            return None;
        }
    }
    Some(())
}

#[inline(never)]
fn read_head<F: NorFlash>(flash: &mut F, slot: &Range<u32>) -> Option<(u32, TableHead)> {
    let mut bytes = [0; HEAD_BYTES];
    if slot.end < slot.start + HEAD_BYTES as u32 {
        return None;
    }
    block_on(flash.read(slot.start, &mut bytes)).ok()?;
    let [l0, l1, g0, g1, g2, g3, ..] = bytes;
    let whole = checked(&bytes, 6 + usize::from(u16::from_le_bytes([l0, l1])))?;
    let head: TableHead = postcard::from_bytes(whole.get(6..)?).ok()?;
    (head.version == TABLE_VERSION && head.usable()).then_some((u32::from_le_bytes([g0, g1, g2, g3]), head))
}

/// The tag of a row, unchecked: the row that is found by it is.
fn read_code<F: NorFlash>(flash: &mut F, slot: &Range<u32>, place: u16) -> Option<u64> {
    // Length, and a tag of at most ten bytes, in a word of any flash.
    let mut bytes = [0; 32];
    block_on(flash.read(slot.start + row_at(place), &mut bytes)).ok()?;
    postcard::take_from_bytes(bytes.get(1..)?).ok().map(|(code, _)| code)
}

#[inline(never)]
fn read_row<F: NorFlash>(flash: &mut F, slot: &Range<u32>, place: u16) -> Option<CowRow> {
    let mut bytes = [0; ROW_BYTES];
    block_on(flash.read(slot.start + row_at(place), &mut bytes)).ok()?;
    let [length, ..] = bytes;
    let whole = checked(&bytes, 1 + usize::from(length))?;
    postcard::from_bytes(whole.get(1..)?).ok()
}

const _: () = assert!(1 + MAX_ROW_BYTES + CHECK_BYTES <= ROW_BYTES, "a row fits its room");

#[cfg(test)]
mod tests;
