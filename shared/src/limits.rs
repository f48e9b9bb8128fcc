//! Every bound that both sides keep.

/// Slowest reading rate the analysis takes, Hz.
pub const MIN_RATE_HZ: f32 = 20.0;
/// Fastest reading rate the analysis takes, Hz.
pub const MAX_RATE_HZ: f32 = 1000.0;
/// Largest passage summary on the wire, bytes, frame included.
pub const MAX_SUMMARY_BYTES: usize = 256;
