//! Gives what devices sent its place in time: passages with their traces, and tag reads.
//!
//! An item is placed once its boot's clock is known well enough, and a passage once its trace is whole. Until
//! then it waits in the store, safe and acknowledged. What can be placed no better is placed as well as can be
//! when the connection ends or a later boot has begun; what belongs to a boot that never saw a host stays.

use super::clock::{ClockMap, Placed};
use crate::{
    herd::AnimalId,
    store::{NewPassage, SourceId, Store, StoreError, TagRead, WaitingItem},
};
use jiff::Timestamp;
use shared::{
    units::Milliseconds,
    wire::{
        Decoded, DeviceId, DeviceMessage, ItemKey, Passage, TraceChunk, TraceDecoder, TraceEncoder, decode,
        trace,
    },
};
use std::collections::BTreeMap;

/// Times are placed at once where they are this sure, ms: what the format promises.
pub const SURE_MS: f64 = 50.0;

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
}

/// Moment of a placed time.
#[must_use]
#[allow(clippy::cast_possible_truncation, reason = "a float cast saturates")]
pub fn timestamp(placed: &Placed) -> Timestamp {
    Timestamp::from_millisecond(placed.utc_ms.round() as i64).unwrap_or_default()
}

/// Places what waits of a device, in one transaction of the caller's.
///
/// # Errors
/// When the store cannot be read or written.
pub fn place(
    store: &Store,
    source: SourceId,
    device: DeviceId,
    waiting: Waiting,
) -> Result<PlacedCounts, StoreError> {
    let mut counts = PlacedCounts::default();
    let mut touched = Touched::default();
    let Some(known) = store.device(device)? else { return Ok(counts) };
    let lane = known.lane();
    let items = store.waiting_items(device)?;
    let mut maps: BTreeMap<u32, ClockMap> = BTreeMap::new();
    let mut chunks: BTreeMap<u32, BTreeMap<u16, TraceChunk>> = BTreeMap::new();
    let mut passages = Vec::new();
    for WaitingItem { key, payload } in items {
        match decode::<DeviceMessage>(&payload) {
            Decoded::Message(DeviceMessage::TraceChunk(chunk)) => {
                chunks.entry(chunk.passage).or_default().insert(chunk.chunk, chunk);
            }
            Decoded::Message(DeviceMessage::Passage(passage)) => passages.push(passage),
            Decoded::Message(DeviceMessage::TagRead(tag)) => {
                let over = waiting == Waiting::NoLonger || key.boot < known.boot;
                let Some(placed) = placed(store, &mut maps, device, key, tag.time, over, &mut counts)? else {
                    continue;
                };
                let animal = AnimalId(tag.code.to_string());
                touched.add(&timestamp(&placed));
                if store.insert_tag_read(&lane, &TagRead { time: timestamp(&placed), animal })? {
                    counts.tags += 1;
                } else {
                    counts.already += 1;
                }
                store.item_placed(device, key, placed.error_ms)?;
            }
            _ => {}
        }
    }
    for passage in passages {
        let over = waiting == Waiting::NoLonger || passage.key.boot < known.boot;
        let none = BTreeMap::new();
        let pieces = chunks.get(&passage.passage).unwrap_or(&none);
        if pieces.len() < usize::from(passage.trace_chunks) && !over {
            continue;
        }
        let start = passage.summary.start;
        let Some(placed) = placed(store, &mut maps, device, passage.key, start, over, &mut counts)? else {
            continue;
        };
        let new = NewPassage {
            lane: lane.clone(),
            time: timestamp(&placed),
            animal: None,
            evidence: "no tag".to_owned(),
            summary: passage.summary,
            trace: whole_trace(&passage, pieces),
        };
        touched.add(&new.time);
        match store.insert_measured(&new, source)? {
            crate::store::Insert::Added => counts.passages += 1,
            _ => counts.already += 1,
        }
        store.item_placed(device, passage.key, placed.error_ms)?;
        for chunk in pieces.values() {
            store.item_placed(device, chunk.key, placed.error_ms)?;
        }
    }
    touched.rematch(store, &lane)?;
    Ok(counts)
}

/// The stretch of time in which something was placed.
#[derive(Clone, Copy, Debug, Default)]
pub struct Touched(Option<(i64, i64)>);

impl Touched {
    /// Something was placed then.
    pub fn add(&mut self, time: &Timestamp) {
        let time = time.as_millisecond();
        let (from, to) = self.0.unwrap_or((time, time));
        self.0 = Some((from.min(time), to.max(time)));
    }

    /// Names the passages of the stretch by its tag reads.
    ///
    /// # Errors
    /// When the store fails.
    pub fn rematch(self, store: &Store, lane: &str) -> Result<(), StoreError> {
        self.0.map_or(Ok(()), |(from, to)| crate::identity::rematch(store, lane, from, to).map(|_| ()))
    }
}

/// Where a time of an item lies, where that may be said by now.
fn placed(
    store: &Store,
    maps: &mut BTreeMap<u32, ClockMap>,
    device: DeviceId,
    key: ItemKey,
    time: Milliseconds,
    over: bool,
    counts: &mut PlacedCounts,
) -> Result<Option<Placed>, StoreError> {
    if let std::collections::btree_map::Entry::Vacant(place) = maps.entry(key.boot) {
        place.insert(ClockMap::of(store.clock_points(device, key.boot)?));
    }
    let placed = maps.get(&key.boot).and_then(|map| map.place(time));
    if placed.is_none() {
        counts.untimed += 1;
    }
    Ok(placed.filter(|placed| over || placed.error_ms <= SURE_MS))
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
