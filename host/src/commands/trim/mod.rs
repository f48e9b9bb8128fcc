//! The trimmer's day.

pub mod case;
pub mod compare;
pub mod outcomes;
pub mod recheck;
pub mod visit;
