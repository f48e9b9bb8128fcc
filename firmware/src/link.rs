//! Frames over a byte port, and what may be in flight.
//!
//! The port never makes the lane wait: bytes go out while the port takes them, and one frame at a time is on its
//! way. Items of the journal go out in order, a few unacknowledged at a time; without an acknowledgement for a
//! while they are sent again from the first missing one, and a host that stays silent must say hello again.

use embedded_io::{Read, ReadReady, Write, WriteReady};
use heapless::Deque;
use shared::{
    limits::MAX_SEALED_FRAME_BYTES,
    units::Milliseconds,
    wire::{
        Decoded, DeviceId, DeviceMessage, Feed, FrameReader, HostMessage, LinkKey, Opening, Paired, Sealed,
        decode, encode_frame, is_sealed,
    },
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

/// What a paired device goes by.
struct Pairing {
    key: LinkKey,
    /// Who we are, in which boot, and how many connections were opened in it.
    said: Paired,
    /// The connection, once it is open.
    sealed: Option<Sealed>,
}

/// Frames in and out. A paired device hears nothing but a host that opens a connection with its key, and then only
/// what is sealed.
pub struct Link<P> {
    port: P,
    reader: FrameReader,
    input: [u8; CHUNK],
    taken: usize,
    got: usize,
    out: [u8; MAX_SEALED_FRAME_BYTES],
    from: usize,
    to: usize,
    pairing: Option<Pairing>,
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
            out: [0; MAX_SEALED_FRAME_BYTES],
            from: 0,
            to: 0,
            pairing: None,
        }
    }

    /// Goes by this key from now on, or by none.
    pub fn pair(&mut self, key: Option<LinkKey>, device: DeviceId, boot: u32) {
        // Counting goes on: an opening of before must not open anything again.
        let count = self.pairing.as_ref().map_or(0, |pairing| pairing.said.count);
        self.pairing = key.map(|key| Pairing { key, said: Paired { device, boot, count }, sealed: None });
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
            let length = payload.map(<[u8]>::len);
            if let Some(message) = length.and_then(|length| self.heard(length)) {
                return Ok(Some(message));
            }
            if self.got == 0 {
                return Ok(None);
            }
        }
    }

    /// The message in the payload of this length that has just come in. Kinds of a newer host, echoes of ourselves and
    /// senseless bodies are passed over, and so is what a paired device must not hear: to that its
    /// hello is the answer, by which the host knows whom to open.
    #[inline(never)]
    fn heard(&mut self, length: usize) -> Option<HostMessage> {
        let payload = self.reader.payload_mut(length);
        let message = |payload: &[u8]| match decode::<HostMessage>(payload) {
            Decoded::Message(message) => Some(message),
            _ => None,
        };
        let Some(pairing) = &mut self.pairing else { return message(payload) };
        if is_sealed(payload) {
            return pairing.sealed.as_mut().and_then(|sealed| sealed.unseal(payload)).and_then(message);
        }
        match message(payload)? {
            HostMessage::Open { random, count } if count == pairing.said.count => {
                let Paired { device, boot, count } = pairing.said;
                let opening = Opening { host: random, device, boot, count };
                pairing.sealed = Some(Sealed::open::<DeviceMessage>(&pairing.key, &opening));
                pairing.said.count = count.wrapping_add(1);
                None
            }
            // Somebody who does not know of the pairing, or of this boot, calls: as after a new connection.
            hello @ HostMessage::Hello(_) => {
                pairing.sealed = None;
                Some(hello)
            }
            _ => None,
        }
    }

    /// Whether nothing may be said but that we are paired.
    #[must_use]
    pub const fn is_locked(&self) -> bool {
        matches!(&self.pairing, Some(Pairing { sealed: None, .. }))
    }

    /// Whether a host with our key speaks, and nobody else is heard.
    #[must_use]
    pub const fn is_sealed(&self) -> bool {
        matches!(&self.pairing, Some(Pairing { sealed: Some(_), .. }))
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
    #[inline(never)]
    pub fn send(&mut self, message: &DeviceMessage) {
        let length = match &mut self.pairing {
            None => encode_frame(message, &mut self.out).ok(),
            Some(Pairing { sealed: Some(sealed), .. }) => sealed.seal_message(message, &mut self.out).ok(),
            Some(pairing) => match message {
                DeviceMessage::Hello(_) => {
                    encode_frame(&DeviceMessage::Paired(pairing.said), &mut self.out).ok()
                }
                _ => None,
            },
        };
        (self.from, self.to) = (0, length.unwrap_or(0));
    }

    /// Puts a frame on its way that is already made.
    pub fn send_frame(&mut self, frame: &[u8]) {
        let length = match &mut self.pairing {
            None => self.out.get_mut(..frame.len()).map(|place| {
                place.copy_from_slice(frame);
                frame.len()
            }),
            Some(Pairing { sealed: Some(sealed), .. }) => seal_frame(sealed, frame, &mut self.out),
            Some(_) => None,
        };
        (self.from, self.to) = (0, length.unwrap_or(0));
    }
}

/// Seals a frame as the journal keeps it.
#[inline(never)]
fn seal_frame(sealed: &mut Sealed, frame: &[u8], out: &mut [u8]) -> Option<usize> {
    let mut reader = FrameReader::new();
    match reader.push(frame) {
        Feed::Frame { payload, .. } => sealed.seal(payload, out).ok(),
        _ => None,
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

#[cfg(test)]
mod tests;
