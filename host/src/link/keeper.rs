//! Where a session puts what it receives.

use crate::link::place::{Placer, Waiting};
use crate::record::ClockPoint;
use crate::store::{SourceCounts, SourceId, Store, StoreError};
use jiff::Timestamp;
use shared::{
    limits::MAX_PAYLOAD_BYTES,
    wire::{DeviceHello, DeviceId, DeviceMessage, Health, ItemKey, LinkKey, payload_of},
};
use std::collections::{BTreeMap, btree_map::Entry};

/// Something the device keeps until it is acknowledged.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptItem {
    /// Its name.
    pub key: ItemKey,
    /// The message.
    pub message: DeviceMessage,
}

impl KeptItem {
    /// The item of a message, or the message back where it is none.
    ///
    /// # Errors
    /// The message, boxed.
    pub fn of(message: DeviceMessage) -> Result<Self, Box<DeviceMessage>> {
        let key = match &message {
            DeviceMessage::Passage(passage) => passage.key,
            DeviceMessage::TraceChunk(chunk) => chunk.key,
            DeviceMessage::TagRead(tag) => tag.key,
            DeviceMessage::GateEvent(event) => event.key,
            _ => return Err(Box::new(message)),
        };
        Ok(Self { key, message })
    }

    /// The payload, from sender to body.
    #[must_use]
    pub fn payload(&self) -> Vec<u8> {
        // It came in a frame, so it fits one.
        payload_of(&self.message, &mut [0; MAX_PAYLOAD_BYTES]).unwrap_or_default().to_vec()
    }
}

/// What became of a batch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Kept {
    /// Passages that are new.
    pub passages: u32,
    /// Tag reads that are new.
    pub tags: u32,
    /// Trace chunks that are new.
    pub chunks: u32,
    /// Events at a gate that are new.
    pub events: u32,
    /// Items that were here before.
    pub already: u32,
}

impl Kept {
    /// Items that are new.
    #[must_use]
    pub const fn new_items(&self) -> u32 {
        self.passages + self.tags + self.chunks + self.events
    }

    /// What a source brought, with every item a row.
    #[must_use]
    pub fn as_source(&self) -> SourceCounts {
        SourceCounts {
            rows: u64::from(self.new_items() + self.already),
            added: u64::from(self.new_items()),
            already: u64::from(self.already),
            ..SourceCounts::default()
        }
    }

    pub(crate) const fn count(&mut self, message: &DeviceMessage, new: bool) {
        match message {
            _ if !new => self.already += 1,
            DeviceMessage::Passage(_) => self.passages += 1,
            DeviceMessage::TagRead(_) => self.tags += 1,
            DeviceMessage::GateEvent(_) => self.events += 1,
            _ => self.chunks += 1,
        }
    }

    /// Adds another batch.
    pub const fn add(&mut self, other: &Self) {
        self.passages += other.passages;
        self.tags += other.tags;
        self.chunks += other.chunks;
        self.events += other.events;
        self.already += other.already;
    }
}

/// Keeps what a session receives.
pub trait Keeper {
    /// Why it could not.
    type Error: std::error::Error + 'static;

    /// From where the boots of this journal of a device are counted on.
    ///
    /// # Errors
    /// Where it could not be kept.
    fn journal(&mut self, hello: &DeviceHello, journal: u64) -> Result<u32, Self::Error>;

    /// A device said hello.
    ///
    /// # Errors
    /// Where it could not be kept.
    fn meet(&mut self, hello: &DeviceHello, utc_ms: i64) -> Result<(), Self::Error>;

    /// The key that this device is paired with; none where it never was.
    ///
    /// # Errors
    /// Where it could not be read.
    fn key(&mut self, device: DeviceId) -> Result<Option<LinkKey>, Self::Error>;

