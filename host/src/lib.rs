//! fourplate on the host: sources, store, score, case, reports.

pub mod case;
pub mod cli;
pub mod commands;
pub mod evaluate;
pub mod exit_code;
pub mod herd;
<<<<<<< HEAD
pub mod import;
=======
pub mod list;
>>>>>>> 531bf1a (Add the evaluation statistics and the morning list as data and text)
pub mod report;
pub mod store;
