//! How deep the stack has been.

use cortex_m_rt::STACK_PAINT_VALUE;

unsafe extern "C" {
    static _stack_start: u32;
    static _stack_end: u32;
}

/// Bytes of stack that have been written since the start, by the paint that is left.
pub fn high_water() -> u16 {
    let (top, bottom) = (&raw const _stack_start, &raw const _stack_end);
    let mut at = bottom;
    // SAFETY: the linker script puts the stack between the two, word-aligned.
    unsafe {
        while at < top && at.read_volatile() == STACK_PAINT_VALUE {
            at = at.add(1);
        }
    }
    u16::try_from(top as usize - at as usize).unwrap_or(u16::MAX)
}
