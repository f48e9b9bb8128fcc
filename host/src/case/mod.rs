//! The trimmer's case: what was found and done, how the foot fared since, and when to look again.

pub mod block;
pub mod check;
pub mod field;
pub mod history;
pub mod lesion;
pub mod record;
pub mod zone;
