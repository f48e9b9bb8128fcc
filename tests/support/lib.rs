//! Helpers of the workspace-level tests.

pub mod joint;
pub mod program;
pub mod served;
