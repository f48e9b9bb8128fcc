//! ADS131M04: four channels, 24 bits, simultaneous, over SPI.
//!
//! Data sheet: Texas Instruments SBAS890 and its automotive edition of March 2022, whose numbering is used
//! here. Read there: frames 8.5.1.7, words 8.5.1.8, conversion data and end stops 8.5.1.9 with table 8-10,
//! commands 8.5.1.10 (register write 011a aaaa annn nnnn, its answer 010a aaaa ammm mmmm, a failed input CRC
//! does not stop the write), data rates table 8-2. The register addresses, bits and reset values agree with the
//! maker's published header. From memory: the CRC seed, the answer to a reset, the waiting times.
//!
//! SPI mode 1 (clock idle low, data taken on the falling edge), at most 25 MHz.

use super::{LoadCells, Sample, sign_extend_24};
use crc::{CRC_16_IBM_3740, Crc};
use embedded_hal::{delay::DelayNs, digital::InputPin, spi::SpiDevice};
use shared::{plate::PerPlate, units::Counts};

const CRC: Crc<u16> = Crc::<u16>::new(&CRC_16_IBM_3740);

/// Bytes of one word.
const WORD: usize = 3;
/// Words of one frame: command or answer, four channels, CRC.
const WORDS: usize = 6;
/// Bytes of one frame.
pub const FRAME: usize = WORD * WORDS;

const NULL: u16 = 0x0000;
const RESET: u16 = 0x0011;
/// The answer to a reset: FF20h + the number of channels.
const RESET_DONE: u16 = 0xFF24;

/// Wait after a reset until registers may be reached, µs (data sheet: 5 µs).
const RESET_WAIT_US: u32 = 5;
/// Wait after power-on, µs (data sheet: 250 µs).
const POWER_ON_WAIT_US: u32 = 250;

/// A register, by its address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Register {
    /// What it is: 24xxh for four channels.
    Id = 0x00,
    /// Flags, sent as the answer to every null command.
    Status = 0x01,
    /// CRC, word length, time-out, data-ready pin.
    Mode = 0x02,
    /// Channels on, oversampling, power.
    Clock = 0x03,
    /// Amplifier gain of the four channels.
    Gain = 0x04,
}

/// Input CRC on (bit 12), reset flag cleared (10), 24-bit words (9:8 = 01), frame time-out on (4), data-ready
/// when the slowest channel is (3:2 = 00), pin driven both ways (1), low until read (0).
pub const MODE: u16 = 0x1110;
/// All four channels on (11:8) and high-resolution power (1:0 = 10); the oversampling goes in bits 4:2.
pub const CLOCK_BASE: u16 = 0x0F02;

/// Status bit: the part has been reset since the flag was cleared.
pub const STATUS_RESET: u16 = 1 << 10;
/// Status bit: the last command's CRC was wrong.
pub const STATUS_CRC_ERROR: u16 = 1 << 12;
/// Status bits: new data on channels 0 to 3.
pub const STATUS_READY: u16 = 0x000F;

/// Oversampling ratio. The data rate is clock / 2 / ratio: with 8.192 MHz, 250 Hz at the highest
/// (table 8-2); with 6.5536 MHz, 200 Hz.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Oversampling {
    /// 500 Hz at 8.192 MHz.
    X8192 = 6,
    /// 250 Hz at 8.192 MHz.
    X16384 = 7,
}

/// Gain of the amplifier before each converter; the full scale is 1.2 V / gain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gain {
    /// 37.5 mV full scale.
    X32 = 5,
    /// 18.75 mV full scale.
    X64 = 6,
    /// 9.375 mV full scale: 2 mV/V cells fed with 3.3 V.
    X128 = 7,
}

/// What went wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Error<S, P> {
    /// The SPI bus failed.
    Spi(S),
    /// The data-ready pin failed.
    Pin(P),
    /// A frame came with a wrong CRC.
    Crc,
    /// The part has another number of channels, or none answers.
    WrongPart(u16),
    /// A register did not take what was written; the register and what it holds.
    NotTaken(Register, u16),
    /// The part was reset behind our back: restart it.
    Restarted,
}

/// The driver.
pub struct Ads131m04<SPI, READY, DELAY> {
    spi: SPI,
    ready: READY,
    delay: DELAY,
    oversampling: Oversampling,
    gain: Gain,
}

impl<SPI: SpiDevice, READY: InputPin, DELAY: DelayNs> Ads131m04<SPI, READY, DELAY> {
    /// A driver on an SPI device and the data-ready pin (low when data are ready). Restart it before use.
    pub const fn new(spi: SPI, ready: READY, delay: DELAY, oversampling: Oversampling, gain: Gain) -> Self {
        Self { spi, ready, delay, oversampling, gain }
    }

    fn write(&mut self, register: Register, value: u16) -> Result<(), Error<SPI::Error, READY::Error>> {
        let address = (register as u16) << 7;
        self.frame(&[0x6000 | address, value])?;
        self.frame(&[0xA000 | address])?;
        let held = self.frame(&[NULL])?.answer;
        if held == value { Ok(()) } else { Err(Error::NotTaken(register, held)) }
    }

