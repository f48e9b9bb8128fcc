//! The same cow before and after a trim.

pub mod compare;
pub mod follow;
pub mod kalman;
pub mod learn;
pub mod lost;
pub mod model;
pub mod series;
pub mod verdict;
