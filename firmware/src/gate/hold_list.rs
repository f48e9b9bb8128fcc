//! The cows to hold back, in flash: two copies, each in a page of its own, and a mark beside each cow that was held. A torn
//! write leaves the other copy; a mark is written before the gate is moved, so that no power cut lets a cow be held twice.
//!
//! A page is, little-endian: `generation u32, list u32, cows u8, most u8, 0 u16, CRC-32/ISCSI of these and the tags`, the
//! tags (u64) from byte 64, and from byte 448 for each cow 32 bytes that are erased until she is held.

use core::ops::Range;
use embassy_futures::block_on;
use embedded_storage_async::nor_flash::NorFlash;
use heapless::Vec;
use shared::{identity::AnimalCode, limits::MAX_HELD, wire::crc32};

/// Largest word that any flash here writes.
const WORD: usize = 32;
const TAGS_AT: u32 = 64;
const MARKS_AT: u32 = TAGS_AT + 8 * MAX_HELD as u32;
const HEAD_BYTES: usize = 12;
/// Tags written or read at once.
const TAGS_A_WORD: usize = WORD / 8;

/// A list, and who of it was held.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HeldList {
    /// Its name; 0 for none.
    pub list: u32,
    /// Cows held at most.
    pub most: u8,
    /// Their tags.
    pub codes: Vec<AnimalCode, MAX_HELD>,
    held: u64,
}

impl HeldList {
    /// A list of which nobody was held.
    #[must_use]
    pub const fn new(list: u32, most: u8, codes: Vec<AnimalCode, MAX_HELD>) -> Self {
        Self { list, most, codes, held: 0 }
    }

    /// Her place on the list.
    #[must_use]
    pub fn place(&self, code: AnimalCode) -> Option<usize> {
        self.codes.iter().position(|listed| *listed == code)
    }

    /// Whether she was held.
    #[must_use]
    pub const fn is_held(&self, place: usize) -> bool {
        self.held >> (place % 64) & 1 == 1
    }

    /// She was held.
    pub const fn hold(&mut self, place: usize) {
        self.held |= 1 << (place % 64);
    }

    /// How many were held.
    #[must_use]
    pub const fn held(&self) -> u32 {
        self.held.count_ones()
    }
}

/// Where lists lie in the flash.
pub struct ListStore {
    copies: [Range<u32>; 2],
    generation: u32,
    current: usize,
}

impl ListStore {
    /// Nothing is known of the flash yet.
    #[must_use]
    pub const fn new(copies: [Range<u32>; 2]) -> Self {
        Self { copies, generation: 0, current: 1 }
    }

    /// Reads the newest whole list; where there is none, `list` stays as it is.
    #[inline(never)]
    pub fn load<F: NorFlash>(&mut self, flash: &mut F, list: &mut HeldList) {
        for (n, copy) in self.copies.iter().enumerate() {
            if let Some(generation) = whole(flash, copy).filter(|found| *found > self.generation) {
                (self.generation, self.current) = (generation, n);
            }
        }
        if let Some(copy) = self.copies.get(self.current).filter(|_| self.generation > 0) {
            read(flash, copy, list);
        }
    }

    /// Writes a list over the older copy, and reads it back. False where the flash failed: then the list before stays.
    #[inline(never)]
    pub fn save<F: NorFlash>(&mut self, flash: &mut F, list: &HeldList) -> bool {
        let generation = self.generation.saturating_add(1);
        let place = 1 - self.current.min(1);
        let Some(copy) = self.copies.get(place) else { return false };
        if block_on(write(flash, copy, generation, list)).is_err() || whole(flash, copy) != Some(generation) {
            return false;
        }
        (self.generation, self.current) = (generation, place);
        true
    }

    /// Writes down that a cow is held.
    #[inline(never)]
    pub fn mark<F: NorFlash>(&mut self, flash: &mut F, place: usize) -> bool {
        let Some(copy) = self.copies.get(self.current) else { return false };
        let at = copy.start + MARKS_AT + (place.min(MAX_HELD - 1) * WORD) as u32;
        block_on(flash.write(at, &[0; WORD])).is_ok()
    }
}

