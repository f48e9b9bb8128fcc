//! Helpers of the workspace-level tests.

pub mod joint;
