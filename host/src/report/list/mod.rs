//! The morning list, and one cow's card: what people read.

pub mod marks;
pub mod morning;
pub mod page;
pub mod rank;
pub mod seen;
pub mod text;
pub mod trend;

pub use morning::{ListSection, Listed, Morning, MorningInput};
