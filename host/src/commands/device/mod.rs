//! At the lane.

pub mod gate;
pub mod lane;
pub mod listen;
mod orders;
pub mod port;
