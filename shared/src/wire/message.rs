//! What is said. Field order is byte order; see the module's rules before changing anything.

use super::gate::{ConfirmList, GateEvent, GateSettings, HoldList, LaneOrders};
use super::lane_answer::{LaneAnswer, TableRows};
use super::seal::LinkKey;
use super::settings::{CalibrationReply, CalibrationStep, Settings};
use super::update::{UpdateHead, UpdatePart, UpdateState};
use crate::{
    analysis::PassageSummary,
    identity::AnimalCode,
    lane_score::TableHead,
    limits::{MAX_NAME_BYTES, MAX_TRACE_DATA_BYTES},
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
};
use heapless::{String, Vec};
use serde::{Deserialize, Serialize, de::DeserializeOwned};

/// One direction's set of messages.
pub trait Message: Serialize + DeserializeOwned {
    /// First byte of every payload: who speaks.
    const SENDER: u8;
    /// Kinds known; larger kind numbers come from a newer peer.
    const KINDS: u8;
}

/// A device's number, unchanged for its life.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct DeviceId(pub u64);

/// Names one journalled item: together with the device's number it is unique for ever.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct ItemKey {
    /// The boot in which it was recorded.
    pub boot: u32,
    /// Its sequence number; rises by one with each item and goes on across boots.
    pub sequence: u32,
}

/// What a device says. The kind number is the position in this list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(clippy::large_enum_variant, reason = "fixed memory: nothing can be boxed on the device")]
pub enum DeviceMessage {
    /// 0: who speaks; first on every connection, after every boot, and in answer to the host's hello.
    Hello(DeviceHello),
    /// 1: one passage; kept until acknowledged.
    Passage(Passage),
    /// 2: a piece of a passage's readings; kept until acknowledged.
    TraceChunk(TraceChunk),
    /// 3: an ear tag; kept until acknowledged.
    TagRead(TagRead),
    /// 4: how the device is; sent now and then, not kept.
    Health(Health),
    /// 5: answer to a time request.
    TimeReply(TimeReply),
    /// 6: the settings in force: answer to a request for them and to a change of them.
    Settings(Settings),
    /// 7: answer to a calibration step.
    CalibrationReply(CalibrationReply),
    /// 8: readings in counts, on request; never kept, never resent.
    RawReadings(RawReadings),
    /// 9: a message of the host was understood but not followed.
    Refused(Refusal),
    /// 10: this device is paired: it hears nothing but [`HostMessage::Open`], and what is sealed.
    Paired(Paired),
    /// 11: the name of the journal, 0 where it has none yet: after every hello in answer to a host's.
    Journal(u64),
    /// 12: a listed cow came to the gate; kept until acknowledged.
    GateEvent(GateEvent),
    /// 13: what the device was told of gate and cows: after hello, and in answer to any of it.
    Orders(LaneOrders),
    /// 14: what is said of a cow as she leaves; sent once, not kept.
    Answer(LaneAnswer),
    /// 15: how it stands with the device's programs: in answer to any message of a new one.
    Update(UpdateState),
}

/// What a host says. The kind number is the position in this list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(clippy::large_enum_variant, reason = "fixed memory: nothing can be boxed on the device")]
pub enum HostMessage {
    /// 0: first on every connection; the device answers with its own and resends what is not acknowledged.
    Hello(HostHello),
    /// 1: these sequence numbers, both ends included, are committed and may be forgotten.
    Acknowledge {
        /// First sequence number.
        first: u32,
        /// Last sequence number.
        last: u32,
    },
    /// 2: what does your clock say?
    TimeRequest(TimeRequest),
    /// 3: send your settings.
    GetSettings,
    /// 4: take these settings.
    SetSettings(Settings),
    /// 5: one step of a guided calibration.
    Calibrate(CalibrationStep),
    /// 6: stream raw readings for this long, s; zero stops.
    StreamRaw {
        /// How long, s.
        seconds: u16,
    },
    /// 7: opens a connection with a paired device; all that follows is sealed.
    Open {
        /// Drawn for this connection.
        random: [u8; 16],
        /// The count that the device has just said.
        count: u32,
    },
    /// 8: take this key, which is [`LinkKey::NONE`] to take a pairing back. A device that has a key hears this sealed only.
    Pair(LinkKey),
    /// 9: the name of a journal that has none yet, drawn by the host. It keeps the first it is given.
    NameJournal(u64),
    /// 10: drive the gate so; `None` means that there is no gate. Like all below, a device hears it sealed only.
    SetGate(Option<GateSettings>),
    /// 11: a part of a list of cows to hold back.
    HoldList(HoldList),
    /// 12: that list is in force.
    ConfirmList(ConfirmList),
    /// 13: a table of cows begins.
    Table(TableHead),
    /// 14: rows of it, in order.
    Rows(TableRows),
    /// 15: how does it stand with your programs?
    GetUpdate,
    /// 16: a new program begins.
    Update(UpdateHead),
    /// 17: bytes of it.
    UpdatePart(UpdatePart),
}

