//! Electronic ear tags: the code of ISO 11784, the telegram of ISO 11785, and the lines readers print.

pub mod code;
pub mod line;
pub mod telegram;

pub use code::{AnimalCode, CodeError};
pub use line::{LineError, ReaderLine, parse_line};
pub use telegram::{Telegram, TelegramError};

/// A tag names a passage when it was read up to this long before the first foot, ms. Our choice: two cow lengths at a walk,
/// with room for a cow that hesitates.
pub const REACH_MS: u64 = 10_000;
/// A second tag that fits as well but for this, ms, leaves a passage without a name. Our choice.
pub const UNSURE_MS: u64 = 2_000;

#[cfg(test)]
mod tests;
