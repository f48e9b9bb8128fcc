//! A device in memory, written from the format's description, and a line that delays, flips and cuts.

use crate::link::session::{Now, Session};
use crate::link::{Keeper, Notice, SessionError};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use shared::{
    analysis::{LegContacts, PassageKind, PassageSummary, Quality},
    limits::MAX_FRAME_BYTES,
    plate::{PerLeg, PerPlate},
    units::Milliseconds,
    wire::*,
};
use std::collections::VecDeque;

/// Items sent and not acknowledged at a time.
const WINDOW: usize = 8;
/// Then they are sent again, ms.
const AGAIN_MS: u64 = 3_000;
/// UTC when the simulation begins, ms since the Unix epoch.
pub const START_UTC_MS: f64 = 1_767_225_600_000.0;
/// A step of the simulation, ms.
const STEP_MS: u64 = 5;

/// A frame of a device's message.
pub fn frame(message: &DeviceMessage) -> Vec<u8> {
    let mut out = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut out).expect("fits");
    out[..length].to_vec()
}

/// What a device that has kept nothing says first.
pub fn hello(device: DeviceId, name: &str) -> DeviceHello {
    DeviceHello {
        schema: SCHEMA,
        oldest: OLDEST_SCHEMA,
        device,
        boot: 1,
        firmware: [0, 1, 0],
        rate_hz: 100,
        full_scale: 8_388_607,
        next_sequence: 1,
        waiting: 0,
        name: name.try_into().expect("short"),
    }
}

/// A passage that began then, by the device's clock.
pub fn summary(start: Milliseconds) -> PassageSummary {
    PassageSummary {
        start,
        duration: Milliseconds(4_000),
        kind: PassageKind::WalkThrough,
        quality: Quality::default(),
        readings: 400,
        lost_readings: 0,
        body_weight: None,
        standing: None,
        walking: PerLeg([LegContacts::default(); 4]),
    }
}

/// The device.
pub struct FakeDevice {
    pub id: DeviceId,
    pub schema: u16,
    pub oldest: u16,
    pub boot: u32,
    /// What its journal is called.
    pub name: u64,
    /// How fast its clock runs, ppm.
    pub ppm: f64,
    /// Says nothing of acknowledgements it got: they do not reach its journal.
    pub deaf: bool,
    booted_at: f64,
    pub journal: Vec<(u32, DeviceMessage)>,
    pub sequence: u32,
    passage: u32,
    reader: FrameReader,
    greeted: bool,
    in_flight: usize,
    again_at: u64,
    out: Vec<u8>,
    pub heard: Vec<HostMessage>,
}

impl FakeDevice {
    pub fn new(ppm: f64) -> Self {
        Self {
            id: DeviceId(77),
            schema: 1,
            oldest: 1,
            boot: 1,
            name: 0,
            ppm,
            deaf: false,
            booted_at: 0.0,
            journal: Vec::new(),
            sequence: 1,
            passage: 1,
            reader: FrameReader::new(),
            greeted: false,
            in_flight: 0,
            again_at: 0,
            out: Vec::new(),
            heard: Vec::new(),
        }
    }

    /// Its clock at a true time.
    pub fn clock(&self, true_ms: f64) -> Milliseconds {
        Milliseconds(((true_ms - self.booted_at) * (1.0 + self.ppm * 1e-6)) as u64)
    }

    pub fn reboot(&mut self, true_ms: f64) {
        self.boot += 1;
        self.booted_at = true_ms;
        self.disconnect();
        self.say(&self.hello());
    }

    pub fn disconnect(&mut self) {
        self.reader = FrameReader::new();
        self.greeted = false;
        self.in_flight = 0;
        self.out.clear();
    }

    pub fn hello(&self) -> DeviceMessage {
        DeviceMessage::Hello(DeviceHello {
            schema: self.schema,
            oldest: self.oldest,
            boot: self.boot,
            next_sequence: self.sequence,
            waiting: self.journal.len() as u32,
            ..hello(self.id, "East")
        })
    }

    fn key(&mut self) -> ItemKey {
        let key = ItemKey { boot: self.boot, sequence: self.sequence };
        self.sequence += 1;
        key
    }

    fn keep(&mut self, key: ItemKey, message: DeviceMessage) {
        self.journal.push((key.sequence, message));
    }

    /// A cow passes: her tag, two trace chunks, her passage.
    pub fn cow(&mut self, true_ms: f64, national: u64) {
        let time = self.clock(true_ms);
        let key = self.key();
        let code = shared::identity::AnimalCode::new(999, national).expect("possible");
        self.keep(key, DeviceMessage::TagRead(TagRead { key, time, code }));
        let passage = self.passage;
        self.passage += 1;
        for chunk in 0..2u16 {
            let (mut encoder, mut data) = (TraceEncoder::new(), Vec::new());
            for sample in 0..20u64 {
                let at = Milliseconds(time.0 + u64::from(chunk) * 200 + sample * 10);
                let mut room = [0; trace::MAX_SAMPLE_BYTES];
                let sample = Sample { time: at, values: PerPlate([i32::from(chunk), 1, 2, sample as i32]) };
                let length = encoder.push(&sample, &mut room).expect("fits");
                data.extend(room[..length].iter().copied());
            }
            let key = self.key();
            self.keep(
                key,
                DeviceMessage::TraceChunk(TraceChunk {
                    key,
                    passage,
                    chunk,
                    data: data.into_iter().collect(),
                }),
            );
        }
        let key = self.key();
        let passage = Passage { key, passage, trace_chunks: 2, summary: summary(time) };
        self.keep(key, DeviceMessage::Passage(passage));
    }

