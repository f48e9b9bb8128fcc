//! One cow, for whoever stands beside her.

pub mod card;
pub mod card_text;
pub mod trace;

pub use card::{Card, CardDay, CardInput};
