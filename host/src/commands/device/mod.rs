//! At the lane.

pub mod lane;
pub mod listen;
pub mod port;
