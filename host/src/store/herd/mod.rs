//! The animals: the register and scores, what they are called, the marks on them, and the tag reads that name passages.

mod marks;
mod names;
mod register;
mod tags;

pub use names::Meanings;
pub use tags::{Assignment, Candidate, Pattern, ReaderOffset, TagRead};
