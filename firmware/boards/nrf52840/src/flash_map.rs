//! How the flash is shared out: the loader below (loader.x), then the program's slot (program.x), then all that the program
//! writes, the second slot at its end (`firmware::journal::Layout`).

/// Where the program lies.
#[allow(dead_code, reason = "the loader's")]
pub const PROGRAM_AT: usize = 0x8000;
/// Room for it.
pub const PROGRAM_BYTES: usize = 0x2_0000;
/// Where the rest begins.
pub const FLASH_AT: usize = PROGRAM_AT + PROGRAM_BYTES;
/// And its length: to the end of 1 MiB.
pub const FLASH_BYTES: usize = 0x10_0000 - FLASH_AT;
