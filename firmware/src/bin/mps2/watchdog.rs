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
/// 25 MHz: four seconds until the interrupt, which ends the program, and four more until the reset. An emulator that has to wait
/// for its machine is fed later than a board.
const TICKS: u32 = 100_000_000;

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
