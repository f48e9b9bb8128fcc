//! The analysis of plate readings, from outside.
#![allow(missing_docs)]

mod passages;
mod support;
