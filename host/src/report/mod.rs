//! What is said and shown: views of the store, and their text, pages and tables.

pub mod cow;
pub mod evaluation;
pub mod exchange;
pub mod farm;
pub mod gate;
#[cfg(test)]
pub mod invented;
pub mod lane;
pub mod list;
pub mod live;
pub mod output;
pub mod pages;
pub mod spark;
pub mod style;
pub mod text;
pub mod trim;
pub mod words;

pub use output::{Format, destination, notes, out};
