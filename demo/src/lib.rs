//! An invented herd and its truth.
//!
//! Everything follows from one seed; nothing looks at the clock. The truth comes from the mechanics in here and
//! never from the analysis of the lane.

pub mod bearing;
pub mod capture;
pub mod course;
pub mod cow;
pub mod crossing;
pub mod files;
pub mod gait;
pub mod herd;
pub mod lane;
pub mod measured;
pub mod observer;
pub mod passages;
pub mod plates;
pub mod played;
pub mod random;
pub mod standing;
pub mod stories;
