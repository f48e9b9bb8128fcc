//! What a host asks, and what the device does about it.

use super::{Moment, NOBODY_STAYS_MS, Scale};
use crate::{
    calibration::{Next, in_force},
    link::Port,
    settings::StoreError,
};
use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use shared::{
    units::Milliseconds,
    wire::{
        CalibrationOutcome, CalibrationStep, ConfirmList, GateSettings, HostMessage, LinkKey, Refusal,
        Settings, speaks,
    },
};

impl<P: Port, F: MultiwriteNorFlash> Scale<'_, P, F> {
    #[inline(never)]
    pub(super) fn obey(&mut self, message: &HostMessage, moment: Moment) {
        self.orders.gate.heard(moment.timer);
        match message {
            HostMessage::Hello(host) => {
                self.pending.hello = true;
                if self.link.is_locked() {
                    self.flight.close();
                } else if speaks(host.schema, host.oldest) {
                    self.pending.journal = true;
                    self.flight.open();
                    self.pending.health = true;
                    // An older host passes it over.
                    self.pending.orders = true;
                } else {
                    self.flight.close();
                    self.pending.refused = Some(Refusal::Schema);
                }
            }
            HostMessage::Acknowledge { first, last } => {
                let (first, last) = (*first, *last);
                self.flight.acknowledged(first, last, moment.timer);
                // Where the flash fails here the items stay, are sent again, and are known by their numbers.
                let _ = self.journal.acknowledge(first, last);
            }
            HostMessage::TimeRequest(request) => {
                self.orders.gate.host_clock(request.host_sent_ms, moment.clock);
                self.pending.time = Some((*request, moment.clock));
            }
            HostMessage::GetSettings => self.pending.settings = true,
            HostMessage::SetSettings(settings) => self.set(settings, moment.clock),
            HostMessage::Calibrate(step) => self.calibrate(*step, moment),
            HostMessage::StreamRaw { seconds } => self.raw.start(moment.clock, *seconds),
            HostMessage::Pair(key) => self.pair(*key),
            HostMessage::NameJournal(name) => {
                // Where the flash fails it has no name, and says so.
                let _ = self.journal.give_name(*name);
                self.pending.journal = true;
            }
            // The link has looked to it.
            HostMessage::Open { .. } => {}
            HostMessage::SetGate(gate) => {
                let done = self.may_be_ordered(moment.clock).and_then(|()| self.set_gate(*gate));
                self.ordered(done);
            }
            HostMessage::HoldList(part) => {
                let done = self.may_be_ordered(moment.clock);
                let done = done.and_then(|()| self.orders.hold_list(self.journal.flash(), part));
                self.ordered(done);
            }
            HostMessage::ConfirmList(confirmed) => self.confirm(confirmed, moment),
            HostMessage::Table(head) => {
                let done = self.may_be_ordered(moment.clock);
                let done = done.and_then(|()| self.orders.table.begin(self.journal.flash(), head));
                self.ordered(done);
            }
            HostMessage::Rows(rows) => {
                let done = self.may_be_ordered(moment.clock);
                let done = done.and_then(|()| self.orders.table.rows(self.journal.flash(), rows));
                self.ordered(done);
            }
            HostMessage::GetUpdate => self.updated(self.may_be_asked()),
            HostMessage::Update(head) => {
                let done = self.may_be_ordered(moment.clock);
                let done = done.and_then(|()| self.orders.programs.begin::<F>(head, self.identity.board));
                self.updated(done);
            }
            HostMessage::UpdatePart(part) => {
                let done = self.may_be_ordered(moment.clock);
                let done = done.and_then(|()| self.orders.programs.part(self.journal.flash(), part));
                self.restart |= self.orders.programs.ready();
                self.updated(done);
            }
        }
    }

    /// Gate, table and programs are spoken of with the host that holds our key.
    const fn may_be_asked(&self) -> Result<(), Refusal> {
        if self.link.is_sealed() { Ok(()) } else { Err(Refusal::NotPaired) }
    }

    /// And orders are followed only while no flash that is erased loses readings of a cow.
    fn may_be_ordered(&self, now: Milliseconds) -> Result<(), Refusal> {
        self.may_be_asked()?;
        if self.somebody_is_on(now) || self.guide.running() { Err(Refusal::Busy) } else { Ok(()) }
    }

    fn updated(&mut self, done: Result<(), Refusal>) {
        match done {
            Ok(()) => self.pending.programs = true,
            Err(refusal) => self.pending.refused = Some(refusal),
        }
    }

    fn ordered(&mut self, done: Result<(), Refusal>) {
        match done {
            Ok(()) => self.pending.orders = true,
            Err(refusal) => self.pending.refused = Some(refusal),
        }
    }

    #[inline(never)]
    pub(super) fn set_gate(&mut self, gate: Option<GateSettings>) -> Result<(), Refusal> {
        match self.store.set_gate(self.journal.flash(), &self.settings, gate) {
            Ok(()) => {
                self.orders.gate.set(gate);
                Ok(())
            }
            Err(StoreError::Bad) => Err(Refusal::BadGate),
            Err(StoreError::Flash) => Err(Refusal::NotStored),
        }
    }

    /// Writes nothing, so that a cow on the plates does not matter.
    #[inline(never)]
    fn confirm(&mut self, confirmed: &ConfirmList, moment: Moment) {
        let done = self.may_be_asked().and_then(|()| {
            if self.orders.gate.confirm(confirmed, moment) { Ok(()) } else { Err(Refusal::BadList) }
        });
        self.ordered(done);
    }

    /// Whether an animal may be on the deck. A deck that was never calibrated weighs its own plates, and what lies
    /// there for [`NOBODY_STAYS_MS`] is a zero that has moved: both must not keep a person from calibrating.
    pub(super) fn somebody_is_on(&self, now: Milliseconds) -> bool {
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
    fn set(&mut self, settings: &Settings, now: Milliseconds) {
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
                self.orders.forget(self.journal.flash());
                self.link.pair(self.store.key(), self.identity.device, self.journal.boot());
                self.pending.hello = true;
            }
            Err(_) => self.pending.refused = Some(Refusal::NotStored),
        }
    }

    #[inline(never)]
    fn store(&mut self, settings: &Settings) -> Result<(), StoreError> {
        self.store.save(self.journal.flash(), settings)?;
        self.calibration = in_force(settings);
        self.settings = settings.clone();
        self.restart = true;
        Ok(())
    }

    #[inline(never)]
    pub(super) fn guided(&mut self, next: Next) {
        match next {
            Next::Wait => {}
            Next::Reply(reply) => self.pending.calibration = Some(reply),
            Next::Store(calibration, mut reply) => {
                let settings = Settings {
                    zero: calibration.zero,
                    kg_per_count: calibration.cross,
                    ..self.settings.clone()
                };
                match self.store(&settings) {
                    Ok(()) => {}
                    Err(StoreError::Bad) => reply.outcome = CalibrationOutcome::BadResult,
                    Err(StoreError::Flash) => reply.outcome = CalibrationOutcome::NotStored,
                }
                self.pending.calibration = Some(reply);
            }
        }
    }
}