impl Message for DeviceMessage {
    const SENDER: u8 = b'D';
    const KINDS: u8 = 16;
}

impl Message for HostMessage {
    const SENDER: u8 = b'H';
    const KINDS: u8 = 18;
}

impl DeviceMessage {
    /// The same with its boots counted on from `base`: a journal made anew counts them from 1 again.
    #[must_use]
    pub fn counted_from(mut self, base: u32) -> Self {
        let boot = match &mut self {
            Self::Hello(hello) => &mut hello.boot,
            Self::Passage(passage) => &mut passage.key.boot,
            Self::TraceChunk(chunk) => &mut chunk.key.boot,
            Self::TagRead(tag) => &mut tag.key.boot,
            Self::Health(health) => &mut health.boot,
            Self::TimeReply(reply) => &mut reply.boot,
            Self::RawReadings(readings) => &mut readings.boot,
            Self::GateEvent(event) => &mut event.key.boot,
            Self::Answer(answer) => &mut answer.boot,
            Self::Settings(_)
            | Self::CalibrationReply(_)
            | Self::Refused(_)
            | Self::Paired(_)
            | Self::Journal(_)
            | Self::Orders(_)
            | Self::Update(_) => return self,
        };
        *boot = boot.saturating_add(base);
        self
    }
}

/// The device introduces itself. The first two fields never change in any schema.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DeviceHello {
    /// The schema spoken.
    pub schema: u16,
    /// The oldest schema a reader must know to follow.
    pub oldest: u16,
    /// The device's number.
    pub device: DeviceId,
    /// Boots since it was made; counts from 1.
    pub boot: u32,
    /// Firmware version: major, minor, patch.
    pub firmware: [u8; 3],
    /// Readings a second, Hz.
    pub rate_hz: u16,
    /// Counts of either sign at which a converter is at its end stop.
    pub full_scale: u32,
    /// The sequence number the next item will get.
    pub next_sequence: u32,
    /// Items waiting for an acknowledgement.
    pub waiting: u32,
    /// The lane's name, as set.
    pub name: String<MAX_NAME_BYTES>,
}

/// A paired device says who it is, and nothing else.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Paired {
    /// The device's number.
    pub device: DeviceId,
    /// This boot.
    pub boot: u32,
    /// Connections opened in this boot.
    pub count: u32,
}

/// The host introduces itself. The first two fields never change in any schema.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HostHello {
    /// The schema spoken.
    pub schema: u16,
    /// The oldest schema a reader must know to follow.
    pub oldest: u16,
}

/// One passage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Passage {
    /// Its name in the journal.
    pub key: ItemKey,
    /// Number of the passage, which its trace chunks carry too; rises across boots.
    pub passage: u32,
    /// Trace chunks recorded for it; fewer may still be kept.
    pub trace_chunks: u16,
    /// The record.
    pub summary: PassageSummary,
}

/// A piece of a passage's readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TraceChunk {
    /// Its name in the journal.
    pub key: ItemKey,
    /// The passage it belongs to.
    pub passage: u32,
    /// Its place in the passage, from 0.
    pub chunk: u16,
    /// Samples in units of 0.1 kg, a stream of its own: see [`super::trace`].
    pub data: Vec<u8, MAX_TRACE_DATA_BYTES>,
}

