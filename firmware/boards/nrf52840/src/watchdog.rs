//! The watchdog, which loader and program each have in turn.

use firmware::lane::Watchdog;
use nrf52840_hal::{
    pac,
    wdt::{self, WatchdogHandle, count, handles},
};

/// The watchdog's time, s: longer than the erasing of any page, 85 ms.
const WATCHDOG_S: u32 = 8;
/// Ticks of the watchdog's clock a second.
const TICKS_HZ: u32 = 32_768;

/// The watchdog, switched on.
pub struct Dog(WatchdogHandle<handles::Hdl0>);

impl Watchdog for Dog {
    fn feed(&mut self) {
        self.0.pet();
    }
}

/// A new watchdog, or the one that a reset other than its own has left running.
pub fn watchdog(registers: pac::WDT) -> Option<Dog> {
    let handle = match wdt::Watchdog::try_new(registers) {
        Ok(mut new) => {
            new.set_lfosc_ticks(WATCHDOG_S * TICKS_HZ);
            new.run_during_debug_halt(false);
            new.activate::<count::One>().handles.0
        }
        Err(running) => wdt::Watchdog::try_recover::<count::One>(running).ok()?.handles.0,
    };
    Some(Dog(handle))
}
