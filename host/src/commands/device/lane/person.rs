//! The person at the plates: asked for one thing after the other.

use crate::report::notes;
use crate::report::words::Words;
use anyhow::Context;
use std::io::Write;

/// What a person answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StepAnswer {
    /// It is done.
    Done,
    /// Leave this one out.
    Skip,
    /// Give up.
    Stop,
}

/// Somebody at the plates.
pub trait AtThePlates {
    /// Asks for something to be done.
    ///
    /// # Errors
    /// Where nobody can be asked.
    fn please(&mut self, what: &str) -> anyhow::Result<StepAnswer>;

    /// Tells something.
    fn tell(&mut self, what: &str);
}

/// The person at this terminal.
pub struct Terminal<'w>(pub &'w Words);

impl AtThePlates for Terminal<'_> {
    fn please(&mut self, what: &str) -> anyhow::Result<StepAnswer> {
        let chosen = dialoguer::Select::new()
            .with_prompt(what)
            .items(["done", "skip", "stop"].map(|answer| self.0.text(&format!("step-answer-{answer}"))))
            .default(0)
            .interact()
            .context("nobody answers")?;
        Ok([StepAnswer::Done, StepAnswer::Skip, StepAnswer::Stop][chosen])
    }

    fn tell(&mut self, what: &str) {
        // A closed terminal is told nothing.
        let _ = writeln!(notes(), "{what}");
    }
}
