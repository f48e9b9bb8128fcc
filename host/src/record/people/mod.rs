//! People: who may do what, what they say of a cow in a word, what they are told.

pub mod mark;
pub mod message;
pub mod person;
