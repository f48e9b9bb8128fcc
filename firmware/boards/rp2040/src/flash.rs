//! The upper half of the QSPI flash as embedded-storage has it. The HAL knows only how to call the chip's ROM.
//!
//! Between two erasures a bit can be cleared at any time, so a write of a few bytes programs its page of 256 bytes
//! with ones around them.

use embedded_storage::nor_flash::{ErrorType, MultiwriteNorFlash, NorFlash, NorFlashErrorKind, ReadNorFlash};
use rp2040_flash::flash::{flash_range_erase, flash_range_program};

/// Where the flash is seen in memory.
const SEEN_AT: usize = 0x1000_0000;
/// The journal begins here in the flash.
const START: u32 = 0x10_0000;
/// And is this long.
pub const LENGTH: u32 = 0x10_0000;
/// Bytes the chip programs at once.
const PAGE: usize = 256;
/// Bytes the chip erases at once.
const SECTOR: u32 = 4_096;

/// The flash. There may be only one.
pub struct Flash(());

impl Flash {
    /// # Safety
    /// To be called once, with the second core asleep.
    pub const unsafe fn new() -> Self {
        Self(())
    }
}

fn inside(offset: u32, length: usize) -> Result<(), NorFlashErrorKind> {
    let end = u32::try_from(length).ok().and_then(|length| offset.checked_add(length));
    if end.is_some_and(|end| end <= LENGTH) { Ok(()) } else { Err(NorFlashErrorKind::OutOfBounds) }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        inside(offset, bytes.len())?;
        // SAFETY: inside the flash, which nobody writes meanwhile.
        let held = unsafe {
            core::slice::from_raw_parts((SEEN_AT + (START + offset) as usize) as *const u8, bytes.len())
        };
        bytes.copy_from_slice(held);
        Ok(())
    }

    fn capacity(&self) -> usize {
        LENGTH as usize
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR as usize;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        if !from.is_multiple_of(SECTOR) || !to.is_multiple_of(SECTOR) || to < from {
            return Err(NorFlashErrorKind::NotAligned);
        }
        inside(from, (to - from) as usize)?;
        // SAFETY: whole sectors of the journal; no interrupt runs, and the second core sleeps.
        cortex_m::interrupt::free(|_| unsafe { flash_range_erase(START + from, to - from, true) });
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        inside(offset, bytes.len())?;
        let mut at = START + offset;
        let mut rest = bytes;
        while !rest.is_empty() {
            let within = at as usize % PAGE;
            let (now, later) = rest.split_at(rest.len().min(PAGE - within));
            let mut page = [0xFF; PAGE];
            if let Some(place) = page.get_mut(within..within + now.len()) {
                place.copy_from_slice(now);
            }
            let start = at - within as u32;
            // SAFETY: one page of the journal; the data lie in RAM; no interrupt runs, and the second core sleeps.
            cortex_m::interrupt::free(|_| unsafe { flash_range_program(start, &page, true) });
            at += now.len() as u32;
            rest = later;
        }
        Ok(())
    }
}

impl MultiwriteNorFlash for Flash {}
