//! The trimmer's views as printed.

pub mod case_line;
pub mod case_shown;
pub mod compare;
pub mod outcomes;
pub mod rechecks;
pub mod visit_sheet;
