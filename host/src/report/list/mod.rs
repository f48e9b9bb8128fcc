//! The morning list, and one cow's card: what people read.

pub mod card;
pub mod card_text;
pub mod farm;
#[cfg(test)]
pub mod invented;
pub mod morning;
pub mod rank;
pub mod seen;
pub mod spark;
pub mod text;
pub mod trend;
pub mod words;

pub use card::{Card, CardInput};
pub use morning::{Listed, Morning, MorningInput, Section};
