//! The program itself.

pub mod completions;
pub mod manual;
