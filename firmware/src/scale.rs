//! The application: samples in, passages and traces into the journal, the journal out over the link.

use crate::{
    calibration::{Guide, Next, in_force},
    health::{Counters, HEALTH_EVERY_MS, JournalState, Report, Vitals, plate_states},
    journal::{Journal, Kind},
    link::{Flight, Link, Port},
    load_cells::{ChannelFault, Monitor, Sample},
    raw::RawStream,
    settings::{Store, StoreError},
    trace::Recorder,
};
use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use shared::{
    analysis::{Analyser, Calibration, Reading, Step},
    identity::{AnimalCode, ReaderLine},
    units::Milliseconds,
    wire::{
        CalibrationOutcome, CalibrationReply, CalibrationStep, DeviceHello, DeviceId, DeviceMessage,
        HostMessage, ItemKey, LinkKey, OLDEST_SCHEMA, Passage, Refusal, ResetCause, SCHEMA, Settings,
        TagRead, TimeReply, TimeRequest, TraceChunk, encode_frame, speaks,
    },
};

/// While no host answers, a hello goes out this often, ms (our choice).
pub const HELLO_EVERY_MS: u64 = 5_000;
/// A tag that is read again within this time is the same read, ms (our choice: readers repeat several times a
/// second while an animal stands in the field).
pub const TAG_REPEAT_MS: u64 = 1_000;
/// Tags kept in any one second, at most (our choice: a walking cow brings one; a fault brings a flood).
pub const TAGS_A_SECOND: u8 = 10;

/// No animal stays on the plates for longer, ms (our choice).
pub const NOBODY_STAYS_MS: u64 = 10 * 60 * 1_000;

/// What is fixed when the program starts.
#[derive(Clone, Copy, Debug)]
pub struct Identity {
    /// The device's number.
    pub device: DeviceId,
    /// Version of the program.
    pub firmware: [u8; 3],
    /// Why the processor started.
    pub reset: ResetCause,
    /// Counts of either sign at which the converter is at its end stop.
    pub full_scale: u32,
}

/// What time it is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Moment {
    /// The lane's clock, which readings are stamped with: time since boot.
    pub clock: Milliseconds,
    /// The clock that time-outs go by. The same, except where recorded readings are played in.
    pub timer: Milliseconds,
}

/// What waits to be said. One of each is enough: all are answers or news of now.
#[derive(Default)]
struct Pending {
    time: Option<(TimeRequest, Milliseconds)>,
    hello: bool,
    journal: bool,
    refused: Option<Refusal>,
    settings: bool,
    calibration: Option<CalibrationReply>,
    health: bool,
}

/// A passage being recorded.
#[derive(Clone, Copy)]
struct Recording {
    number: u32,
    chunks: u16,
    since: Milliseconds,
}

/// The tags of the last second.
#[derive(Default)]
struct TagWindow {
    last: Option<(AnimalCode, Milliseconds)>,
    second: u64,
    kept: u8,
}

/// The lane device.
///
/// Its methods are not inlined into each other: each message then has a frame of its own, and the stack is as deep
/// as the deepest of them, not as all together.
pub struct Scale<'a, P, F> {
    identity: Identity,
    settings: Settings,
    calibration: Calibration,
    store: Store,
    journal: &'a mut Journal<F>,
    link: Link<P>,
    flight: Flight,
    analyser: &'a mut Analyser,
    recorder: Recorder,
    recording: Option<Recording>,
    monitor: Monitor,
    guide: Guide,
    raw: RawStream,
    tag_line: ReaderLine,
    tags: TagWindow,
    last: Sample,
    silent: bool,
    occupied: bool,
    restart: bool,
    vitals: Vitals,
    counters: Counters,
    pending: Pending,
    health_at: Milliseconds,
    hello_at: Milliseconds,
}

impl<'a, P: Port, F: MultiwriteNorFlash> Scale<'a, P, F> {
    /// Begins. Journal and analyser, which must be made for the rate in the settings, are lent: they are the largest
    /// parts, and a board builds each where it is to stay.
    pub fn new(
        identity: Identity,
        port: P,
        journal: &'a mut Journal<F>,
        (store, settings): (Store, Settings),
        analyser: &'a mut Analyser,
    ) -> Self {
        let mut link = Link::new(port);
        link.pair(store.key(), identity.device, journal.boot());
        Self {
            analyser,
            recorder: Recorder::new(settings.rate_hz),
            monitor: Monitor::new(1_000_000 / u32::from(settings.rate_hz.max(1))),
            identity,
            calibration: in_force(&settings),
            settings,
            store,
            journal,
            link,
            flight: Flight::default(),
            recording: None,
            guide: Guide::default(),
            raw: RawStream::default(),
            tag_line: ReaderLine::new(),
            tags: TagWindow::default(),
            last: Sample::default(),
            silent: false,
            occupied: false,
            restart: false,
            vitals: Vitals::default(),
            counters: Counters::default(),
            pending: Pending { hello: true, ..Pending::default() },
            health_at: Milliseconds(HEALTH_EVERY_MS),
            hello_at: Milliseconds(HELLO_EVERY_MS),
        }
    }

