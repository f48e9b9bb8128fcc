//! What the nRF52840 runs first: it puts the program that is to run into its slot and runs it, with the watchdog on. Not tried
//! on hardware.
#![no_std]
#![no_main]
#![allow(unsafe_code, reason = "registers and memory at fixed addresses")]

mod flash_map;
#[path = "../../../src/bin/mps2_loader/jump.rs"]
mod jump;
mod watchdog;

use core::panic::PanicInfo;
use cortex_m::peripheral::SCB;
use cortex_m_rt::entry;
use firmware::{
    blocking_flash::BlockingFlash,
    journal::Layout,
    loader::{Slots, prepare},
};
use flash_map::{FLASH_BYTES, PROGRAM_AT, PROGRAM_BYTES};
use jump::jump;
use nrf52840_hal::{nvmc::Nvmc, pac};
use watchdog::watchdog;

/// Bytes copied at once.
const BUFFER_BYTES: usize = 256;

type Flash = Nvmc<pac::NVMC>;

#[entry]
fn main() -> ! {
    let Some(p) = pac::Peripherals::take() else { SCB::sys_reset() };
    let Some(dog) = watchdog(p.WDT) else { SCB::sys_reset() };
    let program = PROGRAM_BYTES as u32;
    let layout = Layout::with_second::<BlockingFlash<Flash>>(FLASH_BYTES as u32, program);
    let Ok(Layout { second, state, .. }) = layout else { SCB::sys_reset() };
    let behind = |range: core::ops::Range<u32>| program + range.start..program + range.end;
    let slots = Slots { active: 0..program, second: behind(second), state: behind(state) };
    // SAFETY: the loader ends below it (loader.x), and only the driver of the flash uses it.
    let pages =
        unsafe { core::slice::from_raw_parts_mut(PROGRAM_AT as *mut u8, PROGRAM_BYTES + FLASH_BYTES) };
    if prepare(Nvmc::new(p.NVMC, pages), &slots, dog, &mut [0; BUFFER_BYTES]).is_err() {
        SCB::sys_reset();
    }
    // SAFETY: what lies there is what a person or the loader has put there, and no interrupt is on.
    unsafe { jump(PROGRAM_AT) }
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    SCB::sys_reset()
}