    /// Commits items: when this returns `Ok`, no loss of power may lose them.
    ///
    /// # Errors
    /// Where they could not be kept; then the device will send them again.
    fn keep(&mut self, device: DeviceId, items: &[KeptItem]) -> Result<Kept, Self::Error>;

    /// The clocks were compared.
    ///
    /// # Errors
    /// Where it could not be kept.
    fn clock(&mut self, device: DeviceId, boot: u32, point: ClockPoint) -> Result<(), Self::Error>;

    /// The device said how it is.
    ///
    /// # Errors
    /// Where it could not be kept.
    fn health(&mut self, device: DeviceId, health: &Health, utc_ms: i64) -> Result<(), Self::Error>;

    /// The connection is over: whatever waits for more is given its best place.
    ///
    /// # Errors
    /// Where it could not be kept.
    fn settle(&mut self, device: DeviceId) -> Result<(), Self::Error>;
}

/// Keeps things in the store.
#[derive(Debug)]
pub struct StoreKeeper<'store> {
    store: &'store Store,
    source: SourceId,
    placers: BTreeMap<DeviceId, Placer<'store>>,
}

impl<'store> StoreKeeper<'store> {
    /// Keeps things in `store` as coming from `source`.
    #[must_use]
    pub const fn new(store: &'store Store, source: SourceId) -> Self {
        Self { store, source, placers: BTreeMap::new() }
    }

    fn placer(&mut self, device: DeviceId) -> Result<&mut Placer<'store>, StoreError> {
        Ok(match self.placers.entry(device) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(place) => place.insert(Placer::open(self.store, self.source, device)?),
        })
    }

    /// Does work on a device's items as one transaction. Where it fails, what the placer remembers is wrong.
    fn work<T>(
        &mut self,
        device: DeviceId,
        durably: bool,
        work: impl FnOnce(&mut Placer<'store>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let store = self.store;
        let placer = self.placer(device)?;
        let done =
            if durably { store.durable_batch(|_| work(placer)) } else { store.batch(|_| work(placer)) };
        if done.is_err() {
            self.placers.remove(&device);
        }
        done
    }
}

impl Keeper for StoreKeeper<'_> {
    type Error = StoreError;

    fn journal(&mut self, hello: &DeviceHello, journal: u64) -> Result<u32, StoreError> {
        self.store.journal_base(hello.device, hello.boot, journal)
    }

    fn meet(&mut self, hello: &DeviceHello, utc_ms: i64) -> Result<(), StoreError> {
        self.store.meet_device(hello, utc_ms)
    }

    fn key(&mut self, device: DeviceId) -> Result<Option<LinkKey>, StoreError> {
        self.store.link_key(device)
    }

    fn keep(&mut self, device: DeviceId, items: &[KeptItem]) -> Result<Kept, StoreError> {
        let kept = self.work(device, true, |placer| {
            let mut kept = Kept::default();
            for item in items {
                kept.count(&item.message, placer.keep(item)?);
            }
            if kept.passages + kept.tags + kept.events > 0 {
                placer.place(Waiting::ForMore)?;
            }
            Ok(kept)
        });
        if let Err(StoreError::OtherItem { .. }) = kept {
            self.store.note_refused(device, Timestamp::now().as_millisecond())?;
        }
        // What was written to a file that is no longer there is not kept.
        self.store.still_there()?;
        kept
    }

    fn clock(&mut self, device: DeviceId, boot: u32, point: ClockPoint) -> Result<(), StoreError> {
        self.work(device, false, |placer| {
            if placer.compare(boot, point)? {
                placer.place(Waiting::ForMore)?;
            }
            Ok(())
        })
    }

    fn health(&mut self, device: DeviceId, health: &Health, utc_ms: i64) -> Result<(), StoreError> {
        self.store.put_health(device, health, utc_ms)
    }

    fn settle(&mut self, device: DeviceId) -> Result<(), StoreError> {
        self.work(device, false, |placer| placer.place(Waiting::NoLonger).map(|_| ()))
    }
}
