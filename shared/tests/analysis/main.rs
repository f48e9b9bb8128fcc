//! The analysis of plate readings, from outside.
#![allow(missing_docs)]

mod calibration;
mod errors;
mod filter;
mod golden;
mod measures;
mod passages;
mod prints;
mod quality;
mod robust;
mod segmentation;
mod support;
mod zero;
