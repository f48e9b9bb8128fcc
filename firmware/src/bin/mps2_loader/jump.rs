//! From the loader to the program; the loaders of the real boards have it too.

use cortex_m::peripheral::SCB;

/// Runs the program whose vector table lies there.
///
/// # Safety
/// A program must lie there, and no interrupt be on.
pub unsafe fn jump(program: usize) -> ! {
    let vectors = program as *const u32;
    // SAFETY: by the promise above; nothing of the caller is used any more.
    unsafe {
        (*SCB::PTR).vtor.write(vectors as u32);
        cortex_m::asm::bootload(vectors)
    }
}
