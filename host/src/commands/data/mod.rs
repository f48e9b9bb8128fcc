//! Bringing data in and out.

pub mod backup;
pub mod dataset;
pub mod export;
pub mod farm;
mod form;
pub mod import;
pub mod person;
pub mod rescore;
