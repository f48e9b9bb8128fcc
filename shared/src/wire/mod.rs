//! The message format: what is said between device and host, and how it is framed.
//!
//! `WIRE.md` beside this crate holds the byte tables. A frame is `COBS(sender, kind, body, CRC-32/ISCSI) 00`;
//! the body is postcard. The two ends stay compatible by three rules: message kinds and message fields are only
//! ever added at the end, a reader skips kinds it does not know and ignores bytes after the fields it knows, and
//! anything else raises [`SCHEMA`] and [`OLDEST_SCHEMA`].

pub mod frame;
pub mod gate;
pub mod lane_answer;
pub mod message;
pub mod seal;
pub mod settings;
pub mod trace;
#[cfg(not(target_os = "none"))]
mod unstuff;
pub mod update;

pub use frame::{
    Crc32, Decoded, EncodeError, Feed, FrameCounts, FrameReader, crc32, decode, encode_frame, hello_schema,
    payload_of,
};
pub use gate::{ConfirmList, GateEvent, GateOutcome, GateSettings, HoldList, LaneOrders};
pub use lane_answer::{LaneAnswer, TableRows};
pub use message::{
    DeviceHello, DeviceId, DeviceMessage, Health, HostHello, HostMessage, ItemKey, Message, Paired, Passage,
    PlateState, RawReadings, Refusal, ResetCause, TagRead, TimeReply, TimeRequest, TraceChunk,
};
pub use seal::{LinkKey, Opening, Sealed, is_sealed};
pub use settings::{CalibrationOutcome, CalibrationReply, CalibrationStep, Settings};
pub use trace::{Sample, TraceDecoder, TraceEncoder, TraceError};
pub use update::{UpdateHead, UpdatePart, UpdateStage, UpdateState};

/// The schema these types speak, said in the first message of each side.
pub const SCHEMA: u16 = 4;
/// The oldest schema a reader must know to follow what is sent.
pub const OLDEST_SCHEMA: u16 = 1;

/// From this schema on a device takes a new program over the link.
pub const UPDATE_SCHEMA: u16 = 4;
/// From this schema on a device knows of a gate and of a table of cows.
pub const ORDERS_SCHEMA: u16 = 3;
/// From this schema on a device says the name of its journal after each hello.
pub const JOURNAL_SCHEMA: u16 = 2;

/// Whether this side can talk with a peer that says `schema` and `oldest`.
#[must_use]
pub const fn speaks(schema: u16, oldest: u16) -> bool {
    schema >= OLDEST_SCHEMA && oldest <= SCHEMA
}

#[cfg(test)]
mod tests;
