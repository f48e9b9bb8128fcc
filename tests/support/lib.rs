//! Helpers of the workspace-level tests.
