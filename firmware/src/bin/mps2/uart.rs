//! The CMSDK UART as an embedded-io port.

use core::convert::Infallible;
use embedded_io::{ErrorType, Read, ReadReady, Write, WriteReady};

const DATA: usize = 0;
const STATE: usize = 1;
const CONTROL: usize = 2;
const BAUD_DIVIDER: usize = 4;

const TRANSMIT_FULL: u32 = 1 << 0;
const RECEIVE_FULL: u32 = 1 << 1;
const BOTH_ON: u32 = 0b11;
/// 25 MHz / 217 = 115,200 baud; the emulator does not pace by it.
const DIVIDER: u32 = 217;

/// One UART. It alone owns its registers.
pub struct Uart {
    registers: *mut u32,
    /// Bytes read so far.
    pub read: u32,
}

impl Uart {
    /// Switches a UART on.
    ///
    /// # Safety
    /// `base` must be the address of a CMSDK UART, used by nobody else.
    pub unsafe fn new(base: usize) -> Self {
        let uart = Self { registers: base as *mut u32, read: 0 };
        uart.write_register(BAUD_DIVIDER, DIVIDER);
        uart.write_register(CONTROL, BOTH_ON);
        uart
    }

    fn read_register(&self, offset: usize) -> u32 {
        // SAFETY: the registers are there, by the promise made to `new`.
        unsafe { self.registers.add(offset).read_volatile() }
    }

    fn write_register(&self, offset: usize, value: u32) {
        // SAFETY: as above.
        unsafe { self.registers.add(offset).write_volatile(value) }
    }
}

impl ErrorType for Uart {
    type Error = Infallible;
}

impl ReadReady for Uart {
    fn read_ready(&mut self) -> Result<bool, Infallible> {
        Ok(self.read_register(STATE) & RECEIVE_FULL != 0)
    }
}

impl Read for Uart {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, Infallible> {
        let mut got = 0;
        for byte in bytes {
            if got > 0 && !self.read_ready()? {
                break;
            }
            while !self.read_ready()? {}
            *byte = self.read_register(DATA) as u8;
            self.read = self.read.wrapping_add(1);
            got += 1;
        }
        Ok(got)
    }
}

impl WriteReady for Uart {
    fn write_ready(&mut self) -> Result<bool, Infallible> {
        Ok(self.read_register(STATE) & TRANSMIT_FULL == 0)
    }
}

impl Write for Uart {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        let Some(byte) = bytes.first() else { return Ok(0) };
        while !self.write_ready()? {}
        self.write_register(DATA, u32::from(*byte));
        Ok(1)
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        while !self.write_ready()? {}
        Ok(())
    }
}
