//! How the device is: what is counted, and the message made of it.

use crate::load_cells::{Monitor, Sample};
use shared::{
    plate::{PerPlate, Plate},
    units::{Kilograms, Milliseconds},
    wire::{Health, PlateState, ResetCause},
};

/// Time between health messages, ms (our choice).
pub const HEALTH_EVERY_MS: u64 = 60_000;

/// What only the board can measure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Vitals {
    /// Supply, mV.
    pub supply_mv: Option<u16>,
    /// Temperature, 0.1 degree Celsius.
    pub temperature_dc: Option<i16>,
    /// Deepest stack use seen, bytes.
    pub stack_high_water: u16,
}

/// What the journal says of itself.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct JournalState {
    /// Space in use, %.
    pub fill_pct: u8,
    /// Items waiting.
    pub waiting: u32,
    /// Trace chunks given up.
    pub traces_dropped: u32,
    /// Passages and tags given up.
    pub records_dropped: u32,
}

/// What is counted between boots.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counters {
    /// Lines of the tag reader that made no sense.
    pub bad_tag_lines: u32,
    /// Items that the journal could not write.
    pub not_kept: u32,
}

/// The state of each plate's cells and converter.
#[must_use]
pub fn plate_states(monitor: &Monitor, silent: bool, last: &Sample) -> PerPlate<PlateState> {
    let (stuck, saturated) = (monitor.stuck(), last.saturated());
    let mut states = PerPlate::default();
    for plate in Plate::ALL {
        states[plate] = if silent {
            PlateState::Silent
        } else if saturated[plate] {
            PlateState::Saturated
        } else if stuck[plate] {
            PlateState::Stuck
        } else {
            PlateState::Good
        };
    }
    states
}

/// Everything the message is made of.
pub struct Report {
    /// This boot.
    pub boot: u32,
    /// Time since boot.
    pub uptime: Milliseconds,
    /// Why it booted.
    pub reset: ResetCause,
    /// From the board.
    pub vitals: Vitals,
    /// Counted.
    pub counters: Counters,
    /// Readings due but not had.
    pub lost_readings: u32,
    /// Broken frames of the host.
    pub dropped_frames: u32,
    /// From the journal.
    pub journal: JournalState,
    /// Tracked zero against the calibration.
    pub zero: PerPlate<Kilograms>,
    /// SD of the empty plates.
    pub noise: PerPlate<Kilograms>,
    /// State of each plate.
    pub plates: PerPlate<PlateState>,
}

impl Report {
    /// The message.
    #[must_use]
    pub fn message(self) -> Health {
        Health {
            boot: self.boot,
            uptime: self.uptime,
            reset: self.reset,
            supply_mv: self.vitals.supply_mv,
            temperature_dc: self.vitals.temperature_dc,
            lost_readings: self.lost_readings,
            dropped_frames: self.dropped_frames,
            bad_tag_lines: self.counters.bad_tag_lines,
            stack_high_water: self.vitals.stack_high_water,
            journal_fill_pct: self.journal.fill_pct,
            journal_waiting: self.journal.waiting,
            traces_dropped: self.journal.traces_dropped,
            passages_dropped: self.journal.records_dropped.saturating_add(self.counters.not_kept),
            zero: self.zero,
            noise: self.noise,
            plates: self.plates,
        }
    }
}
