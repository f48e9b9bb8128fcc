//! Captures: the bytes that came from a device, as `shared/WIRE.md` describes them.
//!
//! Items are known by device, boot and sequence number, so a capture that overlaps another, or what was received
//! over a link, adds only what is new. Raw readings are weighed with the settings that came before them and
//! analysed as the device would.

use crate::import::{ImportError, Input, Outcome, Problems, RowFault, value};
use crate::link::journal::{JournalSpoken, Spoken};
use crate::link::place::{Placer, Waiting, timestamp};
use crate::link::{Kept, KeptItem};
use crate::record::ClockPoint;
use crate::store::{SourceCounts, SourceId, Store, StoreError};
use jiff::Timestamp;
use shared::{
    analysis::{Analyser, PassageSummary, Reading, calibration::Calibration},
    plate::PerPlate,
    units::Counts,
    wire::{
        Decoded, DeviceHello, DeviceId, DeviceMessage, Feed, FrameReader, Health, RawReadings, Sample,
        Settings, TraceDecoder, TraceEncoder, decode, hello_schema, speaks, trace,
    },
};
use std::{
    collections::{BTreeMap, btree_map::Entry},
    io::{ErrorKind, Read},
};

/// Items stored together; our choice: a kill loses less than a second of work.
const BATCH: usize = 1000;
/// Bytes read at a time.
const PIECE: usize = 64 * 1024;
/// Longest trace kept of one passage of raw readings, bytes; our choice: some ten minutes at 100 Hz.
const LONGEST_TRACE: usize = 512 * 1024;

/// Imports a capture.
///
/// # Errors
/// When the file cannot be read or the store cannot be written; what was stored before stays.
pub fn import(store: &Store, mut input: Input) -> Result<Outcome, ImportError> {
    let (name, counted) = (input.name.clone(), input.counted());
    let source = store.begin_source("capture", &name, Timestamp::now())?;
    let mut capture = Capture::new(store, source, &name, value::latest(input.now));
    let (mut reader, mut piece) = (FrameReader::new(), vec![0; PIECE]);
    let (mut at, mut first_broken, mut ends_whole, mut packed) = (0u64, None, true, false);
    loop {
        let length = match input.read(&mut piece) {
            Ok(0) => break,
            Ok(length) => length,
            Err(error) if error.kind() == ErrorKind::Interrupted => continue,
            Err(error) => return Err(error.into()),
        };
        if at == 0 && piece.starts_with(&[0x1F, 0x8B]) {
            packed = true;
            break;
        }
        ends_whole = piece[length - 1] == 0;
        let mut rest = &piece[..length];
        while !rest.is_empty() {
            rest = match reader.push(rest) {
                Feed::NeedMore => &[],
                Feed::Dropped { rest } => {
                    first_broken.get_or_insert(at + (length - rest.len()) as u64);
                    rest
                }
                Feed::Frame { payload, rest } => {
                    capture.payload(payload)?;
                    rest
                }
            };
        }
        at += length as u64;
    }
    let frames = reader.counts();
    if let Some(byte) = first_broken {
        capture.problems.add(
            0,
            RowFault::row(format!(
                "{} broken frames, the first ends at byte {byte}; what they held is missing unless the device sent \
                 it again",
                frames.dropped
            )),
        );
    }
    if packed {
        capture.problems.add(0, RowFault::row("this is packed with gzip; unpack it first"));
    } else if frames.frames == 0 && at > 0 {
        capture.problems.add(0, RowFault::row("no whole message in it: this is no capture of a lane device"));
    } else if at == 0 {
        capture.problems.add(0, RowFault::row("the file is empty"));
    } else if !ends_whole {
        capture.problems.add(0, RowFault::row("it ends in the middle of a message"));
    }
    let (kept, problems) = capture.finish()?;
    let counts = SourceCounts {
        bytes: counted.bytes(),
        crc32: counted.crc32(),
        rows: u64::from(frames.frames) + u64::from(frames.dropped),
        added: u64::from(kept.new_items()),
        already: u64::from(kept.already),
        bad: problems.count,
    };
    store.finish_source(source, &counts, Timestamp::now())?;
    Ok(Outcome::new("capture", name, &counts, problems))
}

