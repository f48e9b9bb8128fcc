//! Gives what a device sent its place in time: passages with their traces, and tag reads.
//!
//! An item is placed once its boot's clock is known well enough, and a passage once its trace is whole. Until
//! then it waits in the store, safe and acknowledged. What can be placed no better is placed as well as can be
//! when the connection ends or a later boot has begun; what belongs to a boot that never saw a host stays.

use crate::identity;
use crate::link::clock::{ClockMap, Placed};
use crate::link::keeper::KeptItem;
use crate::record::AnimalId;
use crate::record::ClockPoint;
use crate::record::gate::GateRecord;
use crate::store::{Insert, NewPassage, SourceId, Store, StoreError, TagRead};
use jiff::Timestamp;
use shared::{
    analysis::PassageSummary,
    units::Milliseconds,
    wire::{
        self, Decoded, DeviceId, DeviceMessage, GateEvent, Passage, TraceChunk, TraceDecoder, TraceEncoder,
        decode, trace,
    },
};
use std::collections::{BTreeMap, btree_map::Entry};

/// Times are placed at once where they are this sure, ms: what the format promises.
pub const SURE_MS: f64 = 50.0;
/// Other boots looked at for the device's drift; our choice.
const BOOTS: u32 = 8;

/// Whether more may come that makes a place better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Waiting {
    /// It may.
    ForMore,
    /// It will not for now.
    NoLonger,
}

/// What was placed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PlacedCounts {
    /// Passages new to the store.
    pub passages: u32,
    /// Tag reads new to the store.
    pub tags: u32,
    /// Items that were in the store from another source.
    pub already: u32,
    /// Items of boots whose clock is not known.
    pub untimed: u32,
    /// Items whose time is later than anything can be.
    pub future: u32,
}

/// Places what one device sent. It remembers what waits: a transaction that fails leaves it wrong, so it must then be
/// given up.
#[derive(Debug)]
pub struct Placer<'store> {
    store: &'store Store,
    source: SourceId,
    device: DeviceId,
    clocks: BTreeMap<u32, ClockMap>,
    tags: Vec<wire::TagRead>,
    events: Vec<GateEvent>,
    passages: Vec<Passage>,
    /// Nothing is later than this, UTC, ms since the Unix epoch.
    latest_ms: f64,
    /// Pieces of traces by boot and passage.
    chunks: BTreeMap<(u32, u32), BTreeMap<u16, TraceChunk>>,
}

