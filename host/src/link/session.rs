//! One connection with one device: hello, time, receive, store, acknowledge.
//!
//! Pure of input and output but for a draw of the system's random bytes: bytes and the time go in, bytes and notices
//! come out. Nothing is acknowledged before
//! the keeper has committed it. Where the keeper fails, nothing is acknowledged and the session is over; the
//! device sends everything again to the next one.
//!
//! With a paired device all is sealed, and what is not sealed is not heard. Over a network nobody else is believed.

use crate::link::journal::{JournalSpoken, Spoken};
use crate::link::keeper::{Keeper, Kept, KeptItem};
use crate::record::ClockPoint;
use shared::{
    limits::{MAX_FRAME_BYTES, MAX_SEALED_FRAME_BYTES},
    wire::{
        Decoded, DeviceHello, DeviceId, DeviceMessage, Feed, FrameCounts, FrameReader, Health, HostHello,
        HostMessage, OLDEST_SCHEMA, Opening, Paired, SCHEMA, Sealed, TimeRequest, decode, encode_frame,
        frame::frame_payload, hello_schema, is_sealed, speaks,
    },
};

/// Hello is said again after this long without an answer, ms; our choice.
const HELLO_AGAIN_MS: u64 = 3_000;
/// The first exchanges of times follow each other at this pace, ms; our choice: the best of them counts.
const FIRST_TIMES_MS: u64 = 500;
/// How many these are; our choice.
const FIRST_TIMES: u32 = 4;
/// Then the time is asked for at this pace, ms, as the format's description has it.
const TIME_AGAIN_MS: u64 = 60_000;
/// An answer to a time request that takes longer is of no use, ms; our choice.
const TIME_TOO_LATE_MS: u64 = 5_000;
/// After this long without a whole frame the device is believed gone, ms; our choice: two exchanges missed.
const SILENT_MS: u64 = 150_000;

/// The host's two clocks at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Now {
    /// UTC, ms since the Unix epoch; may be set at any time.
    pub utc_ms: i64,
    /// A clock that is never set, ms.
    pub monotonic_ms: u64,
}

/// What lies between us and the device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Line {
    /// A cable, or this machine itself.
    Cable,
    /// A network, where anybody may speak.
    Network,
}

/// Something that a person may want to know.
#[derive(Clone, Debug, PartialEq)]
pub enum Notice {
    /// A device said hello.
    Hello(Box<DeviceHello>),
    /// The device's schema cannot be followed: nothing is stored or acknowledged.
    Schema {
        /// The schema it speaks.
        schema: u16,
        /// The oldest one a reader must know.
        oldest: u16,
    },
    /// A device that is not paired speaks over a network, or one that was speaks as if it were not: it is not believed.
    NotPaired(DeviceId),
    /// A device is paired, and its key is not in this store.
    Locked(DeviceId),
    /// Items were committed.
    Kept(Kept),
    /// The device said how it is.
    Health(Box<Health>),
    /// The clocks were compared.
    Clock(ClockPoint),
    /// Any other answer of the device.
    Answer(Box<DeviceMessage>),
    /// A message of a newer device was skipped.
    Skipped {
        /// Its kind.
        kind: u8,
    },
    /// A whole frame that makes no sense was skipped.
    Malformed,
}

/// Why a session is over.
#[derive(Debug, thiserror::Error)]
pub enum SessionError<E: std::error::Error + 'static> {
    /// What was received could not be kept.
    #[error("what the device sent could not be stored: {0}")]
    Keeper(#[source] E),
    /// The system gives no random bytes.
    #[error("the system gives no random bytes, without which no connection can be opened")]
    NoRandom,
    /// Nothing whole came for a while.
    #[error("the device has been silent for {} s", SILENT_MS / 1000)]
    Silent,
}

/// A connection.
#[derive(Debug)]
pub struct Session<K> {
    keeper: K,
    reader: FrameReader,
    line: Line,
    sealed: Option<Sealed>,
    /// Frames of what was sealed, as they were before, where somebody records them.
    opened: Option<Vec<u8>>,
    journal: JournalSpoken,
    device: Option<DeviceHello>,
    follows: bool,
    hello_at: u64,
    /// We said hello and the device has not answered.
    greeting: bool,
    heard_at: u64,
    times: u32,
    time_at: u64,
    asked: Option<(Now, TimeRequest)>,
    round_trip_ms: u16,
    items: Vec<KeptItem>,
    notices: Vec<Notice>,
    out: Vec<u8>,
}