    /// The settings in force.
    #[must_use]
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Whether the board should start afresh: new settings are stored, the host has been told, and they come into
    /// force with the next boot.
    #[must_use]
    pub const fn wants_restart(&self) -> bool {
        self.restart && !self.pending.settings && self.pending.calibration.is_none() && self.link.is_idle()
    }

    /// Whether somebody is on the deck.
    #[must_use]
    pub const fn is_occupied(&self) -> bool {
        self.occupied
    }

    /// Whether the converter gives nothing.
    #[must_use]
    pub const fn is_silent(&self) -> bool {
        self.silent
    }

    /// The journal.
    pub const fn journal(&mut self) -> &mut Journal<F> {
        self.journal
    }

    /// The port of the link.
    pub const fn port(&mut self) -> &mut P {
        self.link.port()
    }

    /// Takes what the board measured of itself, for the next health message.
    pub const fn vitals(&mut self, vitals: Vitals) {
        self.vitals = vitals;
    }

    /// Takes a sample.
    #[inline(never)]
    pub fn sample(&mut self, time: Milliseconds, sample: &Sample) {
        self.silent = false;
        self.last = *sample;
        if self.monitor.sample(time, sample).is_some() {
            self.pending.health = true;
        }
        self.raw.push(time, sample);
        if self.guide.running() {
            let next = self.guide.sample(sample, &self.settings);
            self.guided(next);
            return;
        }
        let loads = self.calibration.apply(sample.counts);
        let step = self.analyse(&Reading { time, loads, saturated: sample.saturated() });
        if self.analyser.ended().is_some() || (self.occupied && !step.occupied) {
            self.end();
        }
        self.occupied = step.occupied;
        if step.occupied {
            // Numbers rise across boots because sequence numbers do.
            let number = self.journal.next_sequence();
            self.recording.get_or_insert(Recording { number, chunks: 0, since: time });
            if self.recorder.push(time, &step.loads) {
                self.keep_chunk();
            }
        }
    }

    #[inline(never)]
    fn analyse(&mut self, reading: &Reading) -> Step {
        self.analyser.push(reading)
    }

    /// Looks at the clock when no sample has come. True when the converter has just fallen silent and should be
    /// restarted.
    pub fn idle(&mut self, moment: Moment) -> bool {
        let next = self.guide.idle(moment.timer, &self.settings);
        self.guided(next);
        if self.monitor.idle(moment.clock) == Some(ChannelFault::Silent) {
            self.silent = true;
            self.pending.health = true;
            return true;
        }
        false
    }

    /// The readings have ended: whoever is on the deck is recorded as cut off.
    pub fn finish(&mut self) {
        self.analyser.finish();
        self.end();
        self.occupied = false;
    }

    /// Takes a byte of the tag reader.
    pub fn tag_byte(&mut self, time: Milliseconds, byte: u8) {
        match self.tag_line.push(byte) {
            Some(Ok(code)) => self.tag(time, code),
            Some(Err(_)) => self.counters.bad_tag_lines = self.counters.bad_tag_lines.saturating_add(1),
            None => {}
        }
    }

    #[inline(never)]
    fn tag(&mut self, time: Milliseconds, code: AnimalCode) {
        let again =
            self.tags.last.is_some_and(|(last, before)| last == code && time.since(before).0 < TAG_REPEAT_MS);
        let second = time.0 / 1_000;
        if second != self.tags.second {
            (self.tags.second, self.tags.kept) = (second, 0);
        }
        if again || self.tags.kept >= TAGS_A_SECOND {
            return;
        }
        self.tags.kept += 1;
        self.tags.last = Some((code, time));
        let key = self.key();
        self.keep(Kind::Record, &DeviceMessage::TagRead(TagRead { key, time, code }));
    }

    /// Listens to the host and speaks to it, as far as the port lets it.
    ///
    /// # Errors
    /// The port failed.
    pub fn talk(&mut self, moment: Moment) -> Result<(), P::Error> {
        while self.listen(moment)? {}
        if moment.timer >= self.health_at {
            self.pending.health = true;
        }
        if !self.flight.is_open() && moment.timer >= self.hello_at {
            self.pending.hello = true;
        }
        while self.link.push()? {
            if !self.send_news(moment) && !self.send_item(moment.timer) {
                break;
            }
        }
        Ok(())
    }

