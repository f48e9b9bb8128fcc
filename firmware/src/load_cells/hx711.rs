//! HX711: one channel, 24 bits, two wires; four of them with one clock line weigh four plates together.
//!
//! Data sheet: Avia Semiconductor HX711, "Serial Interface" (25 to 27 pulses: gain 128, channel B 32, gain 64;
//! the 25th pulse raises DOUT), figure 2 (timing: DOUT low to first pulse 0.1 µs, pulse to data 0.1 µs, clock
//! high 0.2 to 50 µs, clock low 0.2 µs or more), figure 3 (clock high longer than 60 µs: power down), "Output
//! Data Rate and Format" (80 Hz with RATE high; the code clips at 800000h and 7FFFFFh).
//!
//! A clock kept high for 60 µs switches the part off, so `poll` must not be interrupted for longer: call it
//! with interrupts masked, or from the highest of them.

use super::{LoadCells, Sample};
use embedded_hal::{
    delay::DelayNs,
    digital::{InputPin, OutputPin},
};
use shared::{plate::PerPlate, units::Counts};

/// Half of a clock period, µs (figure 2: typical 1).
const HALF_PERIOD_US: u32 = 1;
/// Time that switches the part off, µs (figure 3: more than 60).
const POWER_DOWN_US: u32 = 64;

/// Gain of channel A, by the number of clock pulses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gain {
    /// ±20 mV at 5 V.
    X128 = 25,
    /// ±40 mV at 5 V.
    X64 = 27,
}

/// What went wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Error<C, D> {
    /// The clock pin failed.
    Clock(C),
    /// A data pin failed.
    Data(D),
    /// DOUT was not high after the last pulse: the part counts other pulses than we do. It must be reset.
    OutOfStep,
}

/// Four parts with one clock line. The data pins are of one type: use the HAL's erased pins.
pub struct Hx711Bank<CLOCK, DATA, DELAY> {
    clock: CLOCK,
    data: [DATA; 4],
    delay: DELAY,
    gain: Gain,
}

impl<CLOCK: OutputPin, DATA: InputPin, DELAY: DelayNs> Hx711Bank<CLOCK, DATA, DELAY> {
    /// A bank; data pins in the order LF, RF, LR, RR.
    pub const fn new(clock: CLOCK, data: [DATA; 4], delay: DELAY, gain: Gain) -> Self {
        Self { clock, data, delay, gain }
    }

