//! What lies on the plates of a played milking, as a device streams it on request.

use shared::limits::MAX_TRACE_DATA_BYTES;
use shared::plate::PerPlate;
use shared::units::{Counts, Milliseconds};
use shared::wire::trace::MAX_SAMPLE_BYTES;
use shared::wire::{RawReadings, Sample, Settings, TraceEncoder};

/// Counts of a kilogram on each plate.
const COUNTS_A_KG: f64 = 1_000.0;
/// A reading holds for this long, ms; after it the plates are empty.
const HOLDS_MS: u64 = 50;

/// The readings of a milking, and how far they have been streamed.
#[derive(Debug, Default)]
pub struct Weighed {
    readings: Vec<(u64, PerPlate<f64>)>,
    next: u64,
    until: u64,
    index: u32,
}

impl Weighed {
    /// Takes a reading, in order of time, ms after the device's start.
    pub fn push(&mut self, at: u64, loads: PerPlate<f64>) {
        self.readings.push((at, loads));
    }

    /// Streams from now for some seconds; zero stops.
    pub fn start(&mut self, now: u64, seconds: u16) {
        (self.next, self.until, self.index) = (now, now + 1_000 * u64::from(seconds), 0);
    }

    fn counts(&self, at: u64) -> PerPlate<i32> {
        let after = self.readings.partition_point(|(time, _)| *time <= at);
        let held = after.checked_sub(1).and_then(|last| self.readings.get(last));
        let loads =
            held.filter(|(time, _)| at - time < HOLDS_MS).map_or(PerPlate([0.0; 4]), |(_, loads)| *loads);
        PerPlate(loads.0.map(|load| (load * COUNTS_A_KG).round() as i32))
    }

    /// What is due by now: only full messages, and the rest when the time is over.
    pub fn due(&mut self, now: u64, step_ms: u64) -> Vec<RawReadings> {
        let mut messages = Vec::new();
        let (mut encoder, mut data, mut from) =
            (TraceEncoder::new(), heapless::Vec::<u8, MAX_TRACE_DATA_BYTES>::new(), self.next);
        while self.next < self.until && self.next <= now {
            let mut bytes = [0; MAX_SAMPLE_BYTES];
            let sample = Sample { time: Milliseconds(self.next), values: self.counts(self.next) };
            let length = encoder.push(&sample, &mut bytes).unwrap_or_default();
            let _ = data.extend_from_slice(&bytes[..length]);
            self.next += step_ms;
            if data.len() + MAX_SAMPLE_BYTES > data.capacity() || self.next >= self.until {
                messages.push(RawReadings { boot: 1, index: self.index, data: std::mem::take(&mut data) });
                (encoder, from, self.index) = (TraceEncoder::new(), self.next, self.index + 1);
            }
        }
        // What does not fill a message is read again with the next.
        self.next = from;
        messages
    }
}

/// The settings of the invented lane.
#[must_use]
pub fn settings(rate_hz: u16) -> Settings {
    let mut kg_per_count = [[0.0; 4]; 4];
    for (plate, row) in kg_per_count.iter_mut().enumerate() {
        row[plate] = (1.0 / COUNTS_A_KG) as f32;
    }
    let zero = PerPlate([Counts(0); 4]);
    Settings { rate_hz, zero, kg_per_count, name: heapless::String::try_from("exit").unwrap_or_default() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shared::wire::TraceDecoder;

    #[test]
    fn what_was_weighed_is_streamed_once_and_in_order() {
        let mut weighed = Weighed::default();
        weighed.push(1_000, PerPlate([100.0, 0.0, 0.0, 0.5]));
        weighed.start(980, 1);
        let mut samples = Vec::new();
        for now in (980..2_500).step_by(20) {
            for message in weighed.due(now, 10) {
                samples.extend(TraceDecoder::new(&message.data).map(Result::unwrap));
            }
        }
        let times: Vec<u64> = samples.iter().map(|sample| sample.time.0).collect();
        assert_eq!(times, (980..1_980).step_by(10).collect::<Vec<_>>());
        let loaded = |sample: &&Sample| sample.values.0 == [100_000, 0, 0, 500];
        let times: Vec<u64> = samples.iter().filter(loaded).map(|sample| sample.time.0).collect();
        assert_eq!(times, [1_000, 1_010, 1_020, 1_030, 1_040], "then the plates are empty");
        assert!(weighed.due(9_000, 10).is_empty(), "the time is over");
    }
}