fn head(generation: u32, list: &HeldList) -> [u8; HEAD_BYTES] {
    let mut head = [0; HEAD_BYTES];
    let count = u8::try_from(list.codes.len()).unwrap_or(u8::MAX);
    let parts = generation.to_le_bytes().into_iter().chain(list.list.to_le_bytes());
    head.iter_mut().zip(parts.chain([count, list.most])).for_each(|(to, byte)| *to = byte);
    head
}

/// The check of a list goes on: after its head, and after each word of tags.
fn checked_on(check: u32, word: &[u8; WORD]) -> u32 {
    let mut bytes = [0; 4 + WORD];
    let (before, tags) = bytes.split_at_mut(4);
    before.iter_mut().zip(check.to_le_bytes()).for_each(|(to, byte)| *to = byte);
    tags.copy_from_slice(word);
    crc32(&bytes)
}

fn word(codes: &[AnimalCode]) -> [u8; WORD] {
    let mut word = [0xFF; WORD];
    let bytes = codes.iter().flat_map(|code| code.bits().to_le_bytes());
    word.iter_mut().zip(bytes).for_each(|(to, byte)| *to = byte);
    word
}

async fn write<F: NorFlash>(
    flash: &mut F,
    copy: &Range<u32>,
    generation: u32,
    list: &HeldList,
) -> Result<(), F::Error> {
    flash.erase(copy.start, copy.end).await?;
    let head = head(generation, list);
    let mut check = crc32(&head);
    for (n, codes) in list.codes.chunks(TAGS_A_WORD).enumerate() {
        let word = word(codes);
        check = checked_on(check, &word);
        flash.write(copy.start + TAGS_AT + (n * WORD) as u32, &word).await?;
    }
    // The head comes last: without it there is no list.
    let mut bytes = [0xFF; WORD];
    let whole = head.into_iter().chain(check.to_le_bytes());
    bytes.iter_mut().zip(whole).for_each(|(to, byte)| *to = byte);
    flash.write(copy.start, &bytes).await
}

fn read_word<F: NorFlash>(flash: &mut F, at: u32) -> Option<[u8; WORD]> {
    let mut bytes = [0; WORD];
    block_on(flash.read(at, &mut bytes)).ok()?;
    Some(bytes)
}

/// The generation of a whole list.
#[inline(never)]
fn whole<F: NorFlash>(flash: &mut F, copy: &Range<u32>) -> Option<u32> {
    let bytes = read_word(flash, copy.start)?;
    let [head @ .., c0, c1, c2, c3] = *bytes.first_chunk::<{ HEAD_BYTES + 4 }>()?;
    let [g0, g1, g2, g3, .., count, _, _, _] = head;
    if usize::from(count) > MAX_HELD {
        return None;
    }
    let mut check = crc32(&head);
    for n in 0..usize::from(count).div_ceil(TAGS_A_WORD) {
        check = checked_on(check, &read_word(flash, copy.start + TAGS_AT + (n * WORD) as u32)?);
    }
    (check == u32::from_le_bytes([c0, c1, c2, c3])).then_some(u32::from_le_bytes([g0, g1, g2, g3]))
}

/// Reads a whole list, and who of it was held. A tag that is none ends it.
#[inline(never)]
fn read<F: NorFlash>(flash: &mut F, copy: &Range<u32>, list: &mut HeldList) -> Option<()> {
    let [_, _, _, _, l0, l1, l2, l3, count, most, ..] = read_word(flash, copy.start)?;
    (list.list, list.most, list.held) = (u32::from_le_bytes([l0, l1, l2, l3]), most, 0);
    list.codes.clear();
    for place in 0..u32::from(count) {
        let mut tag = [0; 8];
        block_on(flash.read(copy.start + TAGS_AT + 8 * place, &mut tag)).ok()?;
        list.codes.push(AnimalCode::from_bits(u64::from_le_bytes(tag)).ok()?).ok()?;
        let mark = read_word(flash, copy.start + MARKS_AT + place * WORD as u32)?;
        // Half a mark is a mark: the gate may have been moved.
        if mark.iter().any(|byte| *byte != 0xFF) {
            list.hold(place as usize);
        }
    }
    Some(())
}
