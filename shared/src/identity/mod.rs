//! Electronic ear tags: the code of ISO 11784, the telegram of ISO 11785, and the lines readers print.

pub mod code;
pub mod line;
pub mod telegram;

pub use code::{AnimalCode, CodeError};
pub use line::{LineError, ReaderLine, parse_line};
pub use telegram::{Telegram, TelegramError};

#[cfg(test)]
mod tests;
