//! Frames over a byte port, and what may be in flight.
//!
//! The port never makes the lane wait: bytes go out while the port takes them, and one frame at a time is on its
//! way. Items of the journal go out in order, a few unacknowledged at a time; without an acknowledgement for a
//! while they are sent again from the first missing one, and a host that stays silent must say hello again.

use embedded_io::{Read, ReadReady, Write, WriteReady};
use heapless::Deque;
use shared::{
    limits::MAX_FRAME_BYTES,
    units::Milliseconds,
    wire::{Decoded, DeviceMessage, Feed, FrameReader, HostMessage, decode, encode_frame},
};

/// A byte port that can be asked before it is used.
pub trait Port: Read + ReadReady + Write + WriteReady {}
impl<P: Read + ReadReady + Write + WriteReady> Port for P {}

/// Items sent and not acknowledged, at most (our choice: 2 KiB, a fifth of a second at 115,200 baud).
pub const WINDOW: usize = 8;
/// Wait for an acknowledgement before items are sent again, ms (our choice: a host commits in far less).
pub const RESEND_AFTER_MS: u64 = 3_000;
/// Rounds without any acknowledgement after which the host is believed gone (our choice).
const ROUNDS: u8 = 3;
/// Bytes taken from the port in one turn.
const CHUNK: usize = 64;

/// Frames in and out.
pub struct Link<P> {
    port: P,
    reader: FrameReader,
    input: [u8; CHUNK],
    taken: usize,
    got: usize,
    out: [u8; MAX_FRAME_BYTES],
    from: usize,
    to: usize,
}

impl<P: Port> Link<P> {
    /// A link on a port.
    pub const fn new(port: P) -> Self {
        Self {
            port,
            reader: FrameReader::new(),
            input: [0; CHUNK],
            taken: 0,
            got: 0,
            out: [0; MAX_FRAME_BYTES],
            from: 0,
            to: 0,
        }
    }

    /// Frames of the host that were broken, or no message, since boot.
    #[must_use]
    pub const fn dropped(&self) -> u32 {
        self.reader.counts().dropped
    }

    /// The port.
    pub const fn port(&mut self) -> &mut P {
        &mut self.port
    }

    /// The next message of the host, if one has come in.
    ///
    /// # Errors
    /// The port failed.
    // A frame of its own, which is gone when the message is obeyed.
    #[inline(never)]
    pub fn receive(&mut self) -> Result<Option<HostMessage>, P::Error> {
        loop {
            if self.taken == self.got {
                if !self.port.read_ready()? {
                    return Ok(None);
                }
                (self.taken, self.got) = (0, self.port.read(&mut self.input)?);
            }
            let bytes = self.input.get(self.taken..self.got).unwrap_or_default();
            let (left, payload) = match self.reader.push(bytes) {
                Feed::NeedMore => (0, None),
                Feed::Dropped { rest } => (rest.len(), None),
                Feed::Frame { payload, rest } => (rest.len(), Some(payload)),
            };
            self.taken = self.got.saturating_sub(left);
            // Kinds of a newer host, echoes of ourselves and senseless bodies are passed over.
            if let Some(Decoded::Message(message)) = payload.map(decode::<HostMessage>) {
                return Ok(Some(message));
            }
            if self.got == 0 {
                return Ok(None);
            }
        }
    }

    /// Pushes bytes out while the port takes them. True when nothing is left to go.
    ///
    /// # Errors
    /// The port failed.
    pub fn push(&mut self) -> Result<bool, P::Error> {
        while self.from < self.to {
            if !self.port.write_ready()? {
                return Ok(false);
            }
            let left = self.out.get(self.from..self.to).unwrap_or_default();
            self.from += self.port.write(left)?;
        }
        Ok(true)
    }

    /// Whether nothing is on its way.
    #[must_use]
    pub const fn is_idle(&self) -> bool {
        self.from >= self.to
    }

    /// Puts a message on its way. Only when [`Self::push`] has said that nothing is left.
    pub fn send(&mut self, message: &DeviceMessage) {
        (self.from, self.to) = (0, encode_frame(message, &mut self.out).unwrap_or(0));
    }

    /// Puts a frame on its way that is already made.
    pub fn send_frame(&mut self, frame: &[u8]) {
        if let Some(place) = self.out.get_mut(..frame.len()) {
            place.copy_from_slice(frame);
            (self.from, self.to) = (0, frame.len());
        }
    }
}

/// Which items of the journal are on their way.
#[derive(Debug, Default)]
pub struct Flight {
    sent: Deque<u32, WINDOW>,
    next: u32,
    again_at: Option<Milliseconds>,
    rounds: u8,
    open: bool,
}

impl Flight {
    /// Begins again from the oldest item: a host has said hello.
    pub fn open(&mut self) {
        *self = Self { open: true, ..Self::default() };
    }

    /// Whether everything sent before `end` still waits for its acknowledgement, so that there is nothing to do.
    #[must_use]
    pub fn is_behind(&self, end: u32, waiting: u32) -> bool {
        self.next >= end || self.sent.len() as u32 >= waiting
    }

    /// Stops sending until the next hello.
    pub fn close(&mut self) {
        *self = Self::default();
    }

    /// Whether a host listens.
    #[must_use]
    pub const fn is_open(&self) -> bool {
        self.open
    }

    /// The lowest number that may be sent now, if any may.
    pub fn next(&mut self, now: Milliseconds) -> Option<u32> {
        if self.again_at.is_some_and(|time| now >= time) {
            self.rounds = self.rounds.saturating_add(1);
            self.next = self.sent.front().copied().unwrap_or(0);
            self.sent.clear();
            self.again_at = None;
            if self.rounds >= ROUNDS {
                self.close();
            }
        }
        (self.open && !self.sent.is_full()).then_some(self.next)
    }

    /// An item went out.
    pub fn sent(&mut self, number: u32, now: Milliseconds) {
        self.next = number.saturating_add(1);
        let _ = self.sent.push_back(number);
        self.again_at.get_or_insert(Milliseconds(now.0 + RESEND_AFTER_MS));
    }

    /// The host has these.
    pub fn acknowledged(&mut self, first: u32, last: u32, now: Milliseconds) {
        let before = self.sent.len();
        self.sent.retain(|number| !(first..=last).contains(number));
        if self.sent.len() < before {
            self.rounds = 0;
            self.again_at = (!self.sent.is_empty()).then_some(Milliseconds(now.0 + RESEND_AFTER_MS));
        }
    }
}
