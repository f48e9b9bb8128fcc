//! The trace of a passage: readings averaged down to 50 Hz, cut into chunks.

use heapless::Vec;
use shared::{
    limits::MAX_TRACE_DATA_BYTES,
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
    wire::{Sample, TraceEncoder, trace::MAX_SAMPLE_BYTES},
};

/// Rate of a trace, Hz (our choice: a cow's movements and the deck's ringing lie below 15 Hz).
pub const TRACE_HZ: u16 = 50;

/// Data of one chunk.
pub type Chunk = Vec<u8, MAX_TRACE_DATA_BYTES>;

/// Records one passage after the other.
pub struct Recorder {
    each: u16,
    gathered: u16,
    sum: PerPlate<f32>,
    encoder: TraceEncoder,
    data: Chunk,
}

impl Recorder {
    /// A recorder for readings at a rate, Hz.
    #[must_use]
    pub fn new(rate_hz: u16) -> Self {
        Self {
            each: ((rate_hz + TRACE_HZ / 2) / TRACE_HZ).max(1),
            gathered: 0,
            sum: PerPlate::default(),
            encoder: TraceEncoder::new(),
            data: Vec::new(),
        }
    }

    /// Takes a reading; true when the chunk is full and must be taken.
    pub fn push(&mut self, time: Milliseconds, loads: &PerPlate<Kilograms>) -> bool {
        for (sum, load) in self.sum.0.iter_mut().zip(loads.0) {
            *sum += load.0;
        }
        self.gathered += 1;
        if self.gathered < self.each {
            return false;
        }
        let count = f32::from(self.gathered);
        let mean = PerPlate(self.sum.0.map(|sum| Kilograms(sum / count)));
        (self.gathered, self.sum) = (0, PerPlate::default());
        self.write(&Sample::of_loads(time, &mean));
        self.data.len() + MAX_SAMPLE_BYTES > self.data.capacity()
    }

    /// Ends a passage; true when something of it is left to be taken.
    pub fn end(&mut self) -> bool {
        (self.gathered, self.sum) = (0, PerPlate::default());
        !self.data.is_empty()
    }

    fn write(&mut self, sample: &Sample) {
        let mut bytes = [0; MAX_SAMPLE_BYTES];
        if let Some(length) = self.encoder.push(sample, &mut bytes) {
            let _ = self.data.extend_from_slice(bytes.get(..length).unwrap_or_default());
        }
    }

    /// The chunk so far. The next is a stream of its own: one that is lost takes no other with it.
    pub fn take(&mut self) -> Chunk {
        self.encoder = TraceEncoder::new();
        core::mem::take(&mut self.data)
    }
}