struct Capture<'s> {
    store: &'s Store,
    source: SourceId,
    problems: Problems,
    journal: JournalSpoken,
    hello: Option<DeviceHello>,
    follows: bool,
    batch: Vec<(DeviceId, KeptItem)>,
    kept: Kept,
    placers: BTreeMap<DeviceId, Placer<'s>>,
    health: Vec<(DeviceId, Health)>,
    raw: BTreeMap<(DeviceId, u32), RawLane>,
    before_hello: u64,
    malformed: u64,
    untimed: u64,
    future: u64,
    /// Nothing is later than this.
    latest: Timestamp,
}

impl<'s> Capture<'s> {
    fn new(store: &'s Store, source: SourceId, name: &str, latest: Timestamp) -> Self {
        Self {
            store,
            source,
            problems: Problems::of(name),
            journal: JournalSpoken::default(),
            hello: None,
            follows: true,
            batch: Vec::new(),
            kept: Kept::default(),
            placers: BTreeMap::new(),
            health: Vec::new(),
            raw: BTreeMap::new(),
            before_hello: 0,
            malformed: 0,
            untimed: 0,
            future: 0,
            latest,
        }
    }

    fn payload(&mut self, payload: &[u8]) -> Result<(), StoreError> {
        if let Some((schema, oldest)) = hello_schema(payload).filter(|_| payload.first() == Some(&b'D')) {
            self.follows = speaks(schema, oldest);
            if !self.follows {
                self.hello = None;
                let fault = RowFault::row(format!(
                    "a device of schema {schema}, readable from {oldest} on: update fourplate and import it again"
                ));
                self.problems.add(0, fault);
            }
        }
        if !self.follows {
            return Ok(());
        }
        match decode::<DeviceMessage>(payload) {
            Decoded::Message(message) => self.message(message),
            Decoded::NewerKind(kind) => {
                self.problems.note(format!("messages of kind {kind}, of a newer device, were skipped"));
                Ok(())
            }
            Decoded::OtherSender(_) => Ok(()),
            Decoded::Malformed => {
                self.malformed += 1;
                Ok(())
            }
        }
    }

    fn message(&mut self, message: DeviceMessage) -> Result<(), StoreError> {
        let base_of = |hello: &DeviceHello, name| self.store.journal_base(hello.device, hello.boot, name);
        let message = match self.journal.hear(message, base_of)? {
            Spoken::Coming => {
                self.hello = None;
                return Ok(());
            }
            Spoken::Unnamed | Spoken::Nothing => return Ok(()),
            Spoken::Met(hello) => {
                self.store.meet_device(&hello, 0)?;
                if let Entry::Vacant(place) = self.placers.entry(hello.device) {
                    let placer = Placer::open(self.store, self.source, hello.device)?;
                    place.insert(placer.until(self.latest));
                }
                self.hello = Some(hello);
                return Ok(());
            }
            Spoken::Said(message) => message,
        };
        let Some(hello) = &self.hello else {
            self.before_hello += 1;
            return Ok(());
        };
        let device = hello.device;
        match message {
            DeviceMessage::TimeReply(reply) => match self.placers.get_mut(&device) {
                Some(placer) => placer.compare(reply.boot, ClockPoint::of_capture(&reply)).map(|_| ()),
                None => Ok(()),
            },
            DeviceMessage::Health(health) => {
                self.health.push((device, health));
                Ok(())
            }
            DeviceMessage::Settings(settings) => {
                self.raw.entry((device, hello.boot)).or_insert_with(|| RawLane::new(hello)).settings =
                    Some(settings);
                Ok(())
            }
            DeviceMessage::RawReadings(readings) => {
                let lane = self.raw.entry((device, readings.boot)).or_insert_with(|| RawLane::new(hello));
                lane.push(&readings);
                Ok(())
            }
            message => {
                if let Ok(item) = KeptItem::of(message) {
                    self.batch.push((device, item));
                }
                if self.batch.len() >= BATCH { self.commit() } else { Ok(()) }
            }
        }
    }

    fn commit(&mut self) -> Result<(), StoreError> {
        let batch = std::mem::take(&mut self.batch);
        let (placers, kept) = (&mut self.placers, &mut self.kept);
        self.store.batch(|_| {
            for (device, item) in &batch {
                let Some(placer) = placers.get_mut(device) else { continue };
                kept.count(&item.message, placer.keep(item)?);
            }
            Ok::<_, StoreError>(())
        })
    }

