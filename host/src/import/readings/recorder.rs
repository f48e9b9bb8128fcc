//! Readings in, passages with their traces out.

use crate::store::NewPassage;
use jiff::Timestamp;
use shared::{
    analysis::{Analyser, PassageSummary, Reading},
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
    wire::trace::{MAX_SAMPLE_BYTES, Sample, TraceEncoder},
};
use std::collections::VecDeque;

/// Kept while nobody is known to be on, ms: longer than the analysis looks back. Our choice.
const LEAD_MS: u64 = 2000;
/// The trace begins this long before the first foot and ends this long after the last, ms. Our choice: shows the
/// zero on both sides.
const MARGIN_MS: u64 = 300;

/// A passage that has ended, with its trace in the message format.
pub type Recorded = (PassageSummary, Vec<u8>);

/// Runs the analysis and keeps the samples of the passage that is on.
#[derive(Clone, Debug)]
pub struct PassageRecorder {
    analyser: Analyser,
    samples: VecDeque<(Milliseconds, PerPlate<Kilograms>)>,
    /// Passages that have ended.
    pub passages: Vec<Recorded>,
}

impl PassageRecorder {
    /// A recorder for readings at a rate, Hz.
    #[must_use]
    pub fn new(rate_hz: f32) -> Self {
        Self { analyser: Analyser::new(rate_hz), samples: VecDeque::new(), passages: Vec::new() }
    }

    /// Takes a reading.
    #[inline]
    pub fn push(&mut self, reading: &Reading) {
        let step = self.analyser.push(reading);
        if let Some(summary) = self.analyser.ended().copied() {
            self.end(summary);
        }
        self.samples.push_back((reading.time, step.loads));
        if !step.occupied {
            let old =
                |first: &(Milliseconds, _)| first.0 > reading.time || reading.time.since(first.0).0 > LEAD_MS;
            while self.samples.front().is_some_and(old) {
                self.samples.pop_front();
            }
        }
    }

    /// The readings have ended.
    pub fn finish(&mut self) {
        if let Some(summary) = self.analyser.finish().copied() {
            self.end(summary);
        }
    }

    fn end(&mut self, summary: PassageSummary) {
        let from = summary.start.0.saturating_sub(MARGIN_MS);
        let to = summary.start.0 + summary.duration.0 + MARGIN_MS;
        let mut encoder = TraceEncoder::new();
        let mut trace = Vec::with_capacity(self.samples.len() * 8);
        let mut bytes = [0; MAX_SAMPLE_BYTES];
        for (time, loads) in self.samples.iter().filter(|(time, _)| (from..=to).contains(&time.0)) {
            let length = encoder.push(&Sample::of_loads(*time, loads), &mut bytes).unwrap_or(0);
            trace.extend_from_slice(&bytes[..length]);
        }
        self.passages.push((summary, trace));
    }
}

/// A passage measured from readings whose clock is UTC.
#[must_use]
pub fn measured(lane: &str, summary: PassageSummary, trace: Vec<u8>) -> NewPassage {
    NewPassage {
        lane: lane.to_owned(),
        time: Timestamp::from_millisecond(summary.start.0.cast_signed()).unwrap_or_default(),
        animal: None,
        evidence: "no tag".to_owned(),
        summary,
        trace: Some(trace),
    }
}
