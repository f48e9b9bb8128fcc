//! What runs before the program: it exchanges the two slots where a new program waits, and brings the old one back where the
//! new one did not come up. The exchange itself, which outlives a power cut at any byte, is `embassy-boot`'s.

use crate::{
    blocking_flash::BlockingFlash,
    lane::Watchdog,
    update::{TRAILER_BYTES, program_crc, told},
};
use core::{cell::RefCell, ops::Range};
use embassy_boot::{BootError, BootLoader, BootLoaderConfig, State};
use embassy_embedded_hal::flash::partition::BlockingPartition;
use embassy_sync::blocking_mutex::{Mutex, raw::NoopRawMutex};
use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};

/// Where the programs lie in the loader's flash. Every range must start and end at a page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Slots {
    /// The program that is run.
    pub active: Range<u32>,
    /// The other one: a page longer.
    pub second: Range<u32>,
    /// A page for what loader and program leave each other.
    pub state: Range<u32>,
}

/// Puts the program that is to run into its place. To be called at every start, before the program; `buffer` divides a page
/// and holds a word of the flash.
///
/// # Errors
/// The flash failed; nothing is lost, and the next start goes on.
pub fn prepare<F: NorFlash>(
    flash: F,
    slots: &Slots,
    watchdog: impl Watchdog,
    buffer: &mut [u8],
) -> Result<State, BootError> {
    let flash = Mutex::<NoopRawMutex, _>::new(RefCell::new(Fed { flash, watchdog }));
    let part = |range: &Range<u32>| BlockingPartition::new(&flash, range.start, range.end - range.start);
    let mut loader = BootLoader::new(BootLoaderConfig {
        active: part(&slots.active),
        dfu: part(&slots.second),
        state: part(&slots.state),
    });
    let state = loader.prepare_boot(buffer)?;
    // A program that is not what was announced is not tried at all.
    if state == State::Swap && !is_whole(part(&slots.active)) {
        return loader.prepare_boot(buffer);
    }
    Ok(state)
}

/// Whether a slot holds the program of which it tells. One that a probe has written tells nothing.
fn is_whole<F: ReadNorFlash + NorFlash>(mut slot: F) -> bool {
    let mut trailer = [0; TRAILER_BYTES as usize];
    let room = (slot.capacity() as u32).saturating_sub(TRAILER_BYTES);
    if slot.read(room, &mut trailer).is_err() {
        return false;
    }
    match told(&trailer) {
        // A length beyond the slot cannot be read.
        Some((bytes, image)) => program_crc(&mut BlockingFlash(slot), 0, bytes) == Some(image),
        None => trailer == [0xFF; TRAILER_BYTES as usize],
    }
}

/// A flash that feeds the watchdog at every access: an exchange takes longer than the watchdog's time.
struct Fed<F, W> {
    flash: F,
    watchdog: W,
}

impl<F: ErrorType, W> ErrorType for Fed<F, W> {
    type Error = F::Error;
}

impl<F: ReadNorFlash, W: Watchdog> ReadNorFlash for Fed<F, W> {
    const READ_SIZE: usize = F::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), F::Error> {
        self.watchdog.feed();
        self.flash.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.flash.capacity()
    }
}

impl<F: NorFlash, W: Watchdog> NorFlash for Fed<F, W> {
    const WRITE_SIZE: usize = F::WRITE_SIZE;
    const ERASE_SIZE: usize = F::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), F::Error> {
        self.watchdog.feed();
        self.flash.erase(from, to)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), F::Error> {
        self.watchdog.feed();
        self.flash.write(offset, bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{fakes::SharedFlash, lane::NoWatchdog};

    #[test]
    fn a_flash_that_feeds_is_as_large_as_its_own() {
        let fed = Fed { flash: SharedFlash::new(3), watchdog: NoWatchdog };
        assert_eq!(fed.capacity(), 3 * 4_096);
    }
}
