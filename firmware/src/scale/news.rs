//! What the device says: news, then the journal's items.

use super::{HELLO_EVERY_MS, Moment, Scale};
use crate::{
    health::{HEALTH_EVERY_MS, JournalState, Report, plate_states},
    link::Port,
};
use embedded_storage_async::nor_flash::MultiwriteNorFlash;
use shared::{
    units::Milliseconds,
    wire::{DeviceHello, DeviceMessage, OLDEST_SCHEMA, SCHEMA, TimeReply},
};

impl<P: Port, F: MultiwriteNorFlash> Scale<'_, P, F> {
    #[inline(never)]
    pub(super) fn send_news(&mut self, moment: Moment) -> bool {
        let Some(message) = self.news(moment) else { return false };
        self.link.send(&message);
        true
    }

    #[inline(never)]
    pub(super) fn send_item(&mut self, now: Milliseconds) -> bool {
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
        if let Some(answer) = self.pending.answer.take() {
            return Some(DeviceMessage::Answer(answer));
        }
        if self.flight.is_open() && core::mem::take(&mut self.pending.orders) {
            return Some(DeviceMessage::Orders(self.orders.state(moment.timer)));
        }
        if core::mem::take(&mut self.pending.programs) {
            return Some(DeviceMessage::Update(self.orders.programs.state::<F>(self.identity.board)));
        }
        if self.flight.is_open() && core::mem::take(&mut self.pending.health) {
            self.health_at = Milliseconds(moment.timer.0 + HEALTH_EVERY_MS);
            return Some(self.health(moment));
        }
        None
    }

    /// Judges the cow who has just left, where somebody listens.
    #[inline(never)]
    pub fn judge(&mut self) {
        let Some(passage) = self.pending.judge.take().filter(|_| self.flight.is_open()) else { return };
        let boot = self.journal.boot();
        self.pending.answer = self.orders.answer(self.journal.flash(), boot, &passage);
        self.answered = self.answered.wrapping_add(u32::from(self.pending.answer.is_some()));
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
