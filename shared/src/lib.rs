//! What the lane device and the host agree on.
//!
//! No allocation, no clock, no input or output: the same code runs on a Cortex-M and on the host, and gives
//! the same bytes. Modules may look only downwards: [`wire`] -> [`lane_score`] -> [`identity`], [`analysis`] -> [`units`],
//! [`plate`], [`limits`].
#![no_std]

#[cfg(test)]
extern crate std;

pub mod analysis;
pub mod identity;
pub mod lane_score;
pub mod limits;
pub mod plate;
pub mod units;
pub mod wire;
