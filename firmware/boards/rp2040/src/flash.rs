//! The QSPI flash behind the loader as embedded-storage has it: the program's slot, then all that the program writes, the
//! second slot at its end (`firmware::journal::Layout`). The HAL knows only how to call the chip's ROM.
//!
//! Between two erasures a bit can be cleared at any time, so a write of a few bytes programs its page of 256 bytes
//! with ones around them.

use embedded_storage::nor_flash::{ErrorType, MultiwriteNorFlash, NorFlash, NorFlashErrorKind, ReadNorFlash};
use rp2040_flash::flash::{flash_range_erase, flash_range_program};

/// Where the flash is seen in memory.
pub const SEEN_AT: usize = 0x1000_0000;
/// Where the program lies in the flash.
#[allow(dead_code, reason = "the loader's")]
pub const PROGRAM_AT: u32 = 0x8000;
/// Room for it.
pub const PROGRAM_BYTES: u32 = 0x2_0000;
/// Where the rest begins.
pub const REST_AT: u32 = PROGRAM_AT + PROGRAM_BYTES;
/// Where it ends.
pub const END: u32 = 0x20_0000;
/// Bytes the chip programs at once.
const PAGE: usize = 256;
/// Bytes the chip erases at once.
const SECTOR: u32 = 4_096;

/// The flash from a place on. There may be only one.
pub struct Flash(u32);

impl Flash {
    /// # Safety
    /// To be called once, with the second core asleep.
    pub const unsafe fn from(start: u32) -> Self {
        Self(start)
    }

    /// Where bytes lie in the whole flash.
    fn at(&self, offset: u32, length: usize) -> Result<u32, NorFlashErrorKind> {
        let at = self.0.checked_add(offset);
        let end = u32::try_from(length).ok().zip(at).and_then(|(length, at)| at.checked_add(length));
        let inside = end.is_some_and(|end| end <= END);
        at.filter(|_| inside).ok_or(NorFlashErrorKind::OutOfBounds)
    }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        let at = self.at(offset, bytes.len())?;
        // SAFETY: inside the flash, which nobody writes meanwhile.
        let held = unsafe { core::slice::from_raw_parts((SEEN_AT + at as usize) as *const u8, bytes.len()) };
        bytes.copy_from_slice(held);
        Ok(())
    }

    fn capacity(&self) -> usize {
        (END - self.0) as usize
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR as usize;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        if !from.is_multiple_of(SECTOR) || !to.is_multiple_of(SECTOR) || to < from {
            return Err(NorFlashErrorKind::NotAligned);
        }
        let at = self.at(from, (to - from) as usize)?;
        // SAFETY: whole sectors behind the running program; no interrupt runs, and the second core sleeps.
        cortex_m::interrupt::free(|_| unsafe { flash_range_erase(at, to - from, true) });
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        let mut at = self.at(offset, bytes.len())?;
        let mut rest = bytes;
        while !rest.is_empty() {
            let within = at as usize % PAGE;
            let (now, later) = rest.split_at(rest.len().min(PAGE - within));
            let mut page = [0xFF; PAGE];
            if let Some(place) = page.get_mut(within..within + now.len()) {
                place.copy_from_slice(now);
            }
            let start = at - within as u32;
            // SAFETY: one page behind the running program; the data lie in RAM; no interrupt runs, and the second core sleeps.
            cortex_m::interrupt::free(|_| unsafe { flash_range_program(start, &page, true) });
            at += now.len() as u32;
            rest = later;
        }
        Ok(())
    }
}

impl MultiwriteNorFlash for Flash {}
