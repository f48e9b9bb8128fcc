//! What became of many treated feet.

pub mod group;
pub mod mixed;
pub mod outcome;
pub mod paired;
pub mod survival;
