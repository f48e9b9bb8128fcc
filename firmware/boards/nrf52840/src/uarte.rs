//! The UARTE as an embedded-io port that never makes the lane wait.
//!
//! The HAL's own port waits for its transfer to end once its buffer is full; this one is asked first. Received bytes
//! come one transfer each: the part holds the few that come meanwhile, and with the two flow control wires the other
//! side waits for more.

use core::{
    convert::Infallible,
    ptr,
    sync::atomic::{Ordering, compiler_fence},
};
use embedded_io::{ErrorType, Read, ReadReady, Write, WriteReady};
use nrf52840_hal::{
    pac::uarte0::RegisterBlock,
    uarte::{Instance, Uarte},
};

/// Bytes sent in one transfer.
pub const OUT: usize = 64;

/// One UARTE. It alone owns its registers and buffers.
pub struct Port<U> {
    _configured: Uarte<U>,
    registers: &'static RegisterBlock,
    input: &'static mut [u8; 1],
    output: &'static mut [u8; OUT],
    sending: bool,
}

impl<U: Instance> Port<U> {
    /// A port on a configured UARTE.
    pub fn new(configured: Uarte<U>, input: &'static mut [u8; 1], output: &'static mut [u8; OUT]) -> Self {
        // SAFETY: the HAL's driver owns the registers and lies in this value, unused.
        let registers = unsafe { &*U::ptr() };
        let mut port = Self { _configured: configured, registers, input, output, sending: false };
        port.receive();
        port
    }

    /// Begins the transfer of one byte into `input`.
    fn receive(&mut self) {
        let registers = self.registers;
        registers.events_endrx.reset();
        // SAFETY: the buffer lives for ever and is not touched before the transfer has ended.
        unsafe {
            registers.rxd.ptr.write(|w| w.ptr().bits(self.input.as_mut_ptr() as u32));
            registers.rxd.maxcnt.write(|w| w.maxcnt().bits(1));
            compiler_fence(Ordering::SeqCst);
            registers.tasks_startrx.write(|w| w.bits(1));
        }
    }

    fn sent(&self) -> bool {
        !self.sending || self.registers.events_endtx.read().bits() != 0
    }
}

impl<U> ErrorType for Port<U> {
    type Error = Infallible;
}

impl<U: Instance> ReadReady for Port<U> {
    fn read_ready(&mut self) -> Result<bool, Infallible> {
        Ok(self.registers.events_endrx.read().bits() != 0)
    }
}

impl<U: Instance> Read for Port<U> {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, Infallible> {
        let mut got = 0;
        for byte in bytes {
            if got > 0 && !self.read_ready()? {
                break;
            }
            while !self.read_ready()? {}
            compiler_fence(Ordering::SeqCst);
            // SAFETY: the transfer has ended; the buffer was written behind the compiler's back.
            *byte = unsafe { ptr::read_volatile(self.input.as_ptr()) };
            self.receive();
            got += 1;
        }
        Ok(got)
    }
}

impl<U: Instance> WriteReady for Port<U> {
    fn write_ready(&mut self) -> Result<bool, Infallible> {
        Ok(self.sent())
    }
}

impl<U: Instance> Write for Port<U> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        let count = bytes.len().min(OUT);
        let (Some(bytes), true) = (bytes.get(..count), count > 0) else { return Ok(0) };
        while !self.sent() {}
        if let Some(output) = self.output.get_mut(..count) {
            output.copy_from_slice(bytes);
        }
        let registers = self.registers;
        registers.events_endtx.reset();
        // SAFETY: the buffer lives for ever and is not touched before the transfer has ended.
        unsafe {
            registers.txd.ptr.write(|w| w.ptr().bits(self.output.as_ptr() as u32));
            registers.txd.maxcnt.write(|w| w.maxcnt().bits(count as u16));
            compiler_fence(Ordering::SeqCst);
            registers.tasks_starttx.write(|w| w.bits(1));
        }
        self.sending = true;
        Ok(count)
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        while !self.sent() {}
        Ok(())
    }
}
