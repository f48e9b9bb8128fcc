//! One cow, for whoever stands beside her.

pub mod card;
pub mod card_text;

pub use card::{Card, CardInput};
