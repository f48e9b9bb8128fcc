//! A device in memory with a host beside it.

#![allow(dead_code, reason = "each test file uses its own part")]

use firmware::{
    fakes::{Board, Chance, Deck, FakePort, SharedFlash},
    scale::Moment,
};
use shared::{limits::MAX_FRAME_BYTES, units::Milliseconds, wire::*};

/// Time between readings at 200 Hz, ms.
pub const PERIOD_MS: u64 = 5;

/// The bytes of a message of the host.
pub fn host_frame(message: &HostMessage) -> Vec<u8> {
    let mut frame = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut frame).expect("fits");
    frame[..length].to_vec()
}

/// The messages in some bytes of the device.
pub fn messages(bytes: &[u8]) -> Vec<DeviceMessage> {
    let mut found = Vec::new();
    gather(&mut FrameReader::new(), bytes, |message| found.push(message));
    found
}

fn gather(reader: &mut FrameReader, bytes: &[u8], mut found: impl FnMut(DeviceMessage)) {
    reader.payloads(bytes, |payload| {
        if let Decoded::Message(message) = decode(payload) {
            found(message);
        }
    });
}

/// Number of an item, if it is one.
pub fn sequence(message: &DeviceMessage) -> Option<u32> {
    match message {
        DeviceMessage::Passage(passage) => Some(passage.key.sequence),
        DeviceMessage::TraceChunk(chunk) => Some(chunk.key.sequence),
        DeviceMessage::TagRead(tag) => Some(tag.key.sequence),
        _ => None,
    }
}

/// What a tag reader prints of an animal.
pub fn tag_line(national: u64) -> Vec<u8> {
    format!("999{national:012}\r\n").into_bytes()
}

/// The device, its plates, and a host that hears everything.
pub struct Rig {
    pub board: Board,
    pub deck: Deck,
    /// Time since boot, ms.
    pub now: u64,
    /// What the device said, in order.
    pub heard: Vec<DeviceMessage>,
    /// Whether the host acknowledges items.
    pub acknowledges: bool,
    /// Part of the readings that never comes.
    pub lost: f64,
    /// The converter gives nothing at all.
    pub silent: bool,
    pub chance: Chance,
    reader: FrameReader,
}

impl Rig {
    pub fn new(pages: usize, seed: u64) -> Self {
        Self::on(SharedFlash::new(pages), seed)
    }

    pub fn on(flash: SharedFlash, seed: u64) -> Self {
        let board = Board::boot(flash, FakePort::default(), ResetCause::PowerOn).expect("boots");
        Self {
            board,
            deck: Deck::new(seed),
            now: 0,
            heard: Vec::new(),
            acknowledges: true,
            lost: 0.0,
            silent: false,
            chance: Chance(seed),
            reader: FrameReader::new(),
        }
    }

    pub fn reboot(&mut self, reset: ResetCause) {
        self.board.reboot(reset).expect("boots");
        (self.now, self.reader) = (0, FrameReader::new());
    }

    pub fn moment(&self) -> Moment {
        Moment { clock: Milliseconds(self.now), timer: Milliseconds(self.now) }
    }

    pub fn say(&mut self, message: &HostMessage) {
        self.board.port.put(&host_frame(message));
    }

    pub fn hello(&mut self) {
        self.say(&HostMessage::Hello(HostHello { schema: SCHEMA, oldest: OLDEST_SCHEMA }));
    }

    /// Lets time go by.
    pub fn run(&mut self, milliseconds: u64) {
        let end = self.now + milliseconds;
        while self.now < end {
            self.now += PERIOD_MS;
            self.turn();
        }
    }

    fn turn(&mut self) {
        if self.silent || self.chance.happens(self.lost) {
            self.board.scale.idle(self.moment());
        } else {
            let sample = self.deck.sample(self.now);
            self.board.scale.sample(Milliseconds(self.now), &sample);
        }
        self.board.scale.talk(self.moment()).expect("the port works");
        let bytes = self.board.port.take();
        self.take(&bytes);
    }

    fn take(&mut self, bytes: &[u8]) {
        let (port, acknowledges) = (self.board.port.clone(), self.acknowledges);
        gather(&mut self.reader, bytes, |message| {
            if let Some(number) = sequence(&message).filter(|_| acknowledges) {
                port.put(&host_frame(&HostMessage::Acknowledge { first: number, last: number }));
            }
            self.heard.push(message);
        });
    }

    /// Lets a cow pass and the device get quiet again.
    pub fn cow(&mut self) {
        self.deck.cows.push(self.now + 1_000);
        self.run(14_000);
    }

    pub fn passages(&self) -> Vec<&Passage> {
        self.heard
            .iter()
            .filter_map(|message| match message {
                DeviceMessage::Passage(passage) => Some(passage),
                _ => None,
            })
            .collect()
    }

    pub fn tags(&self) -> Vec<&TagRead> {
        self.heard
            .iter()
            .filter_map(|message| match message {
                DeviceMessage::TagRead(tag) => Some(tag),
                _ => None,
            })
            .collect()
    }

    pub fn health(&self) -> &Health {
        let mut all = self.heard.iter().rev();
        all.find_map(|message| match message {
            DeviceMessage::Health(health) => Some(health),
            _ => None,
        })
        .expect("a health message came")
    }

    pub fn calibration(&self) -> Option<&CalibrationReply> {
        self.heard.iter().rev().find_map(|message| match message {
            DeviceMessage::CalibrationReply(reply) => Some(reply),
            _ => None,
        })
    }
}
