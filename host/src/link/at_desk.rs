//! What the pages ask of the device at the other end of a session, asked there, and its answers put on the desk. Nothing
//! that goes wrong here ends the session.

use crate::link::plate_loads::PlateLoads;
use crate::link::{Keeper, Now, Session};
use crate::store::desk::{Desk, LoadsNow, StepEnd};
use shared::{
    analysis::Calibration,
    plate::PerPlate,
    wire::{CalibrationStep, DeviceId, DeviceMessage, HostMessage, Sample, TraceDecoder},
};
use std::path::PathBuf;

/// How often the desk is looked at, ms. Our choice: half of what a person notices.
const LOOK_MS: u64 = 400;
/// For how long the device streams at a time, s, and when it is asked again, ms: a page that is closed costs no more.
const STREAM_S: u16 = 10;
const RENEW_MS: u64 = 8_000;
/// Readings behind one showing, ms. Our choice: hum is gone, a foot is seen at once.
const SHOWING_MS: u64 = 500;
/// A step is answered within this time, ms: the device looks for 2 s, and waits 7 s for readings that do not come.
const STEP_MS: u64 = 20_000;

/// A step that was said to the device.
struct Said {
    id: i64,
    step: CalibrationStep,
    until: u64,
}

/// The desk, as the session of one device sees it.
pub struct AtDesk {
    store: PathBuf,
    desk: Option<Desk>,
    look_at: u64,
    renew_at: u64,
    streaming: bool,
    said: Option<Said>,
    calibration: Option<(Calibration, u32)>,
    gathered: Vec<Sample>,
}

impl AtDesk {
    /// The desk beside a store.
    #[must_use]
    pub const fn beside(store: PathBuf) -> Self {
        Self {
            store,
            desk: None,
            look_at: 0,
            renew_at: 0,
            streaming: false,
            said: None,
            calibration: None,
            gathered: Vec::new(),
        }
    }

    /// Says to the device what is wanted of it. To be called a few times a second.
    pub fn turn<K: Keeper>(&mut self, session: &mut Session<K>, now: Now) {
        if now.monotonic_ms < self.look_at {
            return;
        }
        self.look_at = now.monotonic_ms + LOOK_MS;
        let Some(device) = session.device().map(|hello| hello.device) else { return };
        self.desk = self.desk.take().or_else(|| Desk::existing(&self.store));
        let Some(desk) = &self.desk else { return };
        let (Ok(watched), Ok(wanted)) =
            (desk.is_watched(device, now.utc_ms), desk.wanted(device, now.utc_ms))
        else {
            // Somebody made the desk anew, or is just writing.
            self.desk = None;
            return;
        };
        if self.said.as_ref().is_some_and(|said| now.monotonic_ms >= said.until) {
            self.end(&StepEnd::Lost);
        }
        if let Some(wanted) = wanted.filter(|_| self.said.is_none()) {
            session.say(&HostMessage::Calibrate(wanted.step));
            self.said = Some(Said { id: wanted.id, step: wanted.step, until: now.monotonic_ms + STEP_MS });
        }
        if watched && now.monotonic_ms >= self.renew_at {
            session.say(&HostMessage::GetSettings);
            session.say(&HostMessage::StreamRaw { seconds: STREAM_S });
            (self.streaming, self.renew_at) = (true, now.monotonic_ms + RENEW_MS);
        } else if !watched && self.streaming {
            session.say(&HostMessage::StreamRaw { seconds: 0 });
            (self.streaming, self.renew_at) = (false, 0);
        }
    }

    /// The device said hello: it remembers nothing of what was asked of another boot.
    pub fn met(&mut self) {
        (self.renew_at, self.streaming) = (0, false);
        self.calibration = None;
        self.gathered.clear();
    }

    /// Takes an answer of the device; whether it was for the desk.
    pub fn hear<K: Keeper>(&mut self, session: &Session<K>, message: &DeviceMessage, now: Now) -> bool {
        let Some(hello) = session.device() else { return false };
        match message {
            DeviceMessage::Settings(settings) if self.streaming => {
                let calibration = Calibration { zero: settings.zero, cross: settings.kg_per_count };
                self.calibration = Some((calibration, hello.full_scale));
            }
            DeviceMessage::RawReadings(raw) if self.streaming => {
                self.gathered.extend(TraceDecoder::new(&raw.data).map_while(Result::ok));
                self.show(hello.device, now);
            }
            DeviceMessage::CalibrationReply(reply)
                if self.said.as_ref().is_some_and(|said| said.step == reply.step) =>
            {
                self.end(&StepEnd::Reply(*reply));
                // Its loads may be weighed otherwise from now on.
                self.renew_at = 0;
            }
            DeviceMessage::Refused(refusal) if self.said.is_some() => {
                let busy = *refusal == shared::wire::Refusal::Busy;
                self.end(if busy { &StepEnd::Busy } else { &StepEnd::Lost });
            }
            DeviceMessage::Answer(answer) => {
                if let Some(desk) = &self.desk {
                    let _ = desk.put_answer(hello.device, answer, now.utc_ms);
                }
                // It is told to others too.
                return false;
            }
            _ => return false,
        }
        true
    }

