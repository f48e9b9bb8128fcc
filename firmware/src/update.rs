//! A new program over the link: it comes into the second slot while the old one runs, is tried at the next start, and stays
//! only once the host has been heard through it. The loader (`crate::loader`) does the rest.

use crate::{flash_part::FlashPart, journal::Layout};
use core::ops::Range;
use embassy_boot::{FirmwareState, State};
use embassy_futures::block_on;
use embedded_storage_async::nor_flash::NorFlash;
use heapless::String;
use shared::{
    limits::{MAX_BOARD_BYTES, MAX_TRACE_DATA_BYTES},
    wire::{Crc32, Refusal, UpdateHead, UpdatePart, UpdateStage, UpdateState, crc32},
};

/// A new program that has not been proven by then is given up, ms since its start (our choice: a host calls again within
/// seconds, a device starts within one).
pub const TRIAL_MS: u64 = 600_000;

/// The version of this program.
pub const VERSION: [u8; 3] = [
    number(env!("CARGO_PKG_VERSION_MAJOR")),
    number(env!("CARGO_PKG_VERSION_MINOR")),
    number(env!("CARGO_PKG_VERSION_PATCH")),
];

const fn number(text: &str) -> u8 {
    match u8::from_str_radix(text, 10) {
        Ok(number) => number,
        Err(_) => panic!("a part of a version is a number below 256"),
    }
}

/// Bytes at the end of a slot that say which program lies in it: length, its CRC-32/ISCSI, and the check of both.
pub const TRAILER_BYTES: u32 = 32;
/// What a trailer says.
const SAID_BYTES: usize = 12;
/// Words of a flash that can be written are no longer.
const WORD_BYTES: usize = 32;
/// Bytes of a program looked at at once.
const PIECE_BYTES: usize = 64;

/// What lies at the end of a slot, for a program of so many bytes with this CRC.
#[must_use]
pub fn trailer(bytes: u32, image: u32) -> [u8; TRAILER_BYTES as usize] {
    let mut trailer = [0xFF; TRAILER_BYTES as usize];
    let [b0, b1, b2, b3] = bytes.to_le_bytes();
    let [i0, i1, i2, i3] = image.to_le_bytes();
    let said = [b0, b1, b2, b3, i0, i1, i2, i3];
    let whole = said.into_iter().chain(crc32(&said).to_le_bytes());
    trailer.iter_mut().zip(whole).for_each(|(to, byte)| *to = byte);
    trailer
}

/// The length and the CRC of the program of which a trailer tells; `None` where it is none.
#[must_use]
pub fn told(trailer: &[u8; TRAILER_BYTES as usize]) -> Option<(u32, u32)> {
    let [said @ .., c0, c1, c2, c3] = *trailer.first_chunk::<SAID_BYTES>()?;
    let [b0, b1, b2, b3, i0, i1, i2, i3] = said;
    let whole = crc32(&said) == u32::from_le_bytes([c0, c1, c2, c3]);
    whole.then_some((u32::from_le_bytes([b0, b1, b2, b3]), u32::from_le_bytes([i0, i1, i2, i3])))
}

/// A program that is coming in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Coming {
    image: u32,
    bytes: u32,
    next: u32,
}

/// The programs of a device.
pub struct Programs {
    second: Range<u32>,
    state: Range<u32>,
    coming: Option<Coming>,
    stage: UpdateStage,
}

impl Programs {
    /// Nothing is known of the flash yet.
    #[must_use]
    pub const fn closed(layout: &Layout) -> Self {
        let Layout { second, state, .. } = layout;
        Self {
            second: second.start..second.end,
            state: state.start..state.end,
            coming: None,
            stage: UpdateStage::Settled,
        }
    }

    /// Asks the flash whether this program is on trial.
    #[inline(never)]
    pub fn start<F: NorFlash>(&mut self, flash: &mut F) {
        self.stage = match self.with_state(flash, async |state| state.get_state().await.ok()) {
            Some(State::Swap) => UpdateStage::OnTrial,
            Some(State::Revert) => UpdateStage::FellBack,
            _ => UpdateStage::Settled,
        };
    }

    /// Whether this program is on trial.
    #[must_use]
    pub fn on_trial(&self) -> bool {
        self.stage == UpdateStage::OnTrial
    }

    /// Whether a new program is whole, and waits for the next start.
    #[must_use]
    pub fn ready(&self) -> bool {
        self.stage == UpdateStage::Ready
    }

    /// This program has come up: it is to stay. Where the flash fails, it is asked again.
    #[inline(never)]
    pub fn settle<F: NorFlash>(&mut self, flash: &mut F) {
        if self.with_state(flash, async |state| state.mark_booted().await.ok()).is_some() {
            self.stage = UpdateStage::Settled;
        }
    }

    /// Nothing that was coming in goes on.
    pub const fn forget(&mut self) {
        self.coming = None;
    }