impl<K: Keeper> Session<K> {
    /// A connection that has just been made.
    pub fn new(keeper: K, line: Line, now: Now) -> Self {
        let mut session = Self {
            keeper,
            reader: FrameReader::new(),
            line,
            sealed: None,
            opened: None,
            journal: JournalSpoken::default(),
            device: None,
            follows: true,
            hello_at: now.monotonic_ms,
            greeting: false,
            heard_at: now.monotonic_ms,
            times: 0,
            time_at: now.monotonic_ms,
            asked: None,
            round_trip_ms: 0,
            items: Vec::new(),
            notices: Vec::new(),
            out: vec![0],
        };
        session.say_hello(now);
        session
    }

    /// Bytes to be sent, and forgets them.
    pub fn take_output(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.out)
    }

    /// What happened since the last call.
    pub fn take_notices(&mut self) -> Vec<Notice> {
        std::mem::take(&mut self.notices)
    }

    /// The device, once it has said hello.
    #[must_use]
    pub const fn device(&self) -> Option<&DeviceHello> {
        self.device.as_ref()
    }

    /// Whether all that is heard was sealed by a paired device.
    #[must_use]
    pub const fn is_sealed(&self) -> bool {
        self.sealed.is_some()
    }

    /// Keeps the frames that are opened from now on until they are taken.
    pub fn keep_opened(&mut self) {
        self.opened.get_or_insert_default();
    }

    /// The frames that were opened since the last call, as they would have come without a seal; none unless kept.
    pub fn take_opened(&mut self) -> Vec<u8> {
        self.opened.as_mut().map(std::mem::take).unwrap_or_default()
    }

    /// Forgets the device and its seal: it will say hello anew.
    pub fn forget(&mut self) {
        (self.device, self.sealed) = (None, None);
        self.journal.forget();
    }

    /// Frames seen and broken.
    #[must_use]
    pub const fn counts(&self) -> FrameCounts {
        self.reader.counts()
    }

    /// The keeper.
    pub const fn keeper(&mut self) -> &mut K {
        &mut self.keeper
    }

    /// Says something to the device.
    pub fn say(&mut self, message: &HostMessage) {
        let mut frame = [0; MAX_SEALED_FRAME_BYTES];
        // Every message of a host fits a frame.
        let length = match &mut self.sealed {
            None => encode_frame(message, &mut frame),
            Some(sealed) => sealed.seal_message(message, &mut frame),
        };
        if let Ok(length) = length {
            self.out.extend_from_slice(&frame[..length]);
        }
    }

    /// Takes what came from the device.
    ///
    /// # Errors
    /// Where it could not be kept; then nothing of it is acknowledged.
    pub fn receive(&mut self, bytes: &[u8], now: Now) -> Result<(), SessionError<K::Error>> {
        let mut rest = bytes;
        while !rest.is_empty() {
            rest = match self.reader.push(rest) {
                Feed::NeedMore => &[],
                Feed::Dropped { rest } => rest,
                Feed::Frame { payload, rest } => {
                    let length = payload.len();
                    self.heard(length, now)?;
                    rest
                }
            };
        }
        self.commit()
    }

    /// Takes the payload of this length that has just come in.
    fn heard(&mut self, length: usize, now: Now) -> Result<(), SessionError<K::Error>> {
        let payload = self.reader.payload_mut(length);
        let sealed = is_sealed(payload);
        let payload = match (&mut self.sealed, sealed) {
            (Some(connection), true) => {
                let Some(payload) = connection.unseal(payload) else {
                    self.notices.push(Notice::Malformed);
                    return Ok(());
                };
                if let Some(opened) = &mut self.opened {
                    let mut frame = [0; MAX_FRAME_BYTES];
                    let length = frame_payload(payload, &mut frame).unwrap_or(0);
                    opened.extend_from_slice(&frame[..length]);
                }
                payload
            }
            // Sealed for a connection that is over.
            (None, true) => return Ok(()),
            (_, false) => payload,
        };
        let schema = hello_schema(payload).filter(|_| payload.first() == Some(&b'D'));
        let message = decode::<DeviceMessage>(payload);
        if let Decoded::Message(DeviceMessage::Paired(paired)) = &message
            && !sealed
        {
            return self.open(*paired, now);
        }
        if !sealed && !self.believes(&message) {
            return Ok(());
        }
        self.heard_at = now.monotonic_ms;
        self.take(schema, message, now)
    }

    /// Whether something that was not sealed may be so.
    fn believes(&mut self, message: &Decoded<DeviceMessage>) -> bool {
        // By cable a device may come that was erased, or whose pairing was taken back.
        let may = self.sealed.is_none() && self.line == Line::Cable;
        if let Decoded::Message(DeviceMessage::Hello(hello)) = message
            && self.sealed.is_none()
            && !may
        {
            self.notices.push(Notice::NotPaired(hello.device));
        }
        may
    }

    /// Opens a connection with a paired device; it says hello in it.
    fn open(&mut self, paired: Paired, now: Now) -> Result<(), SessionError<K::Error>> {
        self.commit()?;
        self.forget();
        let Paired { device, boot, count } = paired;
        let Some(key) = self.keeper.key(device).map_err(SessionError::Keeper)? else {
            self.notices.push(Notice::Locked(device));
            return Ok(());
        };
        let mut host = [0; 16];
        getrandom::fill(&mut host).map_err(|_| SessionError::NoRandom)?;
        self.say(&HostMessage::Open { random: host, count });
        self.sealed = Some(Sealed::open::<HostMessage>(&key, &Opening { host, device, boot, count }));
        self.say_hello(now);
        Ok(())
    }

    /// Does what is due. To be called a few times a second.
    ///
    /// # Errors
    /// Where the device has been silent for too long.
    pub fn tick(&mut self, now: Now) -> Result<(), SessionError<K::Error>> {
        if now.monotonic_ms.saturating_sub(self.heard_at) > SILENT_MS {
            return Err(SessionError::Silent);
        }
        if self.device.is_none() && self.follows && now.monotonic_ms >= self.hello_at {
            // Nobody has answered, sealed or not: begin anew.
            self.sealed = None;
            self.say_hello(now);
        }
        if self.device.is_some() && self.follows && now.monotonic_ms >= self.time_at {
            let request = TimeRequest { host_sent_ms: now.utc_ms, round_trip_ms: self.round_trip_ms };
            self.say(&HostMessage::TimeRequest(request));
            self.asked = Some((now, request));
            self.times += 1;
            let pause = if self.times < FIRST_TIMES { FIRST_TIMES_MS } else { TIME_AGAIN_MS };
            self.time_at = now.monotonic_ms + pause;
        }
        Ok(())
    }

    fn say_hello(&mut self, now: Now) {
        self.say(&HostMessage::Hello(HostHello { schema: SCHEMA, oldest: OLDEST_SCHEMA }));
        self.hello_at = now.monotonic_ms + HELLO_AGAIN_MS;
        self.greeting = true;
    }

    fn take(
        &mut self,
        schema: Option<(u16, u16)>,
        message: Decoded<DeviceMessage>,
        now: Now,
    ) -> Result<(), SessionError<K::Error>> {
        if let Some((schema, oldest)) = schema {
            self.follows = speaks(schema, oldest);
            if !self.follows {
                self.device = None;
                self.notices.push(Notice::Schema { schema, oldest });
                // A newer device may wait for a hello before it believes the host gone.
            }
        }
        if !self.follows {
            return Ok(());
        }
        match message {
            Decoded::Message(message) => self.take_message(message, now)?,
            Decoded::NewerKind(kind) => self.notices.push(Notice::Skipped { kind }),
            // Our own words, come back.
            Decoded::OtherSender(_) => {}
            Decoded::Malformed => self.notices.push(Notice::Malformed),
        }
        Ok(())
    }

    fn take_message(&mut self, message: DeviceMessage, now: Now) -> Result<(), SessionError<K::Error>> {
        if matches!(message, DeviceMessage::Hello(_)) {
            // What came before was another device's, or another boot's.
            self.commit()?;
            self.answer_hello(now);
        }
        let keeper = &mut self.keeper;
        let told = self.journal.hear(message, |hello, name| keeper.journal(hello, name));
        let message = match told.map_err(SessionError::Keeper)? {
            // What it says before its journal has a name may be of any.
            Spoken::Coming => {
                self.device = None;
                return Ok(());
            }
            Spoken::Unnamed => return self.name_journal(),
            Spoken::Met(hello) => return self.meet(hello, now),
            Spoken::Nothing => return Ok(()),
            Spoken::Said(message) => message,
        };
        // Without a hello nobody knows whose words these are; the device says them again after its hello.
        let Some(device) = self.device.as_ref().map(|hello| hello.device) else { return Ok(()) };
        match message {
            DeviceMessage::TimeReply(reply) => {
                let asked = self.asked.take_if(|(_, request)| {
                    request.host_sent_ms == reply.host_sent_ms && request.round_trip_ms == reply.round_trip_ms
                });
                let Some((sent, _)) = asked else { return Ok(()) };
                let elapsed = now.monotonic_ms.saturating_sub(sent.monotonic_ms);
                let known_boot = self.device.as_ref().is_some_and(|hello| hello.boot == reply.boot);
                let point = u32::try_from(elapsed.min(TIME_TOO_LATE_MS))
                    .ok()
                    .filter(|_| elapsed < TIME_TOO_LATE_MS && known_boot)
                    .and_then(|elapsed| ClockPoint::of_exchange(&reply, f64::from(elapsed)));
                if let Some(point) = point {
                    let own = reply.sent.since(reply.received).0;
                    self.round_trip_ms = u16::try_from(elapsed.saturating_sub(own)).unwrap_or(u16::MAX);
                    self.keeper.clock(device, reply.boot, point).map_err(SessionError::Keeper)?;
                    self.notices.push(Notice::Clock(point));
                }
            }
            DeviceMessage::Health(health) => {
                self.keeper.health(device, &health, now.utc_ms).map_err(SessionError::Keeper)?;
                self.notices.push(Notice::Health(Box::new(health)));
            }
            message => match KeptItem::of(message) {
                Ok(item) => self.items.push(item),
                Err(answer) => self.notices.push(Notice::Answer(answer)),
            },
        }
        Ok(())
    }

    /// A hello that is no answer to ours comes from a device that has just booted, or has given us up: it sends nothing until
    /// it has heard ours.
    fn answer_hello(&mut self, now: Now) {
        if !std::mem::take(&mut self.greeting) {
            self.say_hello(now);
        }
    }

    /// Draws a name for a journal that has none; the device says it when it has kept it.
    fn name_journal(&mut self) -> Result<(), SessionError<K::Error>> {
        let mut drawn = [0; 8];
        getrandom::fill(&mut drawn).map_err(|_| SessionError::NoRandom)?;
        self.say(&HostMessage::NameJournal(u64::from_le_bytes(drawn).max(1)));
        Ok(())
    }

    fn meet(&mut self, hello: DeviceHello, now: Now) -> Result<(), SessionError<K::Error>> {
        self.keeper.meet(&hello, now.utc_ms).map_err(SessionError::Keeper)?;
        let again =
            self.device.as_ref().is_some_and(|old| (old.device, old.boot) == (hello.device, hello.boot));
        if !again {
            self.times = 0;
            self.asked = None;
            self.time_at = now.monotonic_ms;
        }
        self.notices.push(Notice::Hello(Box::new(hello.clone())));
        self.device = Some(hello);
        Ok(())
    }

    /// Commits what was gathered, then acknowledges it.
    fn commit(&mut self) -> Result<(), SessionError<K::Error>> {
        let Some(device) = self.device.as_ref().map(|hello| hello.device) else { return Ok(()) };
        if self.items.is_empty() {
            return Ok(());
        }
        let items = std::mem::take(&mut self.items);
        let kept = self.keeper.keep(device, &items).map_err(SessionError::Keeper)?;
        let mut sequences: Vec<u32> = items.iter().map(|item| item.key.sequence).collect();
        sequences.sort_unstable();
        for run in sequences.chunk_by(|one, next| next - one <= 1) {
            if let (Some(&first), Some(&last)) = (run.first(), run.last()) {
                self.say(&HostMessage::Acknowledge { first, last });
            }
        }
        self.notices.push(Notice::Kept(kept));
        Ok(())
    }
}
