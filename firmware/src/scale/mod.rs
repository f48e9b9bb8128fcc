//! The application: samples in, passages and traces into the journal, the journal out over the link, the gate moved.

mod news;
mod obey;

use crate::{
    calibration::{Guide, in_force},
    gate::{DeckNow, hold_list::ListStore},
    health::{Counters, HEALTH_EVERY_MS, Vitals},
    journal::{Journal, Kind},
    link::{Flight, Link, Port},
    load_cells::{ChannelFault, Monitor, Sample},
    orders::{Orders, ToJudge},
    raw::RawStream,
    settings::Store,
    trace::Recorder,
    update::TRIAL_MS,
};
use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use shared::{
    analysis::{Analyser, Calibration, Reading, Reason, Step},
    identity::{AnimalCode, ReaderLine},
    lane_score::Measures,
    plate::{PerPlate, Plate},
    units::{Kilograms, Milliseconds},
    wire::{
        CalibrationReply, DeviceId, DeviceMessage, GateEvent, GateOutcome, GateSettings, ItemKey, LaneAnswer,
        Passage, Refusal, ResetCause, Settings, TagRead, TimeRequest, TraceChunk, encode_frame,
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
    /// The board, by which a new program is known as one for it.
    pub board: &'static str,
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
    orders: bool,
    programs: bool,
    judge: Option<ToJudge>,
    answer: Option<LaneAnswer>,
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
    orders: &'a mut Orders,
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
    /// What lay on the plates last; none where they read nothing.
    loads: Option<PerPlate<Kilograms>>,
    restart: bool,
    vitals: Vitals,
    counters: Counters,
    pending: Pending,
    answered: u32,
    health_at: Milliseconds,
    hello_at: Milliseconds,
}

impl<'a, P: Port, F: MultiwriteNorFlash> Scale<'a, P, F> {
    /// Begins. Journal, orders, and analyser, which must be made for the rate in the settings, are lent: they are the
    /// largest parts, and a board builds each where it is to stay.
    pub fn new(
        identity: Identity,
        port: P,
        journal: &'a mut Journal<F>,
        (store, settings): (Store, Settings),
        analyser: &'a mut Analyser,
        orders: &'a mut Orders,
    ) -> Self {
        let mut link = Link::new(port);
        link.pair(store.key(), identity.device, journal.boot());
        Self {
            analyser,
            orders,
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
            loads: None,
            restart: false,
            vitals: Vitals::default(),
            counters: Counters::default(),
            pending: Pending { hello: true, ..Pending::default() },
            answered: 0,
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
        let said = !self.pending.settings && !self.pending.programs && self.pending.calibration.is_none();
        self.restart && said && self.link.is_idle()
    }

    /// How the gate is driven; none where there is none.
    #[must_use]
    pub const fn gate_settings(&self) -> Option<GateSettings> {
        self.orders.gate.settings()
    }

    /// Whether somebody is on the deck.
    #[must_use]
    pub const fn is_occupied(&self) -> bool {
        self.occupied
    }

    /// Cows judged as they left, since boot.
    #[must_use]
    pub const fn answered(&self) -> u32 {
        self.answered
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
        self.loads = None;
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
        self.loads = Some(step.loads);
        if step.occupied {
            // Numbers rise across boots because sequence numbers do.
            let number = self.journal.next_sequence();
            self.recording.get_or_insert(Recording { number, chunks: 0, since: time });
            if self.recorder.push(time, &step.loads) {
                self.keep_chunk();
            }
        }
    }

    /// What lies on the plates, where no plate is stuck or at its end stop.
    fn deck(&self) -> Option<DeckNow> {
        let loads = self.loads?;
        let (stuck, saturated) = (self.monitor.stuck(), self.last.saturated());
        let sure = Plate::ALL.into_iter().all(|plate| !stuck[plate] && !saturated[plate]);
        let [left_front, right_front, left_rear, right_rear] = loads.0.map(|load| load.0);
        let first = left_rear + right_rear;
        sure.then_some(DeckNow { first: Kilograms(first), all: Kilograms(first + left_front + right_front) })
    }

    #[inline(never)]
    fn analyse(&mut self, reading: &Reading) -> Step {
        self.analyser.push(reading)
    }

    /// Looks at the clock when no sample has come. True when the converter has just fallen silent and should be
    /// restarted.
    #[inline(never)]
    pub fn idle(&mut self, moment: Moment) -> bool {
        let next = self.guide.idle(moment.timer, &self.settings);
        self.guided(next);
        if self.monitor.idle(moment.clock) == Some(ChannelFault::Silent) {
            self.silent = true;
            self.loads = None;
            self.pending.health = true;
            return true;
        }
        false
    }

    /// The readings have ended: whoever is on the deck is recorded as cut off.
    #[inline(never)]
    pub fn finish(&mut self) {
        self.analyser.finish();
        self.end();
        self.occupied = false;
    }

    /// Takes a byte of the tag reader.
    #[inline(never)]
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
        if again {
            return;
        }
        self.orders.read(time, code);
        let Self { orders, journal, counters, .. } = self;
        let Orders { gate, lists, .. } = &mut **orders;
        gate.tag(time, code, &mut |place, code, read, outcome| {
            keep_outcome(journal, lists, counters, place, (code, read, outcome))
        });
        let second = time.0 / 1_000;
        if second != self.tags.second {
            (self.tags.second, self.tags.kept) = (second, 0);
        }
        if self.tags.kept >= TAGS_A_SECOND {
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
        self.judge();
        while self.listen(moment)? {}
        if moment.timer >= self.health_at {
            self.pending.health = true;
        }
        if !self.flight.is_open() && moment.timer >= self.hello_at {
            self.pending.hello = true;
        }
        if self.orders.programs.on_trial() {
            self.prove(moment);
        }
        while self.link.push()? {
            if !self.send_news(moment) && !self.send_item(moment.timer) {
                break;
            }
        }
        Ok(())
    }

    /// A program on trial is to stay once its host has been heard through it and the plates are read, and is given up where
    /// that does not come.
    #[inline(never)]
    fn prove(&mut self, moment: Moment) {
        if self.link.is_sealed() && self.flight.is_open() && self.loads.is_some() {
            if !self.somebody_is_on(moment.clock) {
                self.orders.programs.settle(self.journal.flash());
                self.pending.programs = true;
            }
        } else if moment.timer.0 >= TRIAL_MS {
            self.restart = true;
        }
    }

    #[inline(never)]
    fn listen(&mut self, moment: Moment) -> Result<bool, P::Error> {
        let Some(message) = self.link.receive()? else { return Ok(false) };
        self.obey(&message, moment);
        Ok(true)
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
        self.orders.gate.passage_ended(summary.quality.has(Reason::TwoAnimals));
        let end = Milliseconds(summary.start.0.saturating_add(summary.duration.0));
        let named = self.orders.name(summary.start, end).zip(Measures::of(&summary));
        self.pending.judge =
            named.map(|(code, measures)| ToJudge { passage: number, start: summary.start, code, measures });
    }

    /// Looks to the gate: the level that its output is to have; none where there is no gate. To be called at every turn of
    /// the loop, with whether the stop input is open.
    #[inline(never)]
    pub fn gate(&mut self, moment: Moment, stopped: bool) -> Option<bool> {
        let settings = self.orders.gate.settings()?;
        let deck = self.deck();
        let Self { orders, journal, counters, pending, .. } = self;
        let Orders { gate, lists, .. } = &mut **orders;
        let held = gate.list.held();
        let moved = gate.turn(moment, deck, stopped, &mut |place, code, read, outcome| {
            keep_outcome(journal, lists, counters, place, (code, read, outcome))
        });
        pending.orders |= gate.list.held() != held;
        Some(moved == settings.moves_high)
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
}

/// Keeps what came of a listed cow, after she is marked where she is held; whether both are written.
#[inline(never)]
fn keep_outcome<F: MultiwriteNorFlash>(
    journal: &mut Journal<F>,
    lists: &mut ListStore,
    counters: &mut Counters,
    place: usize,
    (code, time, outcome): (AnimalCode, Milliseconds, GateOutcome),
) -> bool {
    let key = ItemKey { boot: journal.boot(), sequence: journal.next_sequence() };
    let event = DeviceMessage::GateEvent(GateEvent { key, time, code, outcome });
    let marked = outcome != GateOutcome::Held || lists.mark(journal.flash(), place);
    let kept = marked && journal.keep_with(Kind::Record, |room| encode_frame(&event, room).ok()).is_ok();
    counters.not_kept = counters.not_kept.saturating_add(u32::from(!kept));
    kept
}

#[cfg(test)]
mod tests;
