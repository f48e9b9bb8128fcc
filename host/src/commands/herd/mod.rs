//! The herd this morning.

pub mod cow;
pub mod evaluate;
pub mod list;
pub mod mark;
pub mod serve;
pub mod tell;
