//! A flash whose driver waits (embedded-storage) where one is asked for that need not (embedded-storage-async).

use embedded_storage::nor_flash as blocking;
use embedded_storage_async::nor_flash::{ErrorType, MultiwriteNorFlash, NorFlash, ReadNorFlash};

/// The flash of a board, through its HAL's driver.
#[derive(Clone, Debug)]
pub struct BlockingFlash<F>(pub F);

impl<F: blocking::ErrorType> ErrorType for BlockingFlash<F> {
    type Error = F::Error;
}

impl<F: blocking::ReadNorFlash> ReadNorFlash for BlockingFlash<F> {
    const READ_SIZE: usize = F::READ_SIZE;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), F::Error> {
        self.0.read(offset, bytes)
    }

    fn capacity(&self) -> usize {
        self.0.capacity()
    }
}

impl<F: blocking::NorFlash> NorFlash for BlockingFlash<F> {
    const WRITE_SIZE: usize = F::WRITE_SIZE;
    const ERASE_SIZE: usize = F::ERASE_SIZE;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), F::Error> {
        self.0.erase(from, to)
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), F::Error> {
        self.0.write(offset, bytes)
    }
}

impl<F: blocking::MultiwriteNorFlash> MultiwriteNorFlash for BlockingFlash<F> {}
