//! A converter that fails when told to.

use super::Deck;
use crate::load_cells::{LoadCells, Sample};
use std::{cell::Cell, rc::Rc};

/// A converter over a [`Deck`], by a clock that the test turns.
#[derive(Debug)]
pub struct FakeCells {
    /// What lies on the plates.
    pub deck: Deck,
    clock: Rc<Cell<u64>>,
    period_ms: u64,
    due: u64,
    /// Gives nothing until it is restarted so many times.
    pub mute: u32,
    /// Every poll fails.
    pub failing: bool,
    /// How often it was restarted.
    pub restarts: u32,
}

/// What the wires of a [`FakeCells`] do wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BadWire;

impl FakeCells {
    /// A converter with a sample each period, ms.
    #[must_use]
    pub const fn new(deck: Deck, clock: Rc<Cell<u64>>, period_ms: u64) -> Self {
        Self { deck, clock, period_ms, due: 0, mute: 0, failing: false, restarts: 0 }
    }
}

impl LoadCells for FakeCells {
    type Error = BadWire;

    fn poll(&mut self) -> Result<Option<Sample>, BadWire> {
        let now = self.clock.get();
        if self.failing {
            return Err(BadWire);
        }
        if self.mute > 0 || now < self.due {
            return Ok(None);
        }
        self.due = now + self.period_ms;
        Ok(Some(self.deck.sample(now)))
    }

    fn restart(&mut self) -> Result<(), BadWire> {
        self.restarts += 1;
        self.mute = self.mute.saturating_sub(1);
        if self.failing { Err(BadWire) } else { Ok(()) }
    }
}