    fn end(&mut self, end: &StepEnd) {
        if let Some((said, desk)) = self.said.take().zip(self.desk.as_ref()) {
            let _ = desk.end(said.id, end);
        }
    }

    fn show(&mut self, device: DeviceId, now: Now) {
        let Some((calibration, full_scale)) = self.calibration else { return };
        let (Some(first), Some(last)) = (self.gathered.first(), self.gathered.last()) else { return };
        if last.time.since(first.time).0 < SHOWING_MS {
            return;
        }
        let samples = std::mem::take(&mut self.gathered);
        if let Some(desk) = &self.desk {
            let _ = desk.put_loads(device, &loads(&samples, &calibration, full_scale, now.utc_ms));
        }
    }
}

fn loads(samples: &[Sample], calibration: &Calibration, full_scale: u32, at_ms: i64) -> LoadsNow {
    let PlateLoads { mean_kg, sd_kg, end_stop } = PlateLoads::of(samples, calibration, full_scale);
    let kg = |loads: [f64; 4]| PerPlate(loads.map(|load| load as f32));
    LoadsNow { at_ms, mean_kg: kg(mean_kg), sd_kg: kg(sd_kg), end_stop: PerPlate(end_stop) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::fake_device::{FakeDevice, frame};
    use crate::link::{Line, StoreKeeper};
    use crate::store::Store;
    use shared::units::{Counts, Kilograms, Milliseconds};
    use shared::wire::{CalibrationOutcome, CalibrationReply, Refusal};

    const NOW: Now = Now { utc_ms: 5_000, monotonic_ms: 1_000 };

    /// What became of the step of an empty deck, and which messages were for the desk, after the device said `messages`.
    fn step_after(messages: &[DeviceMessage]) -> (Option<StepEnd>, Vec<bool>) {
        let folder = tempfile::tempdir().expect("a folder");
        let beside = folder.path().join("store");
        let store = Store::in_memory().expect("memory");
        let source = store.begin_source("link", "test", jiff::Timestamp::UNIX_EPOCH).expect("stored");
        let mut session = Session::new(StoreKeeper::new(&store, source), Line::Cable, NOW);
        let device = FakeDevice::new(0.0);
        session.receive(&frame(&device.hello()), NOW).expect("met");
        let desk = Desk::open(&beside).expect("made");
        desk.ask(device.id, 100.0, CalibrationStep::EmptyDeck, None, NOW.utc_ms).expect("asked");
        let mut at_desk = AtDesk::beside(beside);
        at_desk.turn(&mut session, NOW);
        let taken = messages.iter().map(|message| at_desk.hear(&session, message, NOW)).collect();
        (desk.steps(device.id, NOW.utc_ms).expect("readable")[0].end, taken)
    }

    #[test]
    fn a_step_is_ended_by_the_answer_to_it_and_by_no_other() {
        let reply = |step| CalibrationReply {
            step,
            outcome: CalibrationOutcome::Accepted,
            counts: PerPlate([Counts(5); 4]),
            loads: PerPlate([Kilograms(0.0); 4]),
        };
        let own = reply(CalibrationStep::EmptyDeck);
        let other = DeviceMessage::CalibrationReply(reply(CalibrationStep::Finish));
        assert_eq!(step_after(std::slice::from_ref(&other)), (None, vec![false]));
        // The second answer comes to nobody who waits.
        let own_twice = [other, DeviceMessage::CalibrationReply(own), DeviceMessage::CalibrationReply(own)];
        assert_eq!(step_after(&own_twice), (Some(StepEnd::Reply(own)), vec![false, true, false]));
        let refused = |refusal| step_after(&[DeviceMessage::Refused(refusal)]);
        assert_eq!(refused(Refusal::Busy), (Some(StepEnd::Busy), vec![true]));
        assert_eq!(refused(Refusal::BadSettings), (Some(StepEnd::Lost), vec![true]));
    }

    #[test]
    fn the_mean_the_spread_and_the_end_stop_of_each_plate() {
        let sample = |time, values| Sample { time: Milliseconds(time), values: PerPlate(values) };
        let mut cross = [[0.0; 4]; 4];
        for (plate, row) in cross.iter_mut().enumerate() {
            row[plate] = 0.01;
        }
        let calibration = Calibration { zero: PerPlate([Counts(100); 4]), cross };
        let samples = [sample(0, [100, 300, -900, 1_100]), sample(10, [100, 500, -1_000, 1_100])];
        let now = loads(&samples, &calibration, 1_000, 5);
        assert_eq!((now.mean_kg.0, now.at_ms), ([0.0, 3.0, -10.5, 10.0], 5));
        assert_eq!(now.sd_kg.0, [0.0, 1.0, 0.5, 0.0]);
        assert_eq!(now.end_stop.0, [false, false, true, true]);
    }
}