impl<'store> Placer<'store> {
    /// With what waits in the store.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn open(store: &'store Store, source: SourceId, device: DeviceId) -> Result<Self, StoreError> {
        let mut placer = Self {
            store,
            source,
            device,
            clocks: BTreeMap::new(),
            tags: Vec::new(),
            events: Vec::new(),
            passages: Vec::new(),
            latest_ms: TIMES_MS.end,
            chunks: BTreeMap::new(),
        };
        for waiting in store.waiting_items(device)? {
            if let Decoded::Message(message) = decode(&waiting.payload) {
                placer.add(message);
            }
        }
        Ok(placer)
    }

    /// Places nothing later than a moment: for what nobody's clock stands behind.
    #[must_use]
    pub fn until(mut self, latest: Timestamp) -> Self {
        self.latest_ms = latest.as_millisecond() as f64;
        self
    }

    /// Keeps an item; says whether it is new.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep(&mut self, item: &KeptItem) -> Result<bool, StoreError> {
        let new = self.store.keep_item(self.device, item.key, &item.payload())?;
        if new {
            self.add(item.message.clone());
        }
        Ok(new)
    }

    /// Takes a comparison of the clocks; says whether it made anything better known.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn compare(&mut self, boot: u32, point: ClockPoint) -> Result<bool, StoreError> {
        let better = self.clock(boot)?.add(point);
        if better {
            self.store.put_clock_point(self.device, boot, &point)?;
        }
        Ok(better)
    }

    /// The clock of a boot.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn clock(&mut self, boot: u32) -> Result<&mut ClockMap, StoreError> {
        match self.clocks.entry(boot) {
            Entry::Occupied(known) => Ok(known.into_mut()),
            Entry::Vacant(place) => {
                let points =
                    |boot| Ok::<_, StoreError>(ClockMap::of(self.store.clock_points(self.device, boot)?));
                let mut map = points(boot)?;
                for other in self.store.boots_near(self.device, boot, BOOTS)? {
                    if map.drifts_like(&points(other)?) {
                        break;
                    }
                }
                Ok(place.insert(map))
            }
        }
    }

    /// Places what can be placed, in one transaction of the caller's.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn place(&mut self, waiting: Waiting) -> Result<PlacedCounts, StoreError> {
        let mut counts = PlacedCounts::default();
        let Some(known) = self.store.device(self.device)? else { return Ok(counts) };
        let lane = known.lane();
        let over = |boot: u32| waiting == Waiting::NoLonger || boot < known.boot;
        let mut touched = Touched::default();
        // A session that hangs still holds what a newer one of the device has placed since.
        for tag in std::mem::take(&mut self.tags) {
            if !self.store.item_waits(self.device, tag.key)? {
                continue;
            }
            let Some(placed) = self.placed(tag.key.boot, tag.time, over(tag.key.boot), &mut counts)? else {
                self.tags.push(tag);
                continue;
            };
            let read = TagRead { time: timestamp(&placed), animal: AnimalId(tag.code.to_string()) };
            // A reader may give hundreds of reads a second: the next event takes the rest into account.
            if !self.store.just_read(&lane, &read, SAME_READ_MS)? {
                touched.add(&read.time);
            }
            let new = self.store.insert_tag_read(&lane, &read)?;
            *(if new { &mut counts.tags } else { &mut counts.already }) += 1;
            self.store.item_placed(self.device, tag.key, placed.error_ms)?;
        }
        self.place_events(&lane, over, &mut counts)?;
        for passage in std::mem::take(&mut self.passages) {
            let over = over(passage.key.boot);
            if !self.store.item_waits(self.device, passage.key)? {
                continue;
            }
            let have = self.chunks.get(&(passage.key.boot, passage.passage)).map_or(0, BTreeMap::len);
            let whole = over || have >= usize::from(passage.trace_chunks);
            let start = passage.summary.start;
            let placed = if whole { self.placed(passage.key.boot, start, over, &mut counts)? } else { None };
            let Some(placed) = placed else {
                self.passages.push(passage);
                continue;
            };
            let pieces = self.chunks.remove(&(passage.key.boot, passage.passage)).unwrap_or_default();
            let new = measured(&lane, &placed, passage.summary, whole_trace(&passage, &pieces));
            touched.add(&new.time);
            match self.store.insert_delivered(&new, self.source)? {
                Insert::Added => counts.passages += 1,
                Insert::Completed | Insert::Already => counts.already += 1,
            }
            for key in pieces.values().map(|chunk| chunk.key).chain([passage.key]) {
                self.store.item_placed(self.device, key, placed.error_ms)?;
            }
        }
        touched.rematch(self.store, &lane)?;
        Ok(counts)
    }

    fn place_events(
        &mut self,
        lane: &str,
        over: impl Fn(u32) -> bool,
        counts: &mut PlacedCounts,
    ) -> Result<(), StoreError> {
        for event in std::mem::take(&mut self.events) {
            if !self.store.item_waits(self.device, event.key)? {
                continue;
            }
            let boot = event.key.boot;
            let Some(placed) = self.placed(boot, event.time, over(boot), counts)? else {
                self.events.push(event);
                continue;
            };
            let animal = AnimalId(event.code.to_string());
            let record = GateRecord {
                lane: lane.to_owned(),
                time: timestamp(&placed),
                animal,
                outcome: event.outcome,
            };
            let new = self.store.insert_gate_event(&record)?;
            counts.already += u32::from(!new);
            self.store.item_placed(self.device, event.key, placed.error_ms)?;
        }
        Ok(())
    }

    /// Places passages that were measured from the device's raw readings of a boot.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn place_raw(
        &mut self,
        lane: &str,
        boot: u32,
        passages: impl IntoIterator<Item = (PassageSummary, Vec<u8>)>,
    ) -> Result<PlacedCounts, StoreError> {
        let (mut counts, mut touched) = (PlacedCounts::default(), Touched::default());
        for (summary, trace) in passages {
            let Some(placed) = self.placed(boot, summary.start, true, &mut counts)? else { continue };
            let new = measured(lane, &placed, summary, (!trace.is_empty()).then_some(trace));
            touched.add(&new.time);
            match self.store.insert_measured(&new, self.source)? {
                Insert::Added | Insert::Completed => counts.passages += 1,
                Insert::Already => counts.already += 1,
            }
        }
        touched.rematch(self.store, lane)?;
        Ok(counts)
    }

    fn add(&mut self, message: DeviceMessage) {
        match message {
            DeviceMessage::TagRead(tag) => self.tags.push(tag),
            DeviceMessage::GateEvent(event) => self.events.push(event),
            DeviceMessage::Passage(passage) => self.passages.push(passage),
            DeviceMessage::TraceChunk(chunk) => {
                self.chunks.entry((chunk.key.boot, chunk.passage)).or_default().insert(chunk.chunk, chunk);
            }
            _ => {}
        }
    }

    /// Where a time of a boot lies, where that may be said by now.
    fn placed(
        &mut self,
        boot: u32,
        time: Milliseconds,
        over: bool,
        counts: &mut PlacedCounts,
    ) -> Result<Option<Placed>, StoreError> {
        let placed = self.clock(boot)?.place(time);
        counts.untimed += u32::from(placed.is_none());
        // A time that no lane was ever at is none: the item stays where it is, and is told of.
        let placed = placed.filter(|placed| TIMES_MS.contains(&placed.utc_ms));
        let future = placed.is_some_and(|placed| placed.utc_ms > self.latest_ms);
        counts.future += u32::from(future);
        let placed = placed.filter(|_| !future);
        Ok(placed.filter(|placed| over || placed.error_ms <= SURE_MS))
    }
}