    pub fn say(&mut self, message: &DeviceMessage) {
        self.out.extend(frame(message));
    }

    fn receive(&mut self, bytes: &[u8], true_ms: f64) {
        let heard = &mut self.heard;
        self.reader.payloads(bytes, |payload| {
            if let Decoded::Message(message) = decode::<HostMessage>(payload) {
                heard.push(message);
            }
        });
        for message in std::mem::take(&mut self.heard) {
            self.follow(message, true_ms);
        }
    }

    fn follow(&mut self, message: HostMessage, true_ms: f64) {
        match message {
            HostMessage::Hello(_) => {
                self.greeted = true;
                self.in_flight = 0;
                self.again_at = 0;
                self.say(&self.hello());
                if self.schema >= JOURNAL_SCHEMA {
                    self.say(&DeviceMessage::Journal(self.name));
                }
            }
            HostMessage::NameJournal(name) => {
                self.name = name;
                self.say(&DeviceMessage::Journal(name));
            }
            HostMessage::Acknowledge { first, last } if !self.deaf => {
                let before = self.journal.len();
                self.journal.retain(|(sequence, _)| !(first..=last).contains(sequence));
                self.in_flight = self.in_flight.saturating_sub(before - self.journal.len());
            }
            HostMessage::TimeRequest(request) => {
                let now = self.clock(true_ms);
                self.say(&DeviceMessage::TimeReply(TimeReply {
                    host_sent_ms: request.host_sent_ms,
                    round_trip_ms: request.round_trip_ms,
                    boot: self.boot,
                    received: now,
                    sent: now,
                }));
            }
            _ => {}
        }
    }

    fn step(&mut self, true_ms: u64) {
        if !self.greeted {
            return;
        }
        if self.in_flight > 0 && true_ms >= self.again_at {
            self.in_flight = 0;
        }
        while self.in_flight < WINDOW.min(self.journal.len()) {
            let bytes = frame(&self.journal[self.in_flight].1);
            self.out.extend(bytes);
            self.in_flight += 1;
            self.again_at = true_ms + AGAIN_MS;
        }
    }
}

/// One direction of a line.
struct Line {
    on_the_way: VecDeque<(u64, Vec<u8>)>,
}

impl Line {
    fn put(&mut self, mut bytes: Vec<u8>, now: u64, noise: f64, rng: &mut ChaCha8Rng) {
        if bytes.is_empty() {
            return;
        }
        if noise > 0.0 {
            for byte in &mut bytes {
                for bit in 0..8 {
                    if rng.random_bool(noise) {
                        *byte ^= 1 << bit;
                    }
                }
            }
        }
        let earliest = self.on_the_way.back().map_or(0, |(at, _)| *at);
        self.on_the_way.push_back((earliest.max(now + rng.random_range(1..=20)), bytes));
    }

    fn take(&mut self, now: u64) -> Option<Vec<u8>> {
        self.on_the_way.pop_front_if(|(at, _)| *at <= now).map(|(_, bytes)| bytes)
    }
}

/// A device, a line and the true time.
pub struct World {
    pub device: FakeDevice,
    /// True time since the simulation began, ms.
    pub now: u64,
    /// How far the host's UTC is off, ms.
    pub host_off_ms: i64,
    /// Probability that a bit flips on the line.
    pub noise: f64,
    pub rng: ChaCha8Rng,
    to_host: Line,
    to_device: Line,
}

impl World {
    pub fn new(device: FakeDevice, rng: ChaCha8Rng) -> Self {
        let line = || Line { on_the_way: VecDeque::new() };
        Self { device, now: 0, host_off_ms: 0, noise: 0.0, rng, to_host: line(), to_device: line() }
    }

    /// The host's clocks.
    pub fn host_now(&self) -> Now {
        Now {
            utc_ms: START_UTC_MS as i64 + self.now as i64 + self.host_off_ms,
            monotonic_ms: self.now + 1_000,
        }
    }

    /// A cow passes now.
    pub fn cow(&mut self, national: u64) {
        self.device.cow(self.now as f64, national);
    }

    /// Cuts the connection: what is on the way is lost.
    pub fn cut(&mut self) {
        self.to_host.on_the_way.clear();
        self.to_device.on_the_way.clear();
        self.device.disconnect();
    }

    /// Lets time go by with a session on the line.
    pub fn run<K: Keeper>(
        &mut self,
        session: &mut Session<K>,
        milliseconds: u64,
    ) -> Result<Vec<Notice>, SessionError<K::Error>> {
        let end = self.now + milliseconds;
        let mut notices = Vec::new();
        while self.now < end {
            self.now += STEP_MS;
            while let Some(bytes) = self.to_device.take(self.now) {
                self.device.receive(&bytes, self.now as f64);
            }
            self.device.step(self.now);
            let out = std::mem::take(&mut self.device.out);
            self.to_host.put(out, self.now, self.noise, &mut self.rng);
            while let Some(bytes) = self.to_host.take(self.now) {
                session.receive(&bytes, self.host_now())?;
            }
            session.tick(self.host_now())?;
            let out = session.take_output();
            self.to_device.put(out, self.now, self.noise, &mut self.rng);
            notices.extend(session.take_notices());
        }
        Ok(notices)
    }
}
