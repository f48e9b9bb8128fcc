//! How well the score does, as text and picture.

pub mod plot;
pub mod text;
