//! The other side of a device: a host that keeps what it says, and the host's own build of the device.

use super::{
    emulator::{Emulator, Heard},
    recording::Event,
};
use firmware::{
    blocking_flash::BlockingFlash,
    fakes::FakePort,
    journal::{Journal, Layout},
    load_cells::Sample,
    memory_flash::MemoryFlash,
    orders::Orders,
    scale::{Identity, Scale},
    settings::Store,
    update::VERSION,
};
use shared::{
    analysis::Analyser,
    limits::MAX_FRAME_BYTES,
    plate::PerPlate,
    units::Counts,
    wire::{
        Decoded, DeviceId, DeviceMessage, FrameReader, HostHello, HostMessage, ItemKey, Message,
        OLDEST_SCHEMA, ResetCause, SCHEMA, decode, encode_frame,
    },
};
use std::collections::BTreeMap;

/// The messages in the bytes of one direction, with their payloads.
///
/// # Panics
/// Where a whole frame is no message of ours.
pub fn messages<M: Message>(reader: &mut FrameReader, bytes: &[u8]) -> Vec<(M, Vec<u8>)> {
    let mut found = Vec::new();
    reader.payloads(bytes, |payload| {
        let Decoded::Message(message) = decode(payload) else { panic!("not our schema: {payload:?}") };
        found.push((message, payload.to_vec()));
    });
    found
}

/// The one message of a frame, with its payload.
///
/// # Panics
/// Where it is not one whole frame.
#[must_use]
pub fn message(frame: &[u8]) -> (DeviceMessage, Vec<u8>) {
    messages(&mut FrameReader::new(), frame).pop().expect("a whole frame")
}

/// The name of a message that is kept until it is acknowledged.
#[must_use]
pub const fn item_key(message: &DeviceMessage) -> Option<ItemKey> {
    match message {
        DeviceMessage::Passage(passage) => Some(passage.key),
        DeviceMessage::TraceChunk(chunk) => Some(chunk.key),
        DeviceMessage::TagRead(tag) => Some(tag.key),
        _ => None,
    }
}

/// A message as a frame.
///
/// # Panics
/// Where it does not fit.
#[must_use]
pub fn framed(message: &HostMessage) -> Vec<u8> {
    let mut frame = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut frame).expect("fits");
    frame[..length].to_vec()
}

/// A host that keeps everything and acknowledges it at once.
#[derive(Default)]
pub struct Host {
    reader: FrameReader,
    /// Payloads of what is kept until acknowledged, by their number.
    pub items: BTreeMap<u32, Vec<u8>>,
    /// The boot that has been greeted.
    boot: u32,
    /// Boots and their causes, as the health messages told them.
    pub causes: Vec<(u32, ResetCause)>,
}

impl Host {
    /// Takes what was heard, and answers.
    pub fn hear(&mut self, emulator: &mut Emulator, heard: &Heard) {
        let Heard::Device(bytes) = heard else { return };
        for (message, payload) in messages::<DeviceMessage>(&mut self.reader, bytes) {
            match (item_key(&message), message) {
                (Some(ItemKey { sequence, .. }), _) => {
                    self.items.insert(sequence, payload);
                    emulator.say(&framed(&HostMessage::Acknowledge { first: sequence, last: sequence }));
                }
                (_, DeviceMessage::Hello(hello)) if hello.boot != self.boot => {
                    self.boot = hello.boot;
                    let hello = HostHello { schema: SCHEMA, oldest: OLDEST_SCHEMA };
                    emulator.say(&framed(&HostMessage::Hello(hello)));
                }
                (_, DeviceMessage::Health(health)) => self.causes.push((health.boot, health.reset)),
                _ => {}
            }
        }
    }

    /// Listens until the emulator has ended.
    pub fn hear_out(&mut self, emulator: &mut Emulator) {
        emulator.finish(true);
        loop {
            match emulator.wait() {
                Heard::Ended => return,
                heard => self.hear(emulator, &heard),
            }
        }
    }
}

/// Frames that the host's build of the device keeps of events, by their number. With `over` the readings end with
/// them.
///
/// # Panics
/// Where the flash in memory does not work.
#[must_use]
pub fn kept_on_the_host(events: &[Event], over: bool) -> BTreeMap<u32, Vec<u8>> {
    let bytes = vec![0xFF; 4 << 20];
    let layout = Layout::of::<BlockingFlash<MemoryFlash<Vec<u8>>>>(bytes.len() as u32).expect("large enough");
    let mut journal = Journal::open(BlockingFlash(MemoryFlash(bytes)), &layout).expect("an empty flash");
    let settings = Store::load(journal.flash(), &layout);
    let mut analyser = Analyser::new(f32::from(settings.1.rate_hz));
    let identity = Identity {
        device: DeviceId(1),
        board: "host",
        firmware: VERSION,
        reset: ResetCause::PowerOn,
        full_scale: 0x7F_FFFF,
    };
    let mut orders = Orders::closed(&layout);
    orders.start(journal.flash(), settings.0.gate());
    let mut scale =
        Scale::new(identity, FakePort::default(), &mut journal, settings, &mut analyser, &mut orders);
    for event in events {
        match event {
            Event::Reading(time, counts) => {
                let counts = PerPlate(counts.0.map(Counts));
                scale.sample(*time, &Sample { counts });
            }
            Event::Tag(time, line) => line.iter().for_each(|byte| scale.tag_byte(*time, *byte)),
        }
    }
    if over {
        scale.finish();
    }
    let mut frames = BTreeMap::new();
    let mut from = 0;
    while let Some((number, frame)) = journal.next_from(from).expect("the flash works") {
        frames.insert(number, frame.to_vec());
        from = number + 1;
    }
    frames
}
