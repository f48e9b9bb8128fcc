//! Day after day: the engine, each cow's course, and what is said of it.

pub mod engine;
pub mod flag;
mod herd;
pub mod history;
pub mod lane_table;
pub mod price;
pub mod reasons;
mod steps;
pub mod swapped;
pub mod track;
