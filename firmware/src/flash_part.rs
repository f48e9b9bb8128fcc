//! A part of a flash as a flash of its own.

use core::ops::Range;
use embedded_storage_async::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};

/// The bytes of a flash from `range.start` to `range.end`; both must lie at a page.
pub struct FlashPart<'f, F> {
    /// The whole flash.
    pub flash: &'f mut F,
    /// Where this part lies.
    pub range: Range<u32>,
}

/// Why an access failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PartError(NorFlashErrorKind);

impl NorFlashError for PartError {
    fn kind(&self) -> NorFlashErrorKind {
        self.0
    }
}

impl<F> FlashPart<'_, F> {
    /// Where `length` bytes at `offset` lie in the whole flash.
    fn at(&self, offset: u32, length: usize) -> Result<u32, PartError> {
        let end = u32::try_from(length).ok().and_then(|length| offset.checked_add(length));
        let inside = end.is_some_and(|end| end <= self.range.end.saturating_sub(self.range.start));
        if inside { Ok(self.range.start + offset) } else { Err(PartError(NorFlashErrorKind::OutOfBounds)) }
    }
}

impl<F> ErrorType for FlashPart<'_, F> {
    type Error = PartError;
}

impl<F: NorFlash> ReadNorFlash for FlashPart<'_, F> {
    const READ_SIZE: usize = F::READ_SIZE;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), PartError> {
        let at = self.at(offset, bytes.len())?;
        self.flash.read(at, bytes).await.map_err(|error| PartError(error.kind()))
    }

    fn capacity(&self) -> usize {
        self.range.end.saturating_sub(self.range.start) as usize
    }
}

impl<F: NorFlash> NorFlash for FlashPart<'_, F> {
    const WRITE_SIZE: usize = F::WRITE_SIZE;
    const ERASE_SIZE: usize = F::ERASE_SIZE;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), PartError> {
        let start = self.at(from, to.saturating_sub(from) as usize)?;
        self.flash
            .erase(start, start + to.saturating_sub(from))
            .await
            .map_err(|error| PartError(error.kind()))
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), PartError> {
        let at = self.at(offset, bytes.len())?;
        self.flash.write(at, bytes).await.map_err(|error| PartError(error.kind()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fakes::FailingFlash;
    use embassy_futures::block_on;

    #[test]
    fn a_part_reaches_no_byte_beside_it() {
        let mut flash = FailingFlash::new(4);
        flash.bytes().fill(0x55);
        let mut part = FlashPart { flash: &mut flash, range: 4_096..12_288 };
        assert_eq!(part.capacity(), 8_192);
        block_on(part.erase(4_096, 8_192)).unwrap();
        block_on(part.write(8_190, &[1, 2])).unwrap();
        let mut last = [0; 2];
        block_on(part.read(8_190, &mut last)).unwrap();
        assert_eq!(last, [1, 2]);
        let beyond = Err(PartError(NorFlashErrorKind::OutOfBounds));
        assert_eq!(block_on(part.write(8_191, &[1, 2])), beyond);
        assert_eq!(block_on(part.read(8_191, &mut last)), beyond);
        assert_eq!(block_on(part.erase(4_096, 12_288)), beyond);
        assert_eq!(block_on(part.read(u32::MAX, &mut last)), beyond);
        let bytes = flash.bytes();
        assert!(bytes[..8_192].iter().chain(&bytes[12_288..]).all(|byte| *byte == 0x55));
        assert!(bytes[8_192..12_286].iter().all(|byte| *byte == 0xFF));
        assert_eq!(bytes[12_286..12_288], [1, 2]);
    }
}
