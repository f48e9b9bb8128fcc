//! The person at the plates: asked for one thing after the other.

use crate::report::notes;
use crate::report::words::Words;
use anyhow::Context;
use std::io::Write;

/// What a person answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// It is done.
    Done,
    /// Leave this one out.
    Skip,
    /// Give up.
    Stop,
}

/// Somebody at the plates.
pub trait Person {
    /// Asks for something to be done.
    ///
    /// # Errors
    /// Where nobody can be asked.
    fn please(&mut self, what: &str) -> anyhow::Result<Answer>;

    /// Tells something.
    fn tell(&mut self, what: &str);
}

/// The person at this terminal.
pub struct Terminal<'w>(pub &'w Words);

impl Person for Terminal<'_> {
    fn please(&mut self, what: &str) -> anyhow::Result<Answer> {
        let chosen = dialoguer::Select::new()
            .with_prompt(what)
            .items(["done", "skip", "stop"].map(|answer| self.0.text(&format!("step-answer-{answer}"))))
            .default(0)
            .interact()
            .context("nobody answers")?;
        Ok([Answer::Done, Answer::Skip, Answer::Stop][chosen])
    }

    fn tell(&mut self, what: &str) {
        // A closed terminal is told nothing.
        let _ = writeln!(notes(), "{what}");
    }
}
