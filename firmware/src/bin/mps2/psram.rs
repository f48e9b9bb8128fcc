//! The PSRAM: the journal's flash, and a few words that outlive a reset.

use firmware::memory_flash::MemoryFlash;
use shared::wire::ResetCause;

const BASE: usize = 0x2100_0000;
/// 4 MiB, as a common SPI NOR part has.
pub const FLASH_BYTES: usize = 4 << 20;
const NOTES: usize = BASE + FLASH_BYTES;

const FORMATTED: u32 = 0x4650_4C31;
const PANICKED: u32 = 0x4650_4C32;
const ASKED: u32 = 0x4650_4C33;

/// The flash, erased when the emulator's memory is new.
pub fn flash() -> MemoryFlash<&'static mut [u8]> {
    // SAFETY: the PSRAM is 16 MiB of memory that nothing else uses; `main` calls this once.
    let bytes = unsafe { core::slice::from_raw_parts_mut(BASE as *mut u8, FLASH_BYTES) };
    if note(0) != FORMATTED {
        bytes.fill(0xFF);
        write_note(0, FORMATTED);
    }
    MemoryFlash(bytes)
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

fn note(n: usize) -> u32 {
    // SAFETY: as above, past the flash.
    unsafe { (NOTES as *const u32).add(n).read_volatile() }
}

fn write_note(n: usize, value: u32) {
    // SAFETY: as above.
    unsafe { (NOTES as *mut u32).add(n).write_volatile(value) }
}
