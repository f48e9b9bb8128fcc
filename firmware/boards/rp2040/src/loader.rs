//! What the RP2040 runs first: it puts the program that is to run into its slot and runs it, with the watchdog on. Not tried on
//! hardware.
#![no_std]
#![no_main]
#![allow(unsafe_code, reason = "the boot block, registers and memory at fixed addresses")]

mod flash;
#[path = "../../../src/bin/mps2_loader/jump.rs"]
mod jump;
mod watchdog;

use core::panic::PanicInfo;
use firmware::{
    blocking_flash::BlockingFlash,
    journal::Layout,
    loader::{Slots, prepare},
};
use flash::{END, Flash, PROGRAM_AT, PROGRAM_BYTES, REST_AT, SEEN_AT};
use jump::jump;
use rp2040_hal::{self as hal, pac};
use watchdog::Dog;

/// The second stage of the boot: any QSPI flash, read slowly.
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_GENERIC_03H;

/// The oscillator that runs before any crystal does, MHz, about (data sheet, from memory).
const RING_MHZ: u8 = 6;
/// Bytes copied at once: those the chip programs at once.
const BUFFER_BYTES: usize = 256;

#[hal::entry]
fn main() -> ! {
    let Some(p) = pac::Peripherals::take() else { hal::reset() };
    let mut dog = hal::Watchdog::new(p.WATCHDOG);
    dog.enable_tick_generation(RING_MHZ);
    let dog = Dog::start(dog);
    let layout = Layout::with_second::<BlockingFlash<Flash>>(END - REST_AT, PROGRAM_BYTES);
    let Ok(Layout { second, state, .. }) = layout else { hal::reset() };
    let behind = |range: core::ops::Range<u32>| PROGRAM_BYTES + range.start..PROGRAM_BYTES + range.end;
    let slots = Slots { active: 0..PROGRAM_BYTES, second: behind(second), state: behind(state) };
    // SAFETY: called once, and the second core has never been started.
    let flash = unsafe { Flash::from(PROGRAM_AT) };
    if prepare(flash, &slots, dog, &mut [0; BUFFER_BYTES]).is_err() {
        hal::reset();
    }
    // SAFETY: what lies there is what a person or the loader has put there, and no interrupt is on.
    unsafe { jump(SEEN_AT + PROGRAM_AT as usize) }
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    hal::reset()
}
