//! What the model is shown of one day: passages, the lane's own error, people's work.

pub mod anchor;
pub mod charts;
pub mod foot_work;
pub mod identity;
pub mod index;
pub mod lane;
pub mod plates;