    #[inline(never)]
    fn listen(&mut self, moment: Moment) -> Result<bool, P::Error> {
        let Some(message) = self.link.receive()? else { return Ok(false) };
        self.obey(message, moment);
        Ok(true)
    }

    #[inline(never)]
    fn send_news(&mut self, moment: Moment) -> bool {
        let Some(message) = self.news(moment) else { return false };
        self.link.send(&message);
        true
    }

    #[inline(never)]
    fn obey(&mut self, message: HostMessage, moment: Moment) {
        match message {
            HostMessage::Hello(host) => {
                self.pending.hello = true;
                if self.link.is_locked() {
                    self.flight.close();
                } else if speaks(host.schema, host.oldest) {
                    self.pending.journal = true;
                    self.flight.open();
                    self.pending.health = true;
                } else {
                    self.flight.close();
                    self.pending.refused = Some(Refusal::Schema);
                }
            }
            HostMessage::Acknowledge { first, last } => {
                self.flight.acknowledged(first, last, moment.timer);
                // Where the flash fails here the items stay, are sent again, and are known by their numbers.
                let _ = self.journal.acknowledge(first, last);
            }
            HostMessage::TimeRequest(request) => self.pending.time = Some((request, moment.clock)),
            HostMessage::GetSettings => self.pending.settings = true,
            HostMessage::SetSettings(settings) => self.set(settings, moment.clock),
            HostMessage::Calibrate(step) => self.calibrate(step, moment),
            HostMessage::StreamRaw { seconds } => self.raw.start(moment.clock, seconds),
            HostMessage::Pair(key) => self.pair(key),
            HostMessage::NameJournal(name) => {
                // Where the flash fails it has no name, and says so.
                let _ = self.journal.give_name(name);
                self.pending.journal = true;
            }
            // The link has looked to it.
            HostMessage::Open { .. } => {}
        }
    }

    /// Whether an animal may be on the deck. A deck that was never calibrated weighs its own plates, and what lies
    /// there for [`NOBODY_STAYS_MS`] is a zero that has moved: both must not keep a person from calibrating.
    fn somebody_is_on(&self, now: Milliseconds) -> bool {
        let calibrated = self.settings.zero.0.iter().any(|zero| zero.0 != 0);
        let long = self.recording.is_some_and(|recording| now.since(recording.since).0 >= NOBODY_STAYS_MS);
        self.occupied && calibrated && !long
    }

    #[inline(never)]
    fn calibrate(&mut self, step: CalibrationStep, moment: Moment) {
        if self.somebody_is_on(moment.clock) {
            self.pending.refused = Some(Refusal::Busy);
            return;
        }
        let next = self.guide.step(step, moment.timer, &self.settings);
        self.guided(next);
    }

    #[inline(never)]
    fn set(&mut self, settings: Settings, now: Milliseconds) {
        if self.somebody_is_on(now) || self.guide.running() {
            self.pending.refused = Some(Refusal::Busy);
            return;
        }
        match self.store(settings) {
            Ok(()) => self.pending.settings = true,
            Err(StoreError::Bad) => self.pending.refused = Some(Refusal::BadSettings),
            Err(StoreError::Flash) => self.pending.refused = Some(Refusal::NotStored),
        }
    }

    #[inline(never)]
    fn pair(&mut self, key: LinkKey) {
        match self.store.pair(self.journal.flash(), &self.settings, key) {
            Ok(()) => {
                self.flight.close();
                self.link.pair(self.store.key(), self.identity.device, self.journal.boot());
                self.pending.hello = true;
            }
            Err(_) => self.pending.refused = Some(Refusal::NotStored),
        }
    }

    #[inline(never)]
    fn store(&mut self, settings: Settings) -> Result<(), StoreError> {
        self.store.save(self.journal.flash(), &settings)?;
        self.calibration = in_force(&settings);
        self.settings = settings;
        self.restart = true;
        Ok(())
    }

    #[inline(never)]
    fn guided(&mut self, next: Next) {
        match next {
            Next::Wait => {}
            Next::Reply(reply) => self.pending.calibration = Some(reply),
            Next::Store(calibration, mut reply) => {
                let settings = Settings {
                    zero: calibration.zero,
                    kg_per_count: calibration.cross,
                    ..self.settings.clone()
                };
                match self.store(settings) {
                    Ok(()) => {}
                    Err(StoreError::Bad) => reply.outcome = CalibrationOutcome::BadResult,
                    Err(StoreError::Flash) => reply.outcome = CalibrationOutcome::NotStored,
                }
                self.pending.calibration = Some(reply);
            }
        }
    }

    #[inline(never)]
    fn end(&mut self) {
        if self.recorder.end() {
            self.keep_chunk();
        }
        let recording = self.recording.take();
        if self.analyser.ended().is_some() {
            self.keep_passage(recording);
        }
    }