    /// Sends a command with its CRC and hands back what came at the same time.
    fn frame(&mut self, command: &[u16]) -> Result<Frame, Error<SPI::Error, READY::Error>> {
        let mut bytes = [0_u8; FRAME];
        let mut words = bytes.chunks_exact_mut(WORD);
        for (word, slot) in command.iter().zip(&mut words) {
            slot[..2].copy_from_slice(&word.to_be_bytes());
        }
        let sent = command.len() * WORD;
        if let Some((covered, rest)) = bytes.split_at_mut_checked(sent)
            && let Some(slot) = rest.first_chunk_mut::<2>()
        {
            *slot = CRC.checksum(covered).to_be_bytes();
        }
        self.spi.transfer_in_place(&mut bytes).map_err(Error::Spi)?;
        Frame::parse(&bytes).ok_or(Error::Crc)
    }
}

impl<SPI: SpiDevice, READY: InputPin, DELAY: DelayNs> LoadCells for Ads131m04<SPI, READY, DELAY> {
    type Error = Error<SPI::Error, READY::Error>;

    fn poll(&mut self) -> Result<Option<Sample>, Self::Error> {
        if self.ready.is_high().map_err(Error::Pin)? {
            return Ok(None);
        }
        let frame = self.frame(&[NULL])?;
        if frame.answer & STATUS_RESET != 0 {
            return Err(Error::Restarted);
        }
        if frame.answer & STATUS_CRC_ERROR != 0 {
            return Err(Error::Crc);
        }
        Ok((frame.answer & STATUS_READY == STATUS_READY).then_some(Sample { counts: frame.counts }))
    }

    /// Resets and configures the part, reads every register back, and throws away the two samples its buffer
    /// may hold.
    fn restart(&mut self) -> Result<(), Self::Error> {
        self.delay.delay_us(POWER_ON_WAIT_US);
        // A reset takes effect only with a whole frame, and no CRC is asked of it: the input CRC is off then,
        // or is right.
        self.frame(&[RESET])?;
        self.delay.delay_us(RESET_WAIT_US);
        let answer = self.frame(&[NULL])?.answer;
        if answer != RESET_DONE {
            return Err(Error::WrongPart(answer));
        }
        self.write(Register::Mode, MODE)?;
        self.write(Register::Clock, CLOCK_BASE | (self.oversampling as u16) << 2)?;
        self.write(Register::Gain, 0x1111 * self.gain as u16)?;
        for _ in 0..2 {
            self.frame(&[NULL])?;
        }
        Ok(())
    }
}

struct Frame {
    answer: u16,
    counts: PerPlate<Counts>,
}

