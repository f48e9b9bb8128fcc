//! What people write down: the herd register, scores, trims; and ear tag reads.

pub mod ade;
pub mod follow_ups;
pub mod herd;
pub mod registers;
pub mod trims;
mod who;