    /// A new program begins.
    ///
    /// # Errors
    /// It cannot run here, or the one that runs is itself on trial.
    #[inline(never)]
    pub fn begin<F: NorFlash>(&mut self, head: &UpdateHead, board: &str) -> Result<(), Refusal> {
        if self.on_trial() || self.ready() {
            return Err(Refusal::Busy);
        }
        if head.board != board || head.bytes == 0 || head.bytes > self.room::<F>() {
            return Err(Refusal::BadUpdate);
        }
        // The same one goes on where it was.
        if self.coming.is_none_or(|coming| (coming.image, coming.bytes) != (head.image, head.bytes)) {
            self.coming = Some(Coming { image: head.image, bytes: head.bytes, next: 0 });
        }
        Ok(())
    }

    /// Bytes come in. What is known already, or comes too soon, is passed over: the answer says which byte is next.
    ///
    /// # Errors
    /// They make no sense, the whole is not what was announced, or the flash failed: then it must begin again.
    #[inline(never)]
    pub fn part<F: NorFlash>(&mut self, flash: &mut F, part: &UpdatePart) -> Result<(), Refusal> {
        let Some(coming) = self.coming.filter(|coming| (coming.image, coming.next) == (part.image, part.at))
        else {
            return Ok(());
        };
        self.coming = None;
        let next = part.at.saturating_add(part.data.len() as u32);
        let last = next == coming.bytes;
        if part.data.is_empty()
            || next > coming.bytes
            || !(last || part.data.len().is_multiple_of(F::WRITE_SIZE))
        {
            return Err(Refusal::BadUpdate);
        }
        self.write(flash, part.at, &part.data).ok_or(Refusal::NotStored)?;
        if !last {
            self.coming = Some(Coming { next, ..coming });
            return Ok(());
        }
        let (bytes, image) = (coming.bytes, coming.image);
        if program_crc(flash, self.second.start, bytes).ok_or(Refusal::NotStored)? != image {
            return Err(Refusal::BadUpdate);
        }
        self.end::<F>(flash, bytes, image).ok_or(Refusal::NotStored)?;
        self.stage = UpdateStage::Ready;
        Ok(())
    }

    /// What is said of it.
    #[must_use]
    pub fn state<F: NorFlash>(&self, board: &str) -> UpdateState {
        let (coming, next) = self.coming.map_or((0, 0), |coming| (coming.image, coming.next));
        let board: String<MAX_BOARD_BYTES> = String::try_from(board).unwrap_or_default();
        UpdateState { board, room: self.room::<F>(), stage: self.stage, coming, next }
    }

    /// The longest program: a slot has a page more than a program may take, for the exchange of the two.
    const fn room<F: NorFlash>(&self) -> u32 {
        (self.second.end - self.second.start).saturating_sub(F::ERASE_SIZE as u32 + TRAILER_BYTES)
    }

    /// Writes bytes, after each page that begins among them is erased.
    #[inline(never)]
    fn write<F: NorFlash>(&self, flash: &mut F, at: u32, bytes: &[u8]) -> Option<()> {
        let page = F::ERASE_SIZE as u32;
        let mut words = [0xFF; MAX_TRACE_DATA_BYTES];
        words.get_mut(..bytes.len())?.copy_from_slice(bytes);
        let words = words.get(..bytes.len().next_multiple_of(F::WRITE_SIZE))?;
        let from = self.second.start + at.next_multiple_of(page);
        if from < self.second.start + at + words.len() as u32 {
            block_on(flash.erase(from, from + page)).ok()?;
        }
        block_on(flash.write(self.second.start + at, words)).ok()
    }

    /// Writes down which program it is, and has it tried at the next start.
    #[inline(never)]
    fn end<F: NorFlash>(&self, flash: &mut F, bytes: u32, image: u32) -> Option<()> {
        let page = F::ERASE_SIZE as u32;
        let at = self.second.start + self.room::<F>();
        let its_page = at / page * page;
        if its_page >= self.second.start + bytes {
            block_on(flash.erase(its_page, its_page + page)).ok()?;
        }
        block_on(flash.write(at, &trailer(bytes, image))).ok()?;
        self.with_state(flash, async |state| state.mark_updated().await.ok())
    }

    /// What the loader has left word of; `None` where there is no second slot.
    fn with_state<F: NorFlash, T>(
        &self,
        flash: &mut F,
        ask: impl AsyncFnOnce(&mut FirmwareState<'_, FlashPart<'_, F>>) -> Option<T>,
    ) -> Option<T> {
        if self.state.end == self.state.start {
            return None;
        }
        let mut word = [0; WORD_BYTES];
        let word = word.get_mut(..F::WRITE_SIZE.max(F::READ_SIZE))?;
        let part = FlashPart { flash, range: self.state.clone() };
        block_on(ask(&mut FirmwareState::new(part, word)))
    }
}

/// The CRC-32/ISCSI of so many bytes.
#[inline(never)]
pub(crate) fn program_crc<F: NorFlash>(flash: &mut F, start: u32, bytes: u32) -> Option<u32> {
    let mut crc = Crc32::new();
    for at in (0..bytes).step_by(PIECE_BYTES) {
        let mut piece = [0; PIECE_BYTES];
        let left = PIECE_BYTES.min((bytes - at) as usize);
        block_on(flash.read(start + at, &mut piece)).ok()?;
        crc.update(piece.get(..left)?);
    }
    Some(crc.value())
}

#[cfg(test)]
mod tests;
