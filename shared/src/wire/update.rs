//! A new program on its way to a device: what is said of it, and the mark by which a program is known.

use crate::limits::{MAX_BOARD_BYTES, MAX_TRACE_DATA_BYTES};
use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

/// A new program begins. It goes into the second slot; what runs is not touched.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct UpdateHead {
    /// CRC-32/ISCSI of its bytes, by which it is named.
    pub image: u32,
    /// Its length, bytes.
    pub bytes: u32,
    /// The board that it is for.
    pub board: String<MAX_BOARD_BYTES>,
}

/// Bytes of it, in order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct UpdatePart {
    /// The program.
    pub image: u32,
    /// Place of the first byte.
    pub at: u32,
    /// The bytes.
    pub data: Vec<u8, MAX_TRACE_DATA_BYTES>,
}

/// How it stands with the programs of a device.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum UpdateStage {
    /// The program that runs is to stay.
    #[default]
    Settled,
    /// A new program runs, and is not yet told from one that does not come up.
    OnTrial,
    /// A new program did not come up; the one before runs again.
    FellBack,
    /// A new program is whole, and is tried at the next start.
    Ready,
}

/// What a device says of its programs.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct UpdateState {
    /// The board.
    pub board: String<MAX_BOARD_BYTES>,
    /// The longest program that it has room for, bytes; 0 where it has no second slot.
    pub room: u32,
    /// How it stands.
    pub stage: UpdateStage,
    /// The program that is coming in; 0 for none.
    pub coming: u32,
    /// Its next byte.
    pub next: u32,
}

/// Bytes of a program's mark.
pub const MARK_BYTES: usize = MARK.len() + MAX_BOARD_BYTES + 4;
/// What begins a mark.
const MARK: [u8; 16] = *b"fourplate\0lane\0\x01";

/// The mark that a program carries somewhere in its image: of which board and version it is.
#[must_use]
pub const fn program_mark(board: &str, version: [u8; 3]) -> [u8; MARK_BYTES] {
    assert!(board.len() <= MAX_BOARD_BYTES, "a board's name fits");
    let mut mark = [0; MARK_BYTES];
    let (head, rest) = mark.split_at_mut(MARK.len());
    head.copy_from_slice(&MARK);
    let (name, tail) = rest.split_at_mut(MAX_BOARD_BYTES);
    name.split_at_mut(board.len()).0.copy_from_slice(board.as_bytes());
    tail.split_at_mut(3).0.copy_from_slice(&version);
    mark
}

/// The one mark of a program: its board and version. `None` where there is none, or more than one.
#[must_use]
pub fn marked(image: &[u8]) -> Option<(&str, [u8; 3])> {
    let mut marks = image.windows(MARK_BYTES).filter(|window| window.starts_with(&MARK));
    let (mark, None) = (marks.next()?, marks.next()) else { return None };
    let (name, tail) = mark.get(MARK.len()..)?.split_at_checked(MAX_BOARD_BYTES)?;
    let name = name.split(|byte| *byte == 0).next()?;
    Some((core::str::from_utf8(name).ok().filter(|name| !name.is_empty())?, *tail.first_chunk()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_program_is_known_by_its_one_mark() {
        let mark = program_mark("a-board", [1, 20, 3]);
        assert_eq!(marked(&mark), Some(("a-board", [1, 20, 3])));
        let within = [&[7; 33][..], &mark, &[9; 5]].concat();
        assert_eq!(marked(&within), Some(("a-board", [1, 20, 3])));
        assert_eq!(marked(&[&mark[..], &mark].concat()), None, "which of the two?");
        assert_eq!(marked(&mark[..MARK_BYTES - 1]), None, "cut off");
        assert_eq!(marked(&program_mark("", [1, 0, 0])), None, "of no board");
        assert_eq!(marked(b"fourplate"), None);
        let full = program_mark("sixteen--letters", [0, 1, 0]);
        assert_eq!(marked(&full), Some(("sixteen--letters", [0, 1, 0])));
    }
}
