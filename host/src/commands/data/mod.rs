//! Bringing data in and out.

pub mod export;
pub mod farm;
pub mod import;
pub mod rescore;
