//! What the RP2040 runs first: it puts the program that is to run into its slot and runs it, with the watchdog on. Not tried on
//! hardware.
#![no_std]
#![no_main]
#![allow(unsafe_code, reason = "the boot block, registers and memory at fixed addresses")]

mod flash;

use core::panic::PanicInfo;
use firmware::{
    blocking_flash::BlockingFlash,
    journal::Layout,
    lane::Watchdog,
    loader::{Slots, prepare},
};
use flash::{END, Flash, PROGRAM_AT, PROGRAM_BYTES, REST_AT};
use rp2040_hal::{self as hal, fugit::ExtU32, pac};

/// The second stage of the boot: any QSPI flash, read slowly.
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; 256] = rp2040_boot2::BOOT_LOADER_GENERIC_03H;

/// The oscillator that runs before any crystal does, MHz, about (data sheet, from memory).
const RING_MHZ: u8 = 6;
/// The watchdog's time, s: the most this part knows.
const WATCHDOG_S: u32 = 8;
/// Bytes copied at once: those the chip programs at once.
const BUFFER_BYTES: usize = 256;
/// Where the flash is seen in memory.
const SEEN_AT: usize = 0x1000_0000;

struct Dog(hal::Watchdog);

impl Watchdog for Dog {
    fn feed(&mut self) {
        self.0.feed();
    }
}

#[hal::entry]
fn main() -> ! {
    let Some(p) = pac::Peripherals::take() else { hal::reset() };
    let mut dog = hal::Watchdog::new(p.WATCHDOG);
    dog.enable_tick_generation(RING_MHZ);
    dog.start(WATCHDOG_S.secs());
    let layout = Layout::with_second::<BlockingFlash<Flash>>(END - REST_AT, PROGRAM_BYTES);
    let Ok(Layout { second, state, .. }) = layout else { hal::reset() };
    let behind = |range: core::ops::Range<u32>| PROGRAM_BYTES + range.start..PROGRAM_BYTES + range.end;
    let slots = Slots { active: 0..PROGRAM_BYTES, second: behind(second), state: behind(state) };
    // SAFETY: called once, and the second core has never been started.
    let flash = unsafe { Flash::from(PROGRAM_AT) };
    if prepare(flash, &slots, Dog(dog), &mut [0; BUFFER_BYTES]).is_err() {
        hal::reset();
    }
    let start = (SEEN_AT + PROGRAM_AT as usize) as *const u32;
    // SAFETY: a program begins with its vector table, and no interrupt is on.
    unsafe {
        (*cortex_m::peripheral::SCB::PTR).vtor.write(start as u32);
        cortex_m::asm::bootload(start)
    }
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    hal::reset()
}
