//! Milkings of an invented herd, as readings and as what a device sends.

use demo::capture::{CaptureSink, Two};
use demo::files::{CsvSink, write_readings};
use demo::herd::{Herd, Settings};
use std::sync::LazyLock;

/// Cows: two milkings of theirs are some 300,000 readings.
const COWS: u32 = 80;

/// One day of the herd.
pub struct Day {
    /// Readings as CSV.
    pub readings: Vec<u8>,
    /// The same as a device's capture, of raw readings and tags.
    pub capture: Vec<u8>,
}

/// The day that all benchmarks use.
pub static DAY: LazyLock<Day> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a folder");
    let settings = Settings::new(COWS, 1, 1);
    let mut capture = CaptureSink::create(folder.path(), &settings).expect("a file");
    let mut csv = CsvSink::create(folder.path()).expect("a file");
    let mut two = Two { first: &mut capture, second: &mut csv, from: None };
    write_readings(Herd::new(settings), folder.path(), &mut two, |_, _, _| None).expect("written");
    capture.finish().and_then(|()| csv.finish()).expect("written");
    let read = |name: &str| std::fs::read(folder.path().join(name)).expect("just written");
    Day { readings: read("readings.csv"), capture: read("lane.capture") }
});
