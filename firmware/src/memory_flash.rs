//! Memory that behaves as NOR flash: pages are erased to FFh, writing only clears bits.
//!
//! The emulated board keeps its journal in it; the fault-injecting flash of the tests wraps it.

use embedded_storage::nor_flash::{ErrorType, MultiwriteNorFlash, NorFlash, NorFlashErrorKind, ReadNorFlash};

/// Bytes of one page: the 4 KiB sector of common SPI NOR parts.
pub const PAGE_BYTES: usize = 4096;

/// NOR flash over any bytes.
#[derive(Clone, Debug)]
pub struct MemoryFlash<B>(pub B);

impl<B> ErrorType for MemoryFlash<B> {
    type Error = NorFlashErrorKind;
}

impl<B: AsRef<[u8]> + AsMut<[u8]>> MemoryFlash<B> {
    fn range(&mut self, from: u32, length: usize) -> Result<&mut [u8], NorFlashErrorKind> {
        let from = from as usize;
        from.checked_add(length)
            .and_then(|to| self.0.as_mut().get_mut(from..to))
            .ok_or(NorFlashErrorKind::OutOfBounds)
    }
}

impl<B: AsRef<[u8]> + AsMut<[u8]>> ReadNorFlash for MemoryFlash<B> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        let held = self.range(offset, bytes.len())?;
        bytes.copy_from_slice(held);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.0.as_ref().len()
    }
}

impl<B: AsRef<[u8]> + AsMut<[u8]>> NorFlash for MemoryFlash<B> {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = PAGE_BYTES;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        let page = PAGE_BYTES as u32;
        if !from.is_multiple_of(page) || !to.is_multiple_of(page) {
            return Err(NorFlashErrorKind::NotAligned);
        }
        self.range(from, to.saturating_sub(from) as usize)?.fill(0xFF);
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        for (held, byte) in self.range(offset, bytes.len())?.iter_mut().zip(bytes) {
            *held &= byte;
        }
        Ok(())
    }
}

impl<B: AsRef<[u8]> + AsMut<[u8]>> MultiwriteNorFlash for MemoryFlash<B> {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_pages_are_erased_and_writing_clears_bits() {
        let mut flash = MemoryFlash([0xA5; 2 * PAGE_BYTES]);
        let page = PAGE_BYTES as u32;
        for (from, to) in [(1, page), (0, page - 1), (1, page - 1)] {
            assert_eq!(flash.erase(from, to), Err(NorFlashErrorKind::NotAligned), "{from} to {to}");
        }
        assert_eq!(flash.erase(page, 3 * page), Err(NorFlashErrorKind::OutOfBounds));
        assert_eq!(flash.0, [0xA5; 2 * PAGE_BYTES]);
        flash.erase(page, 2 * page).unwrap();
        assert_eq!(flash.0[PAGE_BYTES - 1..=PAGE_BYTES], [0xA5, 0xFF]);
        flash.write(page, &[0b1100]).unwrap();
        flash.write(page, &[0b1010]).unwrap();
        assert_eq!(flash.0[PAGE_BYTES..PAGE_BYTES + 2], [0b1000, 0xFF]);
    }
}
