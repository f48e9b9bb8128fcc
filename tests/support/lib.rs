//! Helpers of the workspace-level tests.

pub mod browser;
pub mod cow_rows;
pub mod emulator;
pub mod hard_world;
pub mod image;
pub mod imports;
pub mod joint;
pub mod peer;
pub mod program;
pub mod recording;
pub mod served;
pub mod simulated_case;
pub mod simulated_herd;
