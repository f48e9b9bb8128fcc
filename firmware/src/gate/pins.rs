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

/// A pin of a board that floats after every reset, so that a resistor at the drive decides where the gate rests.
pub trait FloatingPin {
    /// The same pin as an output.
    type Driven: OutputPin;
    /// Drives it from now on, at this level first.
    fn drive(self, high: bool) -> Self::Driven;
}

/// An output that floats until somebody who knows at which level the gate rests puts it there.
pub enum GateOutput<P: FloatingPin> {
    /// Never put anywhere since the reset.
    Floating(Option<P>),
    /// Driven.
    Driven(P::Driven),
}

impl<P: FloatingPin> GateOutput<P> {
    /// On a pin that floats.
    pub const fn new(pin: P) -> Self {
        Self::Floating(Some(pin))
    }

    fn put(&mut self, high: bool) {
        match self {
            Self::Floating(pin) => {
                if let Some(pin) = pin.take() {
                    *self = Self::Driven(pin.drive(high));
                }
            }
            // A pin that fails stays where it was; the drive's own spring or relay is what rests.
            Self::Driven(pin) => {
                let _ = if high { pin.set_high() } else { pin.set_low() };
            }
        }
    }
}

/// An output, and an input that a closed contact pulls low: an open contact, a broken wire and a failing input all stop.
pub struct GatePins<P: FloatingPin, I> {
    output: GateOutput<P>,
    stop: I,
}

impl<P: FloatingPin, I: InputPin> GatePins<P, I> {
    /// On two pins.
    pub const fn new(output: P, stop: I) -> Self {
        Self { output: GateOutput::new(output), stop }
    }
}

impl<P: FloatingPin, I: InputPin> GatePort for GatePins<P, I> {
    fn put(&mut self, high: bool) {
        self.output.put(high);
    }

    fn stopped(&mut self) -> bool {
        !self.stop.is_low().unwrap_or(false)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal_mock::eh1::{
        MockError,
        digital::{Mock, State, Transaction},
    };
    use std::{io::ErrorKind, vec};

    /// A pin that floats, with what is expected of it once it is driven.
    struct Floating(Mock);

    impl FloatingPin for Floating {
        type Driven = Mock;
        fn drive(mut self, high: bool) -> Mock {
            let _ = if high { self.0.set_high() } else { self.0.set_low() };
            self.0
        }
    }

    #[test]
    fn an_output_floats_until_it_is_put_somewhere() {
        let mut output = Mock::new(&[Transaction::set(State::Low), Transaction::set(State::High)]);
        let stop = Mock::new(&vec![]);
        let mut pins = GatePins::new(Floating(output.clone()), stop.clone());
        assert!(matches!(pins.output, GateOutput::Floating(Some(_))));
        pins.put(false);
        pins.put(true);
        assert!(matches!(pins.output, GateOutput::Driven(_)));
        output.done();
        pins.stop.done();
    }

    #[test]
    fn only_a_closed_contact_lets_a_gate_move() {
        let broken = Transaction::get(State::Low).with_error(MockError::Io(ErrorKind::Other));
        for (input, stopped) in
            [(Transaction::get(State::Low), false), (Transaction::get(State::High), true), (broken, true)]
        {
            let mut output = Mock::new(&vec![]);
            let mut pins = GatePins::new(Floating(output.clone()), Mock::new(&[input]));
            assert_eq!(pins.stopped(), stopped);
            pins.stop.done();
            output.done();
        }
        assert!(NoGate.stopped());
    }
}
