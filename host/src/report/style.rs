//! The few styles of text output.

use crate::record::Flag;
use anstyle::{AnsiColor, Style};
use std::fmt::Display;

/// Headings.
pub const STRONG: Style = Style::new().bold();
/// What matters less.
pub const FAINT: Style = Style::new().dimmed();
/// Something is wrong.
pub const BAD: Style = AnsiColor::Red.on_default().bold();
/// Something to look at.
pub const CAUTION: Style = AnsiColor::Yellow.on_default();
/// All well.
pub const GOOD: Style = AnsiColor::Green.on_default();

/// The style of a flag.
#[must_use]
pub const fn flag(flag: Flag) -> Style {
    match flag {
        Flag::Urgent => BAD,
        Flag::Check => CAUTION.bold(),
        Flag::Watch => CAUTION,
        Flag::Clear => GOOD,
        Flag::CannotTell | Flag::NoData => FAINT,
    }
}

/// Text in a style; [`crate::report::out`] drops the style where it does not belong.
#[must_use]
pub fn paint(style: Style, text: impl Display) -> String {
    format!("{style}{text}{style:#}")
}
