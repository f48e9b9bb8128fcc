//! The gate's output and the stop input of a board.

use embedded_hal::digital::{InputPin, OutputPin};

/// What drives a gate. A level that moves it is only ever asked for by settings that a person made.
pub trait GatePort {
    /// Puts the output at a level. A gate that was never set is never asked for: the output stays what the board made it.
    fn put(&mut self, high: bool);
    /// Whether the stop input is open: then the gate rests. A board without one says so for ever.
    fn stopped(&mut self) -> bool;
}

/// A board without a gate.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoGate;

impl GatePort for NoGate {
    fn put(&mut self, _: bool) {}
    fn stopped(&mut self) -> bool {
        true
    }
}

/// An output, and an input that a closed contact pulls low: an open contact, a broken wire and a failing input all stop.
pub struct GatePins<O, I> {
    output: O,
    stop: I,
}

impl<O: OutputPin, I: InputPin> GatePins<O, I> {
    /// On two pins.
    pub const fn new(output: O, stop: I) -> Self {
        Self { output, stop }
    }
}

impl<O: OutputPin, I: InputPin> GatePort for GatePins<O, I> {
    fn put(&mut self, high: bool) {
        // A pin that fails stays where it was; the drive's own spring or relay is what rests.
        let _ = if high { self.output.set_high() } else { self.output.set_low() };
    }

    fn stopped(&mut self) -> bool {
        !self.stop.is_low().unwrap_or(false)
    }
}
