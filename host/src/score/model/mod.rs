//! The model of one cow: what may be wrong, what would then be seen, and how it goes on from day to day.

pub mod baseline;
pub mod chain;
pub mod cow;
pub mod features;
pub mod hypotheses;
pub mod level;
pub mod noise;
pub mod observer;
pub mod prior;
pub mod rates;
pub mod ways;
