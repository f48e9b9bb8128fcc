//! What the tests of several parts give a device.

use crate::scale::Moment;
use shared::{
    identity::AnimalCode,
    lane_score::{TABLE_VERSION, TableHead},
    units::{Kilograms, Milliseconds},
    wire::GateSettings,
};

/// A gate that can be driven.
pub const GATE: GateSettings = GateSettings {
    moves_high: true,
    delay_ms: 4_000,
    pulse_ms: 500,
    hold_ms: 15_000,
    silence_s: 120,
    first_kg: Kilograms(20.0),
};

/// The head of a table of so many cows.
#[must_use]
pub fn head(table: u32, rows: u16) -> TableHead {
    TableHead {
        version: TABLE_VERSION,
        table,
        rows,
        variance: [[9.0; 6]; 3],
        shift: [0.0; 6],
        shift_variance: [0.0; 6],
        scored: [0.0, 0.2, 0.9, 1.0, 1.0, 1.0],
        watch: [0.2, 0.1],
        check: [0.6, 0.4],
        weight: 0.8,
    }
}

/// A cow's tag.
///
/// # Panics
/// Where the number is too large for one.
#[must_use]
pub fn code(national: u64) -> AnimalCode {
    AnimalCode::new(999, national).expect("in range")
}

/// A time since boot by both clocks.
#[must_use]
pub const fn at(ms: u64) -> Moment {
    Moment { clock: Milliseconds(ms), timer: Milliseconds(ms) }
}
