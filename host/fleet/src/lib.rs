//! Many farms: a data set that they share, scored and asked on one machine or on a cluster.

pub mod carry;
pub mod cluster;
pub mod command;
pub mod dataset;
pub mod functions;
pub mod place;
pub mod questions;
pub mod rows;
pub mod score;
pub mod session;
pub mod stores;
