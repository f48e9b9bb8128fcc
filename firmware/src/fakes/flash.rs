//! A flash whose power fails after a given number of bytes.

use crate::memory_flash::{MemoryFlash, PAGE_BYTES};
use embassy_futures::block_on;
use embedded_storage::nor_flash as blocking;
use embedded_storage_async::nor_flash::{
    ErrorType, MultiwriteNorFlash, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use std::{cell::RefCell, rc::Rc, vec::Vec};

/// Flash that dies: every byte written, and every 64 bytes erased, use up one unit of what is left. From then on
/// every access fails; what was written before stays.
#[derive(Clone, Debug)]
pub struct FailingFlash {
    memory: MemoryFlash<Vec<u8>>,
    left: Option<u32>,
    /// Units used: bytes written and 64-byte pieces erased.
    pub used: u32,
    /// Pages erased.
    pub erases: u32,
}

/// Why an access failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PowerCut {
    /// The power is gone.
    Dead,
    /// The access itself was wrong.
    Access(NorFlashErrorKind),
}

impl NorFlashError for PowerCut {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::Dead => NorFlashErrorKind::Other,
            Self::Access(kind) => *kind,
        }
    }
}

/// Bytes an erase clears for one unit.
const ERASE_PIECE: usize = 64;

impl FailingFlash {
    /// Erased flash of so many pages, with power for ever.
    #[must_use]
    pub fn new(pages: usize) -> Self {
        Self { memory: MemoryFlash(std::vec![0xFF; pages * PAGE_BYTES]), left: None, used: 0, erases: 0 }
    }

    /// Lets the power fail after so many units.
    pub const fn die_after(&mut self, units: u32) {
        self.left = Some(units);
    }

    /// Brings the power back for ever.
    pub const fn revive(&mut self) {
        self.left = None;
    }

    /// What the cells hold.
    pub const fn bytes(&mut self) -> &mut Vec<u8> {
        &mut self.memory.0
    }

    const fn alive(&self) -> Result<(), PowerCut> {
        if matches!(self.left, Some(0)) { Err(PowerCut::Dead) } else { Ok(()) }
    }

    fn spend(&mut self) -> Result<(), PowerCut> {
        self.alive()?;
        if let Some(left) = &mut self.left {
            *left -= 1;
        }
        self.used += 1;
        Ok(())
    }
}

impl ErrorType for FailingFlash {
    type Error = PowerCut;
}

impl ReadNorFlash for FailingFlash {
    const READ_SIZE: usize = 1;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), PowerCut> {
        self.alive()?;
        blocking::ReadNorFlash::read(&mut self.memory, offset, bytes).map_err(PowerCut::Access)
    }

    fn capacity(&self) -> usize {
        self.memory.0.len()
    }
}

impl NorFlash for FailingFlash {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = PAGE_BYTES;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), PowerCut> {
        self.alive()?;
        if !(from as usize).is_multiple_of(PAGE_BYTES) || !(to as usize).is_multiple_of(PAGE_BYTES) {
            return Err(PowerCut::Access(NorFlashErrorKind::NotAligned));
        }
        self.erases += (to - from) / PAGE_BYTES as u32;
        for start in (from as usize..to as usize).step_by(ERASE_PIECE) {
            self.spend()?;
            self.memory.0[start..start + ERASE_PIECE].fill(0xFF);
        }
        Ok(())
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), PowerCut> {
        self.alive()?;
        for (place, byte) in (offset..).zip(bytes) {
            self.spend()?;
            blocking::NorFlash::write(&mut self.memory, place, &[*byte]).map_err(PowerCut::Access)?;
        }
        Ok(())
    }
}

impl MultiwriteNorFlash for FailingFlash {}

/// One [`FailingFlash`] that outlives the programs which use it.
#[derive(Clone, Debug)]
pub struct SharedFlash(Rc<RefCell<FailingFlash>>);

impl SharedFlash {
    /// Erased flash of so many pages.
    #[must_use]
    pub fn new(pages: usize) -> Self {
        Self(Rc::new(RefCell::new(FailingFlash::new(pages))))
    }

    /// Another flash with the same content and the same life left.
    #[must_use]
    pub fn copy(&self) -> Self {
        Self(Rc::new(RefCell::new(self.0.borrow().clone())))
    }

    /// Lets the power fail after so many units.
    pub fn die_after(&self, units: u32) {
        self.0.borrow_mut().die_after(units);
    }

    /// Brings the power back for ever.
    pub fn revive(&self) {
        self.0.borrow_mut().revive();
    }

    /// Whether the power is gone.
    #[must_use]
    pub fn is_dead(&self) -> bool {
        self.0.borrow().alive().is_err()
    }

    /// Units used.
    #[must_use]
    pub fn used(&self) -> u32 {
        self.0.borrow().used
    }

    pub(super) fn capacity(&self) -> u32 {
        self.0.borrow().memory.0.len() as u32
    }
}

impl ErrorType for SharedFlash {
    type Error = PowerCut;
}

// Nothing here waits, so a borrow never lasts beyond one call.
impl ReadNorFlash for SharedFlash {
    const READ_SIZE: usize = FailingFlash::READ_SIZE;

    async fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), PowerCut> {
        block_on(self.0.borrow_mut().read(offset, bytes))
    }

    fn capacity(&self) -> usize {
        self.0.borrow().capacity()
    }
}

impl NorFlash for SharedFlash {
    const WRITE_SIZE: usize = FailingFlash::WRITE_SIZE;
    const ERASE_SIZE: usize = FailingFlash::ERASE_SIZE;

    async fn erase(&mut self, from: u32, to: u32) -> Result<(), PowerCut> {
        block_on(self.0.borrow_mut().erase(from, to))
    }

    async fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), PowerCut> {
        block_on(self.0.borrow_mut().write(offset, bytes))
    }
}

impl MultiwriteNorFlash for SharedFlash {}

// The loader's flash does not know how to wait.
impl blocking::ReadNorFlash for SharedFlash {
    const READ_SIZE: usize = FailingFlash::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), PowerCut> {
        block_on(ReadNorFlash::read(self, offset, bytes))
    }

    fn capacity(&self) -> usize {
        ReadNorFlash::capacity(self)
    }
}

impl blocking::NorFlash for SharedFlash {
    const WRITE_SIZE: usize = FailingFlash::WRITE_SIZE;
    const ERASE_SIZE: usize = FailingFlash::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), PowerCut> {
        block_on(NorFlash::erase(self, from, to))
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), PowerCut> {
        block_on(NorFlash::write(self, offset, bytes))
    }
}
