//! The trimmer's case: how the foot fared since, when to look again, and what became of many.

pub mod before_after;
pub mod book;
pub mod outcomes;
pub mod rechecks;