/// A tag read again within this, ms, is no news. Our choice.
const SAME_READ_MS: i64 = 500;
/// The years 2000 to 2200, UTC, ms since the Unix epoch. Our choice: whatever lies outside is no time of a passage.
const TIMES_MS: std::ops::Range<f64> = 946_684_800_000.0..7_258_118_400_000.0;

/// Moment of a placed time.
#[must_use]
#[allow(clippy::cast_possible_truncation, reason = "a float cast saturates")]
pub fn timestamp(placed: &Placed) -> Timestamp {
    Timestamp::from_millisecond(placed.utc_ms.round() as i64).unwrap_or_default()
}

fn measured(lane: &str, placed: &Placed, summary: PassageSummary, trace: Option<Vec<u8>>) -> NewPassage {
    NewPassage {
        lane: lane.to_owned(),
        time: timestamp(placed),
        animal: None,
        evidence: "no tag".to_owned(),
        summary,
        trace,
    }
}

/// The stretch of time in which something was placed.
#[derive(Clone, Copy, Debug, Default)]
struct Touched(Option<(i64, i64)>);

impl Touched {
    fn add(&mut self, time: &Timestamp) {
        let time = time.as_millisecond();
        let (from, to) = self.0.unwrap_or((time, time));
        self.0 = Some((from.min(time), to.max(time)));
    }

    /// Names the passages of the stretch by its tag reads.
    fn rematch(self, store: &Store, lane: &str) -> Result<(), StoreError> {
        self.0.map_or(Ok(()), |(from, to)| identity::rematch(store, lane, from, to).map(|_| ()))
    }
}

/// The chunks as one run of samples. `None` where there are none, or one of them is damaged or missing.
fn whole_trace(passage: &Passage, pieces: &BTreeMap<u16, TraceChunk>) -> Option<Vec<u8>> {
    if pieces.is_empty() || pieces.len() < usize::from(passage.trace_chunks) {
        return None;
    }
    let mut encoder = TraceEncoder::new();
    let mut bytes = Vec::new();
    let mut room = [0; trace::MAX_SAMPLE_BYTES];
    for chunk in pieces.values() {
        for sample in TraceDecoder::new(&chunk.data) {
            let length = encoder.push(&sample.ok()?, &mut room)?;
            bytes.extend_from_slice(&room[..length]);
        }
    }
    Some(bytes)
}