    #[inline(never)]
    fn keep_passage(&mut self, recording: Option<Recording>) {
        let key = self.key();
        let (number, chunks) = recording.map_or((key.sequence, 0), |known| (known.number, known.chunks));
        let Some(summary) = self.analyser.ended().copied() else { return };
        let passage = Passage { key, passage: number, trace_chunks: chunks, summary };
        self.keep(Kind::Record, &DeviceMessage::Passage(passage));
    }

    #[inline(never)]
    fn keep_chunk(&mut self) {
        let key = self.key();
        let data = self.recorder.take();
        let Some(recording) = &mut self.recording else { return };
        let (passage, chunk) = (recording.number, recording.chunks);
        recording.chunks = chunk.saturating_add(1);
        self.keep(Kind::Trace, &DeviceMessage::TraceChunk(TraceChunk { key, passage, chunk, data }));
    }

    const fn key(&self) -> ItemKey {
        ItemKey { boot: self.journal.boot(), sequence: self.journal.next_sequence() }
    }

    #[inline(never)]
    fn keep(&mut self, kind: Kind, message: &DeviceMessage) {
        if self.journal.keep_with(kind, |room| encode_frame(message, room).ok()).is_err() {
            self.counters.not_kept = self.counters.not_kept.saturating_add(1);
        }
    }

    #[inline(never)]
    fn send_item(&mut self, now: Milliseconds) -> bool {
        let Some(from) = self.flight.next(now) else { return false };
        if self.flight.is_behind(self.journal.next_sequence(), self.journal.waiting()) {
            return false;
        }
        match self.journal.next_from(from) {
            Ok(Some((number, frame))) => {
                self.link.send_frame(frame);
                self.flight.sent(number, now);
                true
            }
            _ => false,
        }
    }

    /// What is to be said before any item, the most urgent first.
    #[inline(never)]
    fn news(&mut self, moment: Moment) -> Option<DeviceMessage> {
        if let Some((request, received)) = self.pending.time.take() {
            return Some(DeviceMessage::TimeReply(TimeReply {
                host_sent_ms: request.host_sent_ms,
                round_trip_ms: request.round_trip_ms,
                boot: self.journal.boot(),
                received,
                sent: moment.clock,
            }));
        }
        if core::mem::take(&mut self.pending.hello) {
            self.hello_at = Milliseconds(moment.timer.0 + HELLO_EVERY_MS);
            return Some(DeviceMessage::Hello(self.hello()));
        }
        if core::mem::take(&mut self.pending.journal) {
            return Some(DeviceMessage::Journal(self.journal.name()));
        }
        if let Some(refusal) = self.pending.refused.take() {
            return Some(DeviceMessage::Refused(refusal));
        }
        if let Some(reply) = self.pending.calibration.take() {
            return Some(DeviceMessage::CalibrationReply(reply));
        }
        if core::mem::take(&mut self.pending.settings) {
            return Some(DeviceMessage::Settings(self.settings.clone()));
        }
        if let Some(message) = self.raw.take(self.journal.boot()) {
            return Some(DeviceMessage::RawReadings(message));
        }
        if self.flight.is_open() && core::mem::take(&mut self.pending.health) {
            self.health_at = Milliseconds(moment.timer.0 + HEALTH_EVERY_MS);
            return Some(self.health(moment));
        }
        None
    }

    fn hello(&self) -> DeviceHello {
        DeviceHello {
            schema: SCHEMA,
            oldest: OLDEST_SCHEMA,
            device: self.identity.device,
            boot: self.journal.boot(),
            firmware: self.identity.firmware,
            rate_hz: self.settings.rate_hz,
            full_scale: self.identity.full_scale,
            next_sequence: self.journal.next_sequence(),
            waiting: self.journal.waiting(),
            name: self.settings.name.clone(),
        }
    }

    #[inline(never)]
    fn health(&mut self, moment: Moment) -> DeviceMessage {
        let journal = JournalState {
            fill_pct: self.journal.fill_pct().unwrap_or(u8::MAX),
            waiting: self.journal.waiting(),
            traces_dropped: self.journal.traces_dropped(),
            records_dropped: self.journal.records_dropped(),
        };
        let report = Report {
            boot: self.journal.boot(),
            uptime: moment.clock,
            reset: self.identity.reset,
            vitals: self.vitals,
            counters: self.counters,
            lost_readings: self.monitor.lost(),
            dropped_frames: self.link.dropped(),
            journal,
            zero: self.analyser.zero(),
            noise: self.analyser.noise(),
            plates: plate_states(&self.monitor, self.silent, &self.last),
        };
        DeviceMessage::Health(report.message())
    }
}
