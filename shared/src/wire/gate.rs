//! What the gate behind the plates is told and what it tells: whom to hold back at a milking, and what came of each.

use super::message::ItemKey;
use crate::{
    identity::AnimalCode,
    limits::{MAX_HELD, MAX_HELD_A_PART},
    units::{Kilograms, Milliseconds},
};
use heapless::Vec;
use serde::{Deserialize, Serialize};

/// Longest time from a tag to the move, ms (our choice: no cow needs a minute from the reader to the gate).
pub const MAX_DELAY_MS: u16 = 60_000;
/// Shortest and longest pulse, ms (our choice: what a relay follows, and what no drive needs longer).
pub const PULSE_MS: (u16, u16) = (50, 10_000);
/// Longest time in which no other move is made, ms (our choice).
pub const MAX_HOLD_MS: u32 = 120_000;
/// Shortest and longest silence of the host that a list outlives, s (our choice: a list is confirmed each minute).
pub const SILENCE_S: (u16, u16) = (90, 3_600);
/// Lightest and heaviest load that may be set as that of a foot on the first plates, kg (our choice: above the noise of a
/// wet plate, far below the foot of a calf).
pub const FIRST_KG: (f32, f32) = (5.0, 60.0);

/// How the output of a gate is driven. Without it there is no gate, and the output is never driven.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GateSettings {
    /// The level that moves the gate out of its resting position.
    pub moves_high: bool,
    /// From the reading of a tag to the move, ms.
    pub delay_ms: u16,
    /// How long the output keeps that level, ms.
    pub pulse_ms: u16,
    /// From one move on, how long no other is made, ms.
    pub hold_ms: u32,
    /// The host may be silent for so long, s; then the gate rests.
    pub silence_s: u16,
    /// Load on the first two plates together beyond which the gate never moves.
    pub first_kg: Kilograms,
}

impl GateSettings {
    /// Whether a gate can be driven so.
    #[must_use]
    pub fn valid(&self) -> bool {
        self.delay_ms <= MAX_DELAY_MS
            && (PULSE_MS.0..=PULSE_MS.1).contains(&self.pulse_ms)
            && (u32::from(self.pulse_ms)..=MAX_HOLD_MS).contains(&self.hold_ms)
            && (SILENCE_S.0..=SILENCE_S.1).contains(&self.silence_s)
            && (FIRST_KG.0..=FIRST_KG.1).contains(&self.first_kg.0)
    }
}

/// A part of a list of cows to hold back. The parts come in order; with the last the list takes the place of the one
/// before, and is in force once it is confirmed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HoldList {
    /// Names the list; never 0, and never given twice.
    pub list: u32,
    /// This part, from 0.
    pub part: u8,
    /// How many parts there are.
    pub parts: u8,
    /// Cows held at most.
    pub most: u8,
    /// Their tags.
    pub codes: Vec<AnimalCode, MAX_HELD_A_PART>,
}

/// The list that lies in the device is to be in force from now on; said again each minute.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ConfirmList {
    /// The list.
    pub list: u32,
    /// The host's clock, ms since the Unix epoch, UTC.
    pub now_utc_ms: i64,
    /// When it is over, by the same clock.
    pub until_utc_ms: i64,
}

/// What came of a listed cow at the gate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum GateOutcome {
    /// The gate was moved for her.
    Held,
    /// She had been held by this list before.
    HeldBefore,
    /// As many as the list allows were held.
    Enough,
    /// Nobody has confirmed the list since the device started.
    NotConfirmed,
    /// The list is over.
    Over,
    /// The host has been silent for too long.
    HostSilent,
    /// The host's clock and the device's no longer agree.
    ClockUnsure,
    /// The tag reader had given nothing for several passages.
    ReaderSilent,
    /// Another tag was read between hers and the move.
    NameUnsure,
    /// More than one animal was on the plates.
    TwoOnDeck,
    /// Somebody stood on the first plates.
    FirstPlates,
    /// The plates read nothing, or not surely.
    PlatesUnsure,
    /// The gate was still moved for the cow before.
    Busy,
    /// The stop input was open.
    Stopped,
    /// It could not be written down, so it was not done.
    NotKept,
}

/// A listed cow was read: kept until acknowledged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GateEvent {
    /// Its name in the journal.
    pub key: ItemKey,
    /// When, on the device's clock.
    pub time: Milliseconds,
    /// Her tag.
    pub code: AnimalCode,
    /// What came of it.
    pub outcome: GateOutcome,
}

/// What the device has been told of the gate and of the cows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LaneOrders {
    /// How the gate is driven; none where there is no gate.
    pub gate: Option<GateSettings>,
    /// The list that lies in the device whole; 0 for none.
    pub list: u32,
    /// Cows on it.
    pub listed: u8,
    /// Cows of it that were held.
    pub held: u8,
    /// Whether it is in force.
    pub in_force: bool,
    /// The table of cows that lies in the device whole; 0 for none.
    pub table: u32,
    /// The table that is coming in; 0 for none.
    pub coming: u32,
    /// Its next row.
    pub next_row: u16,
}

// One bit a cow in a word, and a page of flash for the list.
const _: () = assert!(MAX_HELD <= 64);

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: GateSettings = GateSettings {
        moves_high: true,
        delay_ms: 500,
        pulse_ms: 300,
        hold_ms: 4_000,
        silence_s: 300,
        first_kg: Kilograms(20.0),
    };

    #[test]
    fn each_setting_of_a_gate_has_its_bounds() {
        let valid = |change: &dyn Fn(&mut GateSettings)| {
            let mut gate = GOOD;
            change(&mut gate);
            gate.valid()
        };
        assert!(GOOD.valid());
        for (delay, good) in [(0, true), (60_000, true), (60_001, false)] {
            assert_eq!(valid(&|gate| gate.delay_ms = delay), good, "{delay}");
        }
        for (pulse, good) in [(49, false), (50, true), (10_000, true), (10_001, false)] {
            let long = |gate: &mut GateSettings| (gate.pulse_ms, gate.hold_ms) = (pulse, 120_000);
            assert_eq!(valid(&long), good, "{pulse}");
        }
        for (hold, good) in [(299, false), (300, true), (120_000, true), (120_001, false)] {
            assert_eq!(valid(&|gate| gate.hold_ms = hold), good, "{hold}");
        }
        for (silence, good) in [(89, false), (90, true), (3_600, true), (3_601, false)] {
            assert_eq!(valid(&|gate| gate.silence_s = silence), good, "{silence}");
        }
        for (kg, good) in [(4.9, false), (5.0, true), (60.0, true), (60.1, false), (f32::NAN, false)] {
            assert_eq!(valid(&|gate| gate.first_kg = Kilograms(kg)), good, "{kg}");
        }
    }
}
