//! Arithmetic that knows nothing of cows: dates, statistics, intervals, spectra.

pub mod bootstrap;
pub mod dates;
pub mod proportion;
pub mod spectrum;
pub mod statistics;
