//! What readings cost, told to whoever runs the emulator.

use super::{TICKS_A_MS, stack};
use cortex_m_semihosting::hio;

/// Ticks of the readings so far. Run with `-icount shift=0` a tick is 40 instructions.
#[derive(Default)]
pub struct Cost {
    readings: u32,
    ticks: u32,
    occupied: u32,
    occupied_ticks: u32,
    most: u32,
    most_answer: u32,
}

/// Ticks between two looks at the processor's counter, which falls; less than a millisecond lies between them.
const fn between(before: u32, after: u32) -> u32 {
    if before >= after { before - after } else { before + TICKS_A_MS - after }
}

impl Cost {
    /// Counts a reading: the processor's counter, which falls, when the sample was handed out and now, and whether somebody is
    /// on the deck.
    pub fn count(&mut self, before: u32, after: u32, occupied: bool) {
        let ticks = between(before, after);
        self.readings += 1;
        self.ticks = self.ticks.saturating_add(ticks);
        if occupied {
            self.occupied += 1;
            self.occupied_ticks = self.occupied_ticks.saturating_add(ticks);
        }
        self.most = self.most.max(ticks);
    }

    /// Counts the judging of a cow.
    pub fn answer(&mut self, before: u32, after: u32) {
        self.most_answer = self.most_answer.max(between(before, after));
    }

    /// Tells it, one line.
    pub fn tell(&self) {
        for (name, value) in [
            ("readings", self.readings),
            (" ticks", self.ticks),
            (" occupied", self.occupied),
            (" occupied_ticks", self.occupied_ticks),
            (" most_ticks", self.most),
            (" most_answer_ticks", self.most_answer),
            (" stack", u32::from(stack::high_water())),
        ] {
            say(name);
            say_number(value);
        }
        say("\n");
    }
}

/// Text for the emulator. Not through `core::fmt`: it takes 2 KiB.
pub fn say(text: &str) {
    if let Ok(mut out) = hio::hstdout() {
        let _ = out.write_all(text.as_bytes());
    }
}

/// A number for the emulator.
pub fn say_number(mut number: u32) {
    let mut digits = *b"           ";
    for digit in digits.iter_mut().skip(1).rev() {
        *digit = b'0' + (number % 10) as u8;
        number /= 10;
        if number == 0 {
            break;
        }
    }
    say(core::str::from_utf8(&digits).unwrap_or_default());
}