impl Frame {
    /// Takes a received frame apart; `None` where its CRC is wrong.
    fn parse(bytes: &[u8; FRAME]) -> Option<Self> {
        let [a0, a1, _, d @ .., c0, c1, _] = *bytes;
        if CRC.checksum(&bytes[..FRAME - WORD]) != u16::from_be_bytes([c0, c1]) {
            return None;
        }
        let code =
            |channel: usize| Counts(sign_extend_24([d[3 * channel], d[3 * channel + 1], d[3 * channel + 2]]));
        Some(Self {
            answer: u16::from_be_bytes([a0, a1]),
            counts: PerPlate([code(0), code(1), code(2), code(3)]),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal_mock::eh1::{
        delay::{CheckedDelay, Transaction as Wait},
        digital::{Mock as Pin, State, Transaction as Edge},
        spi::{Mock as Spi, Transaction},
    };
    use std::vec::Vec;

    fn sent(words: &[u16]) -> Vec<u8> {
        let mut bytes: Vec<u8> = words.iter().flat_map(|w| [(w >> 8) as u8, *w as u8, 0]).collect();
        let crc = slow_crc(&bytes);
        bytes.extend([(crc >> 8) as u8, crc as u8, 0]);
        bytes.resize(FRAME, 0);
        bytes
    }

    fn received(answer: u16, codes: [i32; 4]) -> Vec<u8> {
        let mut bytes = std::vec![(answer >> 8) as u8, answer as u8, 0];
        for code in codes {
            bytes.extend(&code.to_be_bytes()[1..]);
        }
        let crc = slow_crc(&bytes);
        bytes.extend([(crc >> 8) as u8, crc as u8, 0]);
        bytes
    }

    /// Polynomial 1021h, start FFFFh, bit by bit: independent of the driver's.
    fn slow_crc(bytes: &[u8]) -> u16 {
        let mut crc = 0xFFFF_u16;
        for bit in bytes.iter().flat_map(|b| (0..8).rev().map(move |i| b >> i & 1)) {
            let top = (crc >> 15) as u8 ^ bit;
            crc = crc << 1 ^ if top == 1 { 0x1021 } else { 0 };
        }
        crc
    }

    fn exchange(out: Vec<u8>, back: Vec<u8>) -> [Transaction<u8>; 3] {
        [
            Transaction::transaction_start(),
            Transaction::transfer_in_place(out, back),
            Transaction::transaction_end(),
        ]
    }

    fn configuration(held_gain: u16) -> Vec<Transaction<u8>> {
        let quiet = || received(0x0500, [0; 4]);
        let mut script = Vec::new();
        let mut step = |out: &[u16], back: Vec<u8>| script.extend(exchange(sent(out), back));
        step(&[0x0011], quiet());
        step(&[0x0000], received(0xFF24, [0; 4]));
        for (write, read, value, held) in [
            (0x6100, 0xA100, 0x1110, 0x1110),
            (0x6180, 0xA180, 0x0F1E, 0x0F1E),
            (0x6200, 0xA200, 0x7777, held_gain),
        ] {
            step(&[write, value], quiet());
            step(&[read], received(0x4000 | write & 0x1FFF, [0; 4]));
            step(&[0x0000], received(held, [0; 4]));
        }
        if held_gain == 0x7777 {
            step(&[0x0000], received(0x010F, [1, 2, 3, 4]));
            step(&[0x0000], received(0x010F, [1, 2, 3, 4]));
        }
        script
    }

    fn waits() -> CheckedDelay {
        CheckedDelay::new(&[Wait::delay_us(250), Wait::delay_us(5)])
    }

    #[test]
    fn configures_register_by_register_and_reads_back() {
        let mut spi = Spi::new(&configuration(0x7777));
        let mut pin = Pin::new(&[]);
        let mut delay = waits();
        let mut adc =
            Ads131m04::new(spi.clone(), pin.clone(), delay.clone(), Oversampling::X16384, Gain::X128);
        adc.restart().unwrap();
        spi.done();
        pin.done();
        delay.done();
    }

    #[test]
    fn a_register_that_does_not_hold_is_named() {
        let mut spi = Spi::new(&configuration(0x0777));
        let mut pin = Pin::new(&[]);
        let mut delay = waits();
        let mut adc =
            Ads131m04::new(spi.clone(), pin.clone(), delay.clone(), Oversampling::X16384, Gain::X128);
        let error = adc.restart().unwrap_err();
        assert_eq!(error, Error::NotTaken(Register::Gain, 0x0777));
        spi.done();
        pin.done();
        delay.done();
    }

    #[test]
    fn another_part_is_refused() {
        let mut script = exchange(sent(&[0x0011]), received(0, [0; 4])).to_vec();
        script.extend(exchange(sent(&[0]), received(0xFF22, [0; 4])));
        let mut spi = Spi::new(&script);
        let mut pin = Pin::new(&[]);
        let mut delay = waits();
        let mut adc =
            Ads131m04::new(spi.clone(), pin.clone(), delay.clone(), Oversampling::X16384, Gain::X128);
        let error = adc.restart().unwrap_err();
        assert_eq!(error, Error::WrongPart(0xFF22));
        spi.done();
        pin.done();
        delay.done();
    }

    fn poll(
        level: State,
        answer: Option<Vec<u8>>,
    ) -> Result<Option<Sample>, Error<embedded_hal::spi::ErrorKind, embedded_hal_mock::eh1::MockError>> {
        let script = answer.map_or_else(Vec::new, |back| exchange(sent(&[0x0000]), back).to_vec());
        let mut spi = Spi::new(&script);
        let mut pin = Pin::new(&[Edge::get(level)]);
        let delay = CheckedDelay::new(&[]);
        let mut adc =
            Ads131m04::new(spi.clone(), pin.clone(), delay.clone(), Oversampling::X16384, Gain::X128);
        let result = adc.poll();
        delay.clone().done();
        spi.done();
        pin.done();
        result
    }

    #[test]
    fn not_ready_costs_no_bus_traffic() {
        assert_eq!(poll(State::High, None), Ok(None));
    }

    #[test]
    fn reads_four_signed_codes() {
        let codes = [0x7F_FFFF, -0x80_0000, -1, 123_456];
        let sample = poll(State::Low, Some(received(0x010F, codes))).unwrap().unwrap();
        assert_eq!(sample.counts.0, codes.map(Counts));
        assert_eq!(sample.saturated().0, [true, true, false, false]);
    }

    #[test]
    fn a_flipped_bit_loses_the_sample_and_nothing_else() {
        for bit in 0..(FRAME - 1) * 8 {
            let mut back = received(0x010F, [100, -200, 300, -400]);
            back[bit / 8] ^= 0x80 >> (bit % 8);
            assert_eq!(poll(State::Low, Some(back)), Err(Error::Crc), "bit {bit}");
        }
    }

    #[test]
    fn a_restart_asks_for_configuration() {
        assert_eq!(poll(State::Low, Some(received(0x050F, [0; 4]))), Err(Error::Restarted));
    }

    #[test]
    fn a_command_that_came_in_broken_costs_its_sample() {
        assert_eq!(poll(State::Low, Some(received(0x110F, [1; 4]))), Err(Error::Crc));
    }

    #[test]
    fn a_channel_without_new_data_is_no_sample() {
        assert_eq!(poll(State::Low, Some(received(0x010B, [0; 4]))), Ok(None));
    }
}
