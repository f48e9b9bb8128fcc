//! Frames: how a message becomes bytes on a line, and comes back from a noisy one.

use super::message::Message;
use crate::limits::{MAX_PAYLOAD_BYTES, MAX_SEALED_FRAME_BYTES};
use cobs::{CobsEncoder, DecodeResult, DecoderState};
use crc::{CRC_32_ISCSI, Crc, Digest, Table};

/// Bytes of the check at the end of a payload.
const CHECK_BYTES: usize = 4;
/// Sender and kind, and the check.
const SHORTEST_FRAME_BYTES: usize = 2 + CHECK_BYTES;

/// On the device a table of 1 KiB: bit by bit a frame takes a small processor longer than ten readings.
#[cfg(target_os = "none")]
type CheckTable = Table<1>;
/// A host reads captures of years, and has room for 16 KiB.
#[cfg(not(target_os = "none"))]
type CheckTable = Table<16>;
static CHECK: Crc<u32, CheckTable> = Crc::<u32, CheckTable>::new(&CRC_32_ISCSI);

/// CRC-32/ISCSI.
#[must_use]
pub fn crc32(bytes: &[u8]) -> u32 {
    CHECK.checksum(bytes)
}

/// CRC-32/ISCSI of bytes that come one piece after the other.
pub struct Crc32(Digest<'static, u32, CheckTable>);

impl Crc32 {
    /// Of nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self(CHECK.digest())
    }

    /// Takes the next piece.
    pub fn update(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// Of all that came.
    #[must_use]
    pub fn value(self) -> u32 {
        self.0.finalize()
    }
}

impl Default for Crc32 {
    fn default() -> Self {
        Self::new()
    }
}

/// Why a message could not be framed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EncodeError {
    /// Longer than a payload may be.
    TooLong,
    /// The buffer handed in is too short.
    NoRoom,
}

/// Writes one whole frame, its closing zero included, at the start of `out` and returns its length.
///
/// # Errors
/// Where the message is too long, or `out` is shorter than the frame; [`crate::limits::MAX_FRAME_BYTES`] always suffice.
pub fn encode_frame<M: Message>(message: &M, out: &mut [u8]) -> Result<usize, EncodeError> {
    frame_payload(payload_of(message, &mut [0; MAX_PAYLOAD_BYTES])?, out)
}

/// The payload of a message, from the sender's byte to the end of the body.
///
/// # Errors
/// Where the message is too long.
pub fn payload_of<'p, M: Message>(
    message: &M,
    room: &'p mut [u8; MAX_PAYLOAD_BYTES],
) -> Result<&'p [u8], EncodeError> {
    let (sender, body) = room.split_at_mut(1);
    sender.copy_from_slice(&[M::SENDER]);
    let length = postcard::to_slice(message, body).map_err(|_| EncodeError::TooLong)?.len();
    room.get(..=length).ok_or(EncodeError::TooLong)
}

/// Frames a payload that is already there, from the sender's byte to the end of the body.
///
/// # Errors
/// As [`encode_frame`].
pub fn frame_payload(payload: &[u8], out: &mut [u8]) -> Result<usize, EncodeError> {
    if payload.len() > MAX_PAYLOAD_BYTES {
        return Err(EncodeError::TooLong);
    }
    stuff(payload, out)
}

/// Puts the check behind a payload and stuffs both.
pub(super) fn stuff(payload: &[u8], out: &mut [u8]) -> Result<usize, EncodeError> {
    let mut encoder = CobsEncoder::new(out);
    encoder.push(payload).map_err(|_| EncodeError::NoRoom)?;
    encoder.push(&crc32(payload).to_le_bytes()).map_err(|_| EncodeError::NoRoom)?;
    let length = encoder.finalize();
    *out.get_mut(length).ok_or(EncodeError::NoRoom)? = 0;
    Ok(length + 1)
}

/// What a payload says.
#[derive(Clone, Debug, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "fixed memory: nothing can be boxed on the device")]
pub enum Decoded<M> {
    /// A message.
    Message(M),
    /// A kind that only a newer peer knows: skip it.
    NewerKind(u8),
    /// The other direction's message: an echo, or two hosts on one line.
    OtherSender(u8),
    /// Whole as sent, yet no message: skip it.
    Malformed,
}

/// Reads a payload as handed out by [`FrameReader`]. Bytes after the known fields are ignored.
#[must_use]
pub fn decode<M: Message>(payload: &[u8]) -> Decoded<M> {
    match payload {
        [sender, ..] if *sender != M::SENDER => Decoded::OtherSender(*sender),
        [_, kind, ..] if *kind >= M::KINDS => Decoded::NewerKind(*kind),
        [_, body @ ..] => postcard::take_from_bytes(body)
            .map_or(Decoded::Malformed, |(message, _)| Decoded::Message(message)),
        [] => Decoded::Malformed,
    }
}

/// The `schema` and `oldest` of a device's or a host's hello, which every schema keeps; `None` for other payloads.
#[must_use]
pub fn hello_schema(payload: &[u8]) -> Option<(u16, u16)> {
    match payload {
        [b'D' | b'H', 0, body @ ..] => postcard::take_from_bytes(body).ok().map(|(schemas, _)| schemas),
        _ => None,
    }
}

