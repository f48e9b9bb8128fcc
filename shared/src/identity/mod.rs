//! Electronic ear tags: the code of ISO 11784, the telegram of ISO 11785, and the lines readers print.

pub mod code;

pub use code::{AnimalCode, CodeError};