    fn finish(mut self) -> Result<(Kept, Problems), StoreError> {
        self.commit()?;
        for placer in self.placers.values_mut() {
            let placed = self.store.batch(|_| placer.place(Waiting::NoLonger))?;
            self.untimed += u64::from(placed.untimed);
            self.future += u64::from(placed.future);
        }
        self.place_raw()?;
        for (device, health) in std::mem::take(&mut self.health) {
            let Some(placer) = self.placers.get_mut(&device) else { continue };
            if let Some(placed) = placer.clock(health.boot)?.place(health.uptime) {
                self.store.put_health(device, &health, timestamp(&placed).as_millisecond())?;
            }
        }
        for (count, what) in [
            (self.before_hello, "messages came before the device said who it is and were left out"),
            (self.malformed, "messages make no sense to this fourplate and were left out"),
            (
                self.untimed,
                "passages and tag reads are of a boot without any time reply; they are kept and wait for one",
            ),
            (
                self.future,
                "passages and tag reads are in the future; they are kept and not counted. Look at the clock \
                 that the lane was set by",
            ),
        ] {
            if count > 0 {
                self.problems.add(0, RowFault::row(format!("{count} {what}")));
            }
        }
        Ok((self.kept, self.problems))
    }

    fn place_raw(&mut self) -> Result<(), StoreError> {
        for ((device, boot), lane) in std::mem::take(&mut self.raw) {
            let without_settings = lane.without_settings;
            if without_settings > 0 {
                let what =
                    format!("{without_settings} raw readings came before any settings and were left out");
                self.problems.add(0, RowFault::row(what));
            }
            let Some(placer) = self.placers.get_mut(&device) else { continue };
            let (name, passages) = lane.finish();
            let lane = crate::store::lane_name(&name, device);
            let placed = self.store.batch(|_| placer.place_raw(&lane, boot, passages))?;
            self.kept.passages += placed.passages;
            self.kept.already += placed.already;
            self.untimed += u64::from(placed.untimed);
            self.future += u64::from(placed.future);
        }
        Ok(())
    }
}

/// Raw readings of one boot, analysed as they come.
struct RawLane {
    name: String,
    full_scale: u32,
    rate_hz: u16,
    settings: Option<Settings>,
    analyser: Option<Analyser>,
    encoder: TraceEncoder,
    trace: Vec<u8>,
    ended: Vec<(PassageSummary, Vec<u8>)>,
    without_settings: u64,
}

impl RawLane {
    fn new(hello: &DeviceHello) -> Self {
        Self {
            name: hello.name.as_str().to_owned(),
            full_scale: hello.full_scale,
            rate_hz: hello.rate_hz,
            settings: None,
            analyser: None,
            encoder: TraceEncoder::new(),
            trace: Vec::new(),
            ended: Vec::new(),
            without_settings: 0,
        }
    }

    fn push(&mut self, readings: &RawReadings) {
        // A sample that cannot be read ends its message; the next message is whole by itself.
        for sample in TraceDecoder::new(&readings.data).map_while(Result::ok) {
            let Some(settings) = &self.settings else {
                self.without_settings += 1;
                continue;
            };
            let calibration = Calibration { zero: settings.zero, cross: settings.kg_per_count };
            let reading = Reading {
                time: sample.time,
                loads: calibration.apply(PerPlate(sample.values.0.map(Counts))),
                saturated: PerPlate(sample.values.0.map(|counts| counts.unsigned_abs() >= self.full_scale)),
            };
            let rate_hz = f32::from(self.rate_hz);
            let analyser = self.analyser.get_or_insert_with(|| Analyser::new(rate_hz));
            let step = analyser.push(&reading);
            if let Some(summary) = analyser.ended().copied() {
                self.ended(summary);
            }
            if step.occupied {
                self.keep(&Sample::of_loads(sample.time, &step.loads));
            } else {
                self.forget();
            }
        }
    }

    fn keep(&mut self, sample: &Sample) {
        let mut room = [0; trace::MAX_SAMPLE_BYTES];
        if self.trace.len() < LONGEST_TRACE
            && let Some(length) = self.encoder.push(sample, &mut room)
        {
            self.trace.extend_from_slice(&room[..length]);
        }
    }

    fn forget(&mut self) {
        self.encoder = TraceEncoder::new();
        self.trace.clear();
    }

    fn ended(&mut self, summary: PassageSummary) {
        let trace = std::mem::take(&mut self.trace);
        self.forget();
        self.ended.push((summary, trace));
    }

    fn finish(mut self) -> (String, Vec<(PassageSummary, Vec<u8>)>) {
        if let Some(summary) = self.analyser.as_mut().and_then(Analyser::finish).copied() {
            self.ended(summary);
        }
        (self.name, self.ended)
    }
}

#[cfg(test)]
mod tests;
