//! The trimmer's views as printed.

pub mod compare;
pub mod rechecks;
