//! What users ask over many farms: each a plan of the engine over rows of farms, and what is worked out from its few sums.

pub mod benchmark;
pub mod lanes;
pub mod learn;
pub mod lists;
pub mod moved;
pub mod outcomes;
mod sums;

use datafusion::prelude::SessionContext;

/// Days of the window that is looked at: four weeks, so that every weekday counts alike. Our choice.
pub const WINDOW_DAYS: i32 = 28;

/// What is asked: a session that knows the tables of these farms.
pub struct Asked {
    /// The session.
    pub session: SessionContext,
}
