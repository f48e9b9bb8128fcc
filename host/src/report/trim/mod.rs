//! The trimmer's views as printed.

pub mod case_line;
pub mod compare;
pub mod rechecks;
pub mod visit_sheet;
