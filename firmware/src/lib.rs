//! The lane device, generic over embedded-hal 1.0: sample, calibrate, analyse, keep, send.
#![no_std]
#![forbid(unsafe_code)]

#[cfg(any(test, feature = "fakes"))]
extern crate std;

pub mod load_cells;
