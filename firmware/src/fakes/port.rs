//! A byte port in memory that stalls and breaks.

use embedded_io::{ErrorKind, ErrorType, Read, ReadReady, Write, WriteReady};
use std::{cell::RefCell, collections::VecDeque, rc::Rc, vec::Vec};

#[derive(Debug)]
struct Wires {
    incoming: VecDeque<u8>,
    outgoing: Vec<u8>,
    room: usize,
    broken: bool,
}

/// The device's end of a line, and through its clones the other end as well.
#[derive(Clone, Debug)]
pub struct FakePort(Rc<RefCell<Wires>>);

impl Default for FakePort {
    fn default() -> Self {
        Self::new(usize::MAX)
    }
}

impl FakePort {
    /// A port that takes `room` bytes before somebody must fetch them.
    #[must_use]
    pub fn new(room: usize) -> Self {
        Self(Rc::new(RefCell::new(Wires {
            incoming: VecDeque::new(),
            outgoing: Vec::new(),
            room,
            broken: false,
        })))
    }

    /// Sends bytes to the device.
    pub fn put(&self, bytes: &[u8]) {
        self.0.borrow_mut().incoming.extend(bytes);
    }

    /// Fetches what the device has written.
    #[must_use]
    pub fn take(&self) -> Vec<u8> {
        core::mem::take(&mut self.0.borrow_mut().outgoing)
    }

    /// Lets every access fail, or work again.
    pub fn set_broken(&self, broken: bool) {
        self.0.borrow_mut().broken = broken;
    }

    fn check(&self) -> Result<(), ErrorKind> {
        if self.0.borrow().broken { Err(ErrorKind::Other) } else { Ok(()) }
    }
}

impl ErrorType for FakePort {
    type Error = ErrorKind;
}

impl ReadReady for FakePort {
    fn read_ready(&mut self) -> Result<bool, ErrorKind> {
        self.check()?;
        Ok(!self.0.borrow().incoming.is_empty())
    }
}

impl Read for FakePort {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        self.check()?;
        let incoming = &mut self.0.borrow_mut().incoming;
        let count = bytes.len().min(incoming.len());
        for (byte, got) in bytes.iter_mut().zip(incoming.drain(..count)) {
            *byte = got;
        }
        Ok(count)
    }
}

impl WriteReady for FakePort {
    fn write_ready(&mut self) -> Result<bool, ErrorKind> {
        self.check()?;
        let wires = self.0.borrow();
        Ok(wires.outgoing.len() < wires.room)
    }
}

impl Write for FakePort {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        self.check()?;
        let mut wires = self.0.borrow_mut();
        let count = bytes.len().min(wires.room - wires.outgoing.len());
        wires.outgoing.extend_from_slice(&bytes[..count]);
        Ok(count)
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        self.check()
    }
}
