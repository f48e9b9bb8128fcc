//! What other people's programs read: open exchange formats.

pub mod ade;
pub mod api;
pub mod calendar;
pub mod dataset;
pub mod records;
