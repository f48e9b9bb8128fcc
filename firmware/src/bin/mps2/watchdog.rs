//! The CMSDK watchdog: it resets the board when nobody has fed it for twice its time.

use firmware::lane::Watchdog;

const BASE: usize = 0x4000_8000;
const LOAD: usize = 0;
const CONTROL: usize = 2;
const CLEAR: usize = 3;
const LOCK: usize = 0xC00 / 4;
const UNLOCK: u32 = 0x1ACC_E551;
/// The first time-out raises an interrupt, the second resets.
const BOTH_ON: u32 = 0b11;
/// 25 MHz: a second until the interrupt, and one more until the reset.
const TICKS: u32 = 25_000_000;

/// The watchdog; loader and program each have it in turn.
pub struct Cmsdk(());

impl Cmsdk {
    /// Switches it on.
    pub fn start() -> Self {
        write(LOCK, UNLOCK);
        write(LOAD, TICKS);
        write(CONTROL, BOTH_ON);
        Self(())
    }
}

impl Watchdog for Cmsdk {
    fn feed(&mut self) {
        // Counts down from the load again.
        write(CLEAR, 1);
    }
}

fn write(register: usize, value: u32) {
    // SAFETY: the watchdog's registers, which nothing else writes.
    unsafe { (BASE as *mut u32).add(register).write_volatile(value) }
}
