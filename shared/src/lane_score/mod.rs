//! What can be said of a cow by one passage as she leaves: her measures against her own usual values, on the device and on
//! the host alike, in f32 and to the same bytes. The day's list, which knows more, stays the authority.
//!
//! The states and their effects are those of the score (`host/METHODS.md`); the host takes them from here.

pub mod judge;
pub mod measures;
pub mod states;
pub mod table;

pub use judge::{Judgement, judge, ladder};
pub use measures::{CLASSES, Class, MEASURES, Measures};
pub use states::{LEVELS, PLACES, STATES};
pub use table::{CowRow, LaneFlag, OwnState, TABLE_VERSION, TableHead, likely};

#[cfg(test)]
mod tests;
