//! The loader of the emulated board: it puts the program that is to run into its slot and runs it, with the watchdog on.
#![no_std]
#![no_main]
#![allow(unsafe_code, reason = "registers and memory at fixed addresses")]

mod jump;
#[allow(dead_code, reason = "what the program leaves itself there is nothing to the loader")]
#[path = "../mps2/psram.rs"]
mod psram;
#[path = "../mps2/watchdog.rs"]
mod watchdog;

use core::panic::PanicInfo;
use cortex_m::peripheral::SCB;
use cortex_m_rt::entry;
use firmware::{
    blocking_flash::BlockingFlash,
    journal::Layout,
    loader::{Slots, prepare},
    memory_flash::MemoryFlash,
};
use jump::jump;

/// Where the tests put the program that a person would write with a probe.
const FACTORY: usize = 0x0010_0000;
/// Left where the memory is no longer new.
const FORMATTED: u32 = 0x4650_4C31;
/// Bytes copied at once.
const BUFFER_BYTES: usize = 256;

type Flash = MemoryFlash<&'static mut [u8]>;

#[entry]
fn main() -> ! {
    let mut dog = watchdog::Cmsdk::start();
    let flash = psram::flash(psram::FLASH_BYTES + psram::PROGRAM_BYTES);
    if psram::note(0) != FORMATTED {
        // SAFETY: memory of the board that nothing writes.
        let factory = unsafe { core::slice::from_raw_parts(FACTORY as *const u8, psram::PROGRAM_BYTES) };
        let (erased, active) = flash.0.split_at_mut(psram::FLASH_BYTES);
        erased.fill(0xFF);
        active.fill(0xFF);
        // What lies beyond the program is no part of it: memory there is zero, flash would be erased.
        let end = factory.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1);
        active.iter_mut().zip(factory.iter().take(end)).for_each(|(to, byte)| *to = *byte);
        psram::write_note(0, FORMATTED);
    }
    let layout =
        Layout::with_second::<BlockingFlash<Flash>>(psram::FLASH_BYTES as u32, psram::PROGRAM_BYTES as u32);
    let Ok(Layout { second, state, .. }) = layout else { SCB::sys_reset() };
    let active = psram::FLASH_BYTES as u32..(psram::FLASH_BYTES + psram::PROGRAM_BYTES) as u32;
    if prepare(flash, &Slots { active, second, state }, &mut dog, &mut [0; BUFFER_BYTES]).is_err() {
        SCB::sys_reset();
    }
    // SAFETY: what lies there is what a person or the loader has put there, and no interrupt is on.
    unsafe { jump(psram::BASE + psram::FLASH_BYTES) }
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    SCB::sys_reset()
}
