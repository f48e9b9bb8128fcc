//! Readings in counts, on request: for setting up a lane and for finding faults.

use crate::load_cells::Sample as Counts;
use heapless::Vec;
use shared::plate::PerPlate;
use shared::{
    limits::MAX_TRACE_DATA_BYTES,
    units::Milliseconds,
    wire::{RawReadings, Sample, TraceEncoder, trace::MAX_SAMPLE_BYTES},
};

/// A stream while it is wanted. What the link cannot take in time is left out; the index tells.
#[derive(Default)]
pub struct RawStream {
    until: Option<Milliseconds>,
    index: u32,
    encoder: TraceEncoder,
    data: Vec<u8, MAX_TRACE_DATA_BYTES>,
    full: bool,
}

impl RawStream {
    /// Streams from now for some seconds; zero stops.
    #[inline(never)]
    pub fn start(&mut self, now: Milliseconds, seconds: u16) {
        *self = Self::default();
        self.until = Some(Milliseconds(now.0 + 1_000 * u64::from(seconds)));
    }

    /// Takes a sample.
    pub fn push(&mut self, time: Milliseconds, sample: &Counts) {
        let Some(until) = self.until else { return };
        if time >= until {
            self.until = None;
            self.full = !self.data.is_empty();
            return;
        }
        if self.full {
            // The link is behind: begin a new message.
            (self.encoder, self.full) = (TraceEncoder::new(), false);
            self.data.clear();
            self.index = self.index.wrapping_add(1);
        }
        let mut bytes = [0; MAX_SAMPLE_BYTES];
        let values = PerPlate(sample.counts.0.map(|count| count.0));
        if let Some(length) = self.encoder.push(&Sample { time, values }, &mut bytes) {
            let _ = self.data.extend_from_slice(bytes.get(..length).unwrap_or_default());
        }
        self.full = self.data.len() + MAX_SAMPLE_BYTES > self.data.capacity();
    }

    /// A message that is full, once.
    pub fn take(&mut self, boot: u32) -> Option<RawReadings> {
        if !self.full {
            return None;
        }
        let index = self.index;
        (self.encoder, self.full) = (TraceEncoder::new(), false);
        self.index = index.wrapping_add(1);
        Some(RawReadings { boot, index, data: core::mem::take(&mut self.data) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_streamed_up_to_the_last_before_the_end_and_none_for_zero_seconds() {
        let reading = Counts::default();
        let mut raw = RawStream::default();
        // What was begun ends with a message that is not full; what is stopped gives none.
        for (seconds, messages) in [(1, 1), (0, 0)] {
            raw.start(Milliseconds(500), seconds);
            raw.push(Milliseconds(500), &reading);
            raw.push(Milliseconds(1_499), &reading);
            assert_eq!(raw.take(1), None);
            raw.push(Milliseconds(1_500), &reading);
            let said = raw.take(1);
            let samples = said.iter().map(|said| shared::wire::TraceDecoder::new(&said.data).count());
            assert_eq!(samples.collect::<std::vec::Vec<_>>(), std::vec![2; messages]);
        }
    }
}
