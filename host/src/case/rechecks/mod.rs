//! When to look at a treated foot again.

pub mod due;
pub mod recheck;
pub mod wear;
