//! One comparison of a device's clock with UTC.

/// The best point of each such time is kept, ms; our choice: 360 a day, and a new boot is sure of its time to 50 ms
/// from the first point on.
const BUCKET_MS: f64 = 240_000.0;

/// One comparison of the two clocks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockPoint {
    /// The device's clock, ms since its boot.
    pub device_ms: f64,
    /// UTC, ms since the Unix epoch.
    pub utc_ms: f64,
    /// By how much they may be off, either way, ms.
    pub error_ms: f64,
}

impl ClockPoint {
    /// The stretch of time in which only the best point is kept.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "a float cast saturates")]
    pub fn bucket(&self) -> i64 {
        (self.device_ms / BUCKET_MS).floor() as i64
    }
}