/// An ear tag seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TagRead {
    /// Its name in the journal.
    pub key: ItemKey,
    /// When, on the device's clock.
    pub time: Milliseconds,
    /// What the reader printed; a line that does not state the flag bits counts as an animal's, first tag.
    pub code: AnimalCode,
}

/// Why the processor last started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum ResetCause {
    /// Not known.
    #[default]
    Unknown,
    /// Power came.
    PowerOn,
    /// The supply dipped.
    Brownout,
    /// The program hung.
    Watchdog,
    /// The program asked for it.
    Software,
    /// The program found itself broken.
    Panic,
    /// The reset pin.
    Pin,
}

/// What is known of one plate's cells and converter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum PlateState {
    /// Reads as it should.
    #[default]
    Good,
    /// At its end stop.
    Saturated,
    /// Always the same reading.
    Stuck,
    /// No readings.
    Silent,
}

/// How the device is. Counters run since its boot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Health {
    /// This boot.
    pub boot: u32,
    /// When, on the device's clock: time since boot.
    pub uptime: Milliseconds,
    /// Why it booted.
    pub reset: ResetCause,
    /// Supply, mV, where measured.
    pub supply_mv: Option<u16>,
    /// Temperature, 0.1 degree Celsius, where measured.
    pub temperature_dc: Option<i16>,
    /// Readings due but not had, count.
    pub lost_readings: u32,
    /// Frames from the host that were broken, count.
    pub dropped_frames: u32,
    /// Lines of the tag reader that made no sense, count.
    pub bad_tag_lines: u32,
    /// Deepest stack use seen, bytes.
    pub stack_high_water: u16,
    /// Journal space in use, %.
    pub journal_fill_pct: u8,
    /// Items waiting for an acknowledgement, count.
    pub journal_waiting: u32,
    /// Trace chunks given up for space before they were acknowledged, count.
    pub traces_dropped: u32,
    /// Passages and tags given up for space before they were acknowledged, count.
    pub passages_dropped: u32,
    /// Tracked zero of each plate against its calibration, kg.
    pub zero: PerPlate<Kilograms>,
    /// SD of each empty plate, kg.
    pub noise: PerPlate<Kilograms>,
    /// Each plate's cells and converter.
    pub plates: PerPlate<PlateState>,
}

/// The host asks for the device's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TimeRequest {
    /// The host's clock when it sent this, ms since the Unix epoch, UTC.
    pub host_sent_ms: i64,
    /// Round trip less the device's own time, as the host found it in the exchange before, ms; 0 = not known.
    pub round_trip_ms: u16,
}

/// The device's clock, with the request handed back: the stream alone then tells the time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TimeReply {
    /// As in the request.
    pub host_sent_ms: i64,
    /// As in the request.
    pub round_trip_ms: u16,
    /// This boot.
    pub boot: u32,
    /// The device's clock when the request's last byte came in.
    pub received: Milliseconds,
    /// The device's clock when this reply's first byte went out.
    pub sent: Milliseconds,
}

/// Readings in counts, as the converters gave them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RawReadings {
    /// This boot.
    pub boot: u32,
    /// Number of this message since streaming began, from 0.
    pub index: u32,
    /// Samples in counts, a stream of its own: see [`super::trace`].
    pub data: Vec<u8, MAX_TRACE_DATA_BYTES>,
}

/// Why a host's message was not followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Refusal {
    /// The host's schema cannot be spoken.
    Schema,
    /// Settings out of range; the old ones stay.
    BadSettings,
    /// Settings could not be written; the old ones stay.
    NotStored,
    /// Not now: a cow is on, or a calibration is running.
    Busy,
    /// The gate and the table are spoken of on the sealed line of a paired device only.
    NotPaired,
    /// A gate cannot be driven so, or there is none; what was set before stays.
    BadGate,
    /// A list that is not whole, too long, over, or for longer than a day; the one before stays.
    BadList,
    /// A table that is not whole, too long, or makes no sense; the one before stays.
    BadTable,
    /// A table of a form that is not known here; the one before stays.
    NewerTable,
    /// A program for another board, too long for this one, or not as it was announced; what runs stays.
    BadUpdate,
}
