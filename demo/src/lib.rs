//! An invented herd and its truth.
