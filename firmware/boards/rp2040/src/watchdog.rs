//! The watchdog, which loader and program each have in turn.

use firmware::lane::Watchdog;
use rp2040_hal::{self as hal, fugit::ExtU32};

/// The watchdog's time, s: longer than the erasing of any page, some 0.4 s, and the most this part knows.
const WATCHDOG_S: u32 = 8;

/// The watchdog, switched on.
pub struct Dog(hal::Watchdog);

impl Dog {
    /// Switches it on. Its ticks must come already.
    pub fn start(mut dog: hal::Watchdog) -> Self {
        dog.pause_on_debug(true);
        dog.start(WATCHDOG_S.secs());
        Self(dog)
    }
}

impl Watchdog for Dog {
    fn feed(&mut self) {
        self.0.feed();
    }
}
