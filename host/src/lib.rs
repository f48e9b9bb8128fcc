//! fourplate on the host: sources, store, score, case, reports.

pub mod case;
pub mod cli;
pub mod commands;
pub mod evaluate;
pub mod exit_code;
pub mod export;
pub mod herd;
pub mod identity;
pub mod import;
pub mod lane;
pub mod link;
pub mod list;
pub mod report;
pub mod score;
pub mod spectrum;
pub mod statistics;
pub mod store;
pub mod web;
