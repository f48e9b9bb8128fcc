//! The trimmer's case: what was found and done, how the foot fared since, and when to look again.

pub mod block;
pub mod book;
pub mod check;
pub mod compare;
pub mod due;
pub mod field;
pub mod follow;
pub mod group;
pub mod history;
pub mod kalman;
pub mod learn;
pub mod lesion;
pub mod lost;
pub mod mixed;
pub mod model;
pub mod outcomes;
pub mod paired;
pub mod proportion;
pub mod recheck;
pub mod record;
pub mod series;
pub mod survival;
pub mod verdict;
pub mod versions;
pub mod wear;
pub mod zone;

#[cfg(test)]
mod figures;
#[cfg(test)]
mod simulate;
