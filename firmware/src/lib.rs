//! The lane device, generic over embedded-hal 1.0: sample, calibrate, analyse, keep, send.
#![no_std]
#![forbid(unsafe_code)]

#[cfg(any(test, feature = "fakes"))]
extern crate std;

pub mod blocking_flash;
pub mod calibration;
pub mod cow_table;
#[cfg(any(test, feature = "fakes"))]
pub mod fakes;
pub mod flash_part;
pub mod gate;
pub mod health;
pub mod journal;
pub mod lane;
pub mod link;
pub mod load_cells;
pub mod loader;
pub mod memory_flash;
pub mod orders;
pub mod raw;
pub mod scale;
pub mod settings;
pub mod trace;
pub mod update;
