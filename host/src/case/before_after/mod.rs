//! The same cow before and after a trim.

pub mod compare;
#[cfg(test)]
mod figures;
pub mod follow;
pub mod kalman;
pub mod learn;
pub mod lost;
pub mod model;
pub mod series;
#[cfg(test)]
pub(crate) mod simulate;
pub mod verdict;
