//! The PSRAM: the program's flash, the slot from which the program runs, and a few words that outlive a reset.

use firmware::memory_flash::{MemoryFlash, PAGE_BYTES};
use shared::wire::ResetCause;

/// Where it begins.
pub const BASE: usize = 0x2100_0000;
/// Bytes of the slot from which the program runs (memory.x). The image that is built for the budgets is half as long; the code
/// of the smallest processors is longer.
pub const PROGRAM_BYTES: usize = 192 << 10;
/// 4 MiB, as a common SPI NOR part has, and then the second slot and the loader's word (`firmware::journal::Layout`).
pub const FLASH_BYTES: usize = (4 << 20) + PROGRAM_BYTES + 2 * PAGE_BYTES;
const NOTES: usize = BASE + FLASH_BYTES + PROGRAM_BYTES;

const PANICKED: u32 = 0x4650_4C32;
const ASKED: u32 = 0x4650_4C33;

/// So many bytes of flash from its begin on.
pub fn flash(length: usize) -> MemoryFlash<&'static mut [u8]> {
    // SAFETY: the PSRAM is 16 MiB of memory that nothing else uses; loader and program each call this once.
    MemoryFlash(unsafe { core::slice::from_raw_parts_mut(BASE as *mut u8, length) })
}

/// Why the processor started, asked once.
pub fn reset_cause() -> ResetCause {
    let cause = match note(1) {
        PANICKED => ResetCause::Panic,
        ASKED => ResetCause::Software,
        _ => ResetCause::PowerOn,
    };
    write_note(1, 0);
    cause
}

/// Leaves word of a panic for the next start; how many there have been in a row.
pub fn note_panic() -> u32 {
    write_note(1, PANICKED);
    let panics = note(2).saturating_add(1);
    write_note(2, panics);
    panics
}

/// All has been well for a while.
pub fn forget_panics() {
    write_note(2, 0);
}

/// Leaves word of a wanted reset for the next start.
pub fn note_restart() {
    write_note(1, ASKED);
}

/// A word that outlives a reset. The first is the loader's.
pub fn note(n: usize) -> u32 {
    // SAFETY: as above, past the flash.
    unsafe { (NOTES as *const u32).add(n).read_volatile() }
}

/// Leaves such a word.
pub fn write_note(n: usize, value: u32) {
    // SAFETY: as above.
    unsafe { (NOTES as *mut u32).add(n).write_volatile(value) }
}
