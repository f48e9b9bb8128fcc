//! The HAL's UART as a port of the embedded-io that the firmware uses; the HAL's own is of an older one.

use embedded_io::{ErrorKind, ErrorType, Read, ReadReady, Write, WriteReady};
use rp2040_hal::uart::{Enabled, UartDevice, UartPeripheral, ValidUartPinout};

/// One UART with its two pins.
pub struct Port<D: UartDevice, P: ValidUartPinout<D>>(pub UartPeripheral<Enabled, D, P>);

impl<D: UartDevice, P: ValidUartPinout<D>> ErrorType for Port<D, P> {
    type Error = ErrorKind;
}

impl<D: UartDevice, P: ValidUartPinout<D>> ReadReady for Port<D, P> {
    fn read_ready(&mut self) -> Result<bool, ErrorKind> {
        Ok(self.0.uart_is_readable())
    }
}

impl<D: UartDevice, P: ValidUartPinout<D>> Read for Port<D, P> {
    fn read(&mut self, bytes: &mut [u8]) -> Result<usize, ErrorKind> {
        while !self.0.uart_is_readable() {}
        match self.0.read_raw(bytes) {
            Ok(count) => Ok(count),
            // The bytes before the broken one.
            Err(nb::Error::Other(error)) if !error.discarded.is_empty() => Ok(error.discarded.len()),
            Err(_) => Err(ErrorKind::Other),
        }
    }
}

impl<D: UartDevice, P: ValidUartPinout<D>> WriteReady for Port<D, P> {
    fn write_ready(&mut self) -> Result<bool, ErrorKind> {
        Ok(self.0.uart_is_writable())
    }
}

impl<D: UartDevice, P: ValidUartPinout<D>> Write for Port<D, P> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, ErrorKind> {
        while !self.0.uart_is_writable() {}
        Ok(self.0.write_raw(bytes).map_or(0, |rest| bytes.len() - rest.len()))
    }

    fn flush(&mut self) -> Result<(), ErrorKind> {
        while self.0.uart_is_busy() {}
        Ok(())
    }
}
