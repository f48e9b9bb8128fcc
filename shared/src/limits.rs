//! Every bound that both sides keep.

/// Slowest reading rate the analysis takes, Hz.
pub const MIN_RATE_HZ: f32 = 20.0;
/// Fastest reading rate the analysis takes, Hz.
pub const MAX_RATE_HZ: f32 = 1000.0;
/// Largest passage summary on the wire, bytes, frame included.
pub const MAX_SUMMARY_BYTES: usize = 256;
/// Largest frame of any message, closing zero included, bytes.
pub const MAX_FRAME_BYTES: usize = 256;
/// Largest payload, check not counted: what is left of a frame after the check, two COBS bytes and the zero.
pub const MAX_PAYLOAD_BYTES: usize = MAX_FRAME_BYTES - 4 - 2 - 1;
/// Largest sealed payload, check not counted: a payload without its sender's byte after sender, kind and counter, and a tag.
pub const MAX_SEALED_PAYLOAD_BYTES: usize = 6 + MAX_PAYLOAD_BYTES - 1 + 16;
/// Largest sealed frame, closing zero included, bytes.
pub const MAX_SEALED_FRAME_BYTES: usize = MAX_SEALED_PAYLOAD_BYTES + 4 + 2 + 1;
/// Largest piece of a sample stream in one message, bytes.
pub const MAX_TRACE_DATA_BYTES: usize = 224;
/// Longest name of a lane, bytes of UTF-8.
pub const MAX_NAME_BYTES: usize = 24;
/// Most cows on a list to hold back (our choice: a page of flash, and more than any pen behind a gate takes).
pub const MAX_HELD: usize = 48;
/// Cows in one part of such a list.
pub const MAX_HELD_A_PART: usize = 16;
/// Most rows of a table of cows.
pub const MAX_TABLE_ROWS: usize = 1_000;
/// States of a cow in a table that have a usual value of their own (our choice: the levels of one leg, about).
pub const MAX_OWN_STATES: usize = 4;
/// Longest row of a table, bytes.
pub const MAX_ROW_BYTES: usize = 104;
/// Longest name of a board, bytes.
pub const MAX_BOARD_BYTES: usize = 16;