    fn all(&mut self, high: bool) -> Result<bool, Error<CLOCK::Error, DATA::Error>> {
        for pin in &mut self.data {
            if pin.is_high().map_err(Error::Data)? != high {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn pulse(&mut self) -> Result<(), Error<CLOCK::Error, DATA::Error>> {
        self.clock.set_high().map_err(Error::Clock)?;
        self.delay.delay_us(HALF_PERIOD_US);
        self.clock.set_low().map_err(Error::Clock)?;
        self.delay.delay_us(HALF_PERIOD_US);
        Ok(())
    }
}

impl<CLOCK: OutputPin, DATA: InputPin, DELAY: DelayNs> LoadCells for Hx711Bank<CLOCK, DATA, DELAY> {
    type Error = Error<CLOCK::Error, DATA::Error>;

    fn poll(&mut self) -> Result<Option<Sample>, Self::Error> {
        if !self.all(false)? {
            return Ok(None);
        }
        let mut codes = [0_u32; 4];
        for _ in 0..24 {
            self.pulse()?;
            for (code, pin) in codes.iter_mut().zip(&mut self.data) {
                *code = *code << 1 | u32::from(pin.is_high().map_err(Error::Data)?);
            }
        }
        for _ in 24..self.gain as u8 {
            self.pulse()?;
        }
        if !self.all(true)? {
            return Err(Error::OutOfStep);
        }
        Ok(Some(Sample { counts: PerPlate(codes.map(signed)) }))
    }

    /// Switches the four parts off and on: they start again with gain 128 and settle (400 ms at 10 Hz, 50 ms
    /// at 80 Hz).
    fn restart(&mut self) -> Result<(), Self::Error> {
        self.clock.set_high().map_err(Error::Clock)?;
        self.delay.delay_us(POWER_DOWN_US);
        self.clock.set_low().map_err(Error::Clock)
    }
}

/// The signed value of a 24-bit code.
fn signed(code: u32) -> Counts {
    Counts((code << 8).cast_signed() >> 8)
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal_mock::eh1::{
        delay::{CheckedDelay, Transaction as Wait},
        digital::{Mock as Pin, State, Transaction as Edge},
    };
    use std::vec::Vec;

    struct Bench {
        clock: Pin,
        data: [Pin; 4],
        delay: CheckedDelay,
    }

    impl Bench {
        /// Pins that expect one whole reading: `pulses` clock pulses and the bits of `codes`, then `idle`.
        fn reading(codes: [u32; 4], pulses: usize, idle: [State; 4]) -> Self {
            let clock: Vec<_> =
                (0..pulses).flat_map(|_| [Edge::set(State::High), Edge::set(State::Low)]).collect();
            let waits: Vec<_> = (0..2 * pulses).map(|_| Wait::delay_us(1)).collect();
            let first_low = idle.iter().position(|level| *level == State::Low);
            let mut channel = 0;
            let data = codes.map(|code| {
                let mut script = std::vec![Edge::get(State::Low)];
                script.extend(
                    (0..24)
                        .rev()
                        .map(|bit| Edge::get(if code >> bit & 1 == 1 { State::High } else { State::Low })),
                );
                if first_low.is_none_or(|low| channel <= low) {
                    script.push(Edge::get(idle[channel]));
                }
                channel += 1;
                Pin::new(&script)
            });
            Self { clock: Pin::new(&clock), data, delay: CheckedDelay::new(&waits) }
        }

        fn poll(
            mut self,
            gain: Gain,
        ) -> Result<Option<Sample>, Error<embedded_hal_mock::eh1::MockError, embedded_hal_mock::eh1::MockError>>
        {
            let mut bank = Hx711Bank::new(self.clock.clone(), self.data.clone(), self.delay.clone(), gain);
            let result = bank.poll();
            self.clock.done();
            self.data.iter_mut().for_each(Pin::done);
            self.delay.done();
            result
        }
    }

    #[test]
    fn clocks_24_bits_out_of_all_four_at_once() {
        let bench = Bench::reading([0x7F_FFFF, 0x80_0000, 0xFF_FFFF, 0x01_2345], 25, [State::High; 4]);
        let sample = bench.poll(Gain::X128).unwrap().unwrap();
        assert_eq!(sample.counts.0.map(|c| c.0), [0x7F_FFFF, -0x80_0000, -1, 0x01_2345]);
        assert_eq!(sample.saturated().0, [true, true, false, false]);
    }

    #[test]
    fn gain_64_takes_27_pulses() {
        let bench = Bench::reading([1, 2, 3, 4], 27, [State::High; 4]);
        assert!(bench.poll(Gain::X64).unwrap().is_some());
    }

    #[test]
    fn waits_for_the_slowest_part() {
        let ready = [Edge::get(State::Low)];
        let busy = [Edge::get(State::High)];
        let bench = Bench {
            clock: Pin::new(&[]),
            data: [Pin::new(&ready), Pin::new(&ready), Pin::new(&busy), Pin::new(&[])],
            delay: CheckedDelay::new(&[]),
        };
        assert_eq!(bench.poll(Gain::X128), Ok(None));
    }

    #[test]
    fn a_part_out_of_step_is_seen() {
        let bench = Bench::reading([1, 2, 3, 4], 25, [State::High, State::Low, State::High, State::High]);
        assert_eq!(bench.poll(Gain::X128), Err(Error::OutOfStep));
    }

    #[test]
    fn reset_holds_the_clock_longer_than_60_us() {
        let mut clock = Pin::new(&[Edge::set(State::High), Edge::set(State::Low)]);
        let mut delay = CheckedDelay::new(&[Wait::delay_us(64)]);
        let mut data = [Pin::new(&[]), Pin::new(&[]), Pin::new(&[]), Pin::new(&[])];
        let mut bank = Hx711Bank::new(clock.clone(), data.clone(), delay.clone(), Gain::X128);
        bank.restart().unwrap();
        clock.done();
        delay.done();
        data.iter_mut().for_each(Pin::done);
    }
}