/// What came of the bytes pushed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feed<'reader, 'input> {
    /// All bytes are used up and no frame is complete.
    NeedMore,
    /// A whole frame: its payload without the check, and the bytes after it.
    Frame {
        /// Sender, kind, body.
        payload: &'reader [u8],
        /// Not looked at yet.
        rest: &'input [u8],
    },
    /// A broken frame ended; the bytes after it.
    Dropped {
        /// Not looked at yet.
        rest: &'input [u8],
    },
}

/// What a reader has seen since it was made; counters stop at their largest value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FrameCounts {
    /// Whole frames.
    pub frames: u32,
    /// Frames cut short, too long, or with a wrong check.
    pub dropped: u32,
}

/// Finds frames in a stream of bytes; after a broken one it starts afresh at the next zero byte.
#[derive(Debug)]
pub struct FrameReader {
    state: DecoderState,
    buffer: [u8; MAX_SEALED_FRAME_BYTES],
    length: usize,
    /// Bytes since the last zero: zeros in a row are no frames.
    started: bool,
    broken: bool,
    counts: FrameCounts,
}

impl Default for FrameReader {
    fn default() -> Self {
        Self::new()
    }
}

impl FrameReader {
    /// A reader at the start of a frame.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            state: DecoderState::Idle,
            buffer: [0; MAX_SEALED_FRAME_BYTES],
            length: 0,
            started: false,
            broken: false,
            counts: FrameCounts { frames: 0, dropped: 0 },
        }
    }

    /// Takes bytes up to the end of the first frame in them.
    pub fn push<'input>(&mut self, bytes: &'input [u8]) -> Feed<'_, 'input> {
        #[cfg(not(target_os = "none"))]
        if !self.started
            && let Some((length, rest)) = super::unstuff::whole(bytes, &mut self.buffer)
        {
            self.length = length;
            let whole = self.checked();
            return match self.ended(whole, true) {
                Ended::Whole(length) => {
                    Feed::Frame { payload: self.buffer.get(..length).unwrap_or_default(), rest }
                }
                Ended::No | Ended::Broken => Feed::Dropped { rest },
            };
        }
        let mut rest = bytes;
        while let Some((&byte, tail)) = rest.split_first() {
            rest = tail;
            match self.byte(byte) {
                Ended::No => {}
                Ended::Broken => return Feed::Dropped { rest },
                Ended::Whole(length) => {
                    return Feed::Frame { payload: self.buffer.get(..length).unwrap_or_default(), rest };
                }
            }
        }
        Feed::NeedMore
    }

    /// Takes all of the bytes, and hands on each payload in them.
    pub fn payloads(&mut self, bytes: &[u8], mut take: impl FnMut(&[u8])) {
        let mut rest = bytes;
        while !rest.is_empty() {
            rest = match self.push(rest) {
                Feed::NeedMore => &[],
                Feed::Dropped { rest } => rest,
                Feed::Frame { payload, rest } => {
                    take(payload);
                    rest
                }
            };
        }
    }

    /// The payload that was handed out last, to be opened where it lies; `length` is its length.
    pub fn payload_mut(&mut self, length: usize) -> &mut [u8] {
        self.buffer.get_mut(..length).unwrap_or_default()
    }

    /// What it has seen.
    #[must_use]
    pub const fn counts(&self) -> FrameCounts {
        self.counts
    }

    fn byte(&mut self, byte: u8) -> Ended {
        if byte == 0 {
            return self.end();
        }
        self.started = true;
        if let Ok(DecodeResult::DataContinue(data)) = self.state.feed(byte) {
            match self.buffer.get_mut(self.length) {
                Some(place) => {
                    *place = data;
                    self.length += 1;
                }
                None => self.broken = true,
            }
        }
        Ended::No
    }

    fn end(&mut self) -> Ended {
        let complete = matches!(self.state.feed(0), Ok(DecodeResult::DataComplete));
        let whole = complete && !self.broken && self.checked();
        self.ended(whole, self.started)
    }

    fn ended(&mut self, whole: bool, started: bool) -> Ended {
        let length = self.length;
        self.state = DecoderState::Idle;
        self.length = 0;
        self.started = false;
        self.broken = false;
        if whole {
            self.counts.frames = self.counts.frames.saturating_add(1);
            Ended::Whole(length - CHECK_BYTES)
        } else if started {
            self.counts.dropped = self.counts.dropped.saturating_add(1);
            Ended::Broken
        } else {
            Ended::No
        }
    }

    fn checked(&self) -> bool {
        let frame = self.buffer.get(..self.length).unwrap_or_default();
        frame.len() >= SHORTEST_FRAME_BYTES
            && frame
                .split_last_chunk::<CHECK_BYTES>()
                .is_some_and(|(payload, check)| crc32(payload) == u32::from_le_bytes(*check))
    }
}

enum Ended {
    No,
    Broken,
    Whole(usize),
}
