//! A milking as it happens: a lane device in memory, on a TCP port, that keeps what it measured until the host has it.
//! So list, live page and lane can be watched without hardware.

use crate::herd::{Herd, Settings as HerdSettings};
use crate::lane::{Lane, Planned, Sink};
use crate::weighed::{Weighed, settings};
use anyhow::{Context, anyhow};
use shared::analysis::{Analyser, Reading};
use shared::identity::AnimalCode;
use shared::limits::MAX_FRAME_BYTES;
use shared::plate::PerPlate;
use shared::units::{Kilograms, Milliseconds};
use shared::wire::{
    Decoded, DeviceHello, DeviceId, DeviceMessage, FrameReader, HostMessage, ItemKey, OLDEST_SCHEMA, Passage,
    SCHEMA, TagRead, TimeReply, decode, encode_frame,
};
use std::io::{ErrorKind, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::time::{Duration, Instant};

/// The device's number, and the name of its journal.
const DEVICE: DeviceId = DeviceId(0xD3_0000_0002);
/// Items sent and not acknowledged, at most, and how long to wait before they are sent again.
const WINDOW: usize = 8;
const AGAIN: Duration = Duration::from_secs(3);
/// A look at the line this often.
const TICK: Duration = Duration::from_millis(20);
/// The first cow comes this long after the milking began to be played.
const AHEAD_MS: i64 = 3_000;

/// Something measured, and when the device has it, ms after its start.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// When.
    pub at: u64,
    /// What.
    pub message: DeviceMessage,
}

/// Takes the readings of a milking as a device does.
struct Recorder {
    /// What the milking's clock showed when the device started, ms.
    start: Option<i64>,
    analyser: Analyser,
    tags: Vec<(i64, AnimalCode)>,
    found: Vec<Measured>,
    weighed: Weighed,
}

impl Recorder {
    fn clock(&mut self, millis: i64) -> u64 {
        let start = *self.start.get_or_insert(millis - AHEAD_MS);
        (millis - start).max(0) as u64
    }

    fn take_ended(&mut self, at: u64) {
        if let Some(summary) = self.analyser.ended().copied() {
            let passage = Passage { key: ItemKey::default(), passage: 0, trace_chunks: 0, summary };
            self.found.push(Measured { at, message: DeviceMessage::Passage(passage) });
        }
    }
}

impl Sink for Recorder {
    fn reading(&mut self, millis: i64, loads: &PerPlate<f64>) -> anyhow::Result<()> {
        let at = self.clock(millis);
        self.weighed.push(at, *loads);
        let loads = PerPlate(loads.0.map(|load| Kilograms(load as f32)));
        self.analyser.push(&Reading { time: Milliseconds(at), loads, saturated: PerPlate([false; 4]) });
        self.take_ended(at);
        Ok(())
    }

    fn tag(&mut self, millis: i64, animal_id: &str) -> anyhow::Result<()> {
        let code = AnimalCode::from_digits(animal_id.as_bytes()).map_err(|e| anyhow!("tag: {e:?}"))?;
        self.tags.push((millis, code));
        Ok(())
    }
}

/// What a device makes of the first milking of the herd's day, by time, numbered as in its journal; and what lies on its
/// plates meanwhile.
///
/// # Errors
/// Where the lane fails.
pub fn milking(herd: &Herd) -> anyhow::Result<(Vec<Measured>, Weighed)> {
    let usual = |_: &Herd, _: usize, _: usize| -> Planned { None };
    let mut recorder = Recorder {
        start: None,
        analyser: Analyser::new(herd.settings.rate_hz as f32),
        tags: Vec::new(),
        found: Vec::new(),
        weighed: Weighed::default(),
    };
    Lane::new(herd).milking(herd, 0, usual, &mut recorder)?;
    recorder.analyser.finish();
    let last = recorder.found.last().map_or(0, |found| found.at);
    recorder.take_ended(last);
    for (millis, code) in std::mem::take(&mut recorder.tags) {
        let at = recorder.clock(millis);
        let tag = TagRead { key: ItemKey::default(), time: Milliseconds(at), code };
        recorder.found.push(Measured { at, message: DeviceMessage::TagRead(tag) });
    }
    let mut found = recorder.found;
    found.sort_by_key(|found| found.at);
    for (sequence, found) in (1..).zip(&mut found) {
        let named = ItemKey { boot: 1, sequence };
        match &mut found.message {
            DeviceMessage::Passage(passage) => (passage.key, passage.passage) = (named, sequence),
            DeviceMessage::TagRead(tag) => tag.key = named,
            _ => {}
        }
    }
    Ok((found, recorder.weighed))
}

/// The device.
struct Device<'m> {
    /// The first host has come.
    started: Option<Instant>,
    /// Drawn anew with each start: every playing is a journal of its own.
    journal: u64,
    rate_hz: u16,
    waiting: Vec<(u32, &'m Measured)>,
    weighed: Weighed,
}

/// A host on the line.
struct Talk {
    stream: TcpStream,
    reader: FrameReader,
    greeted: bool,
    in_flight: usize,
    sent: Instant,
}

impl Device<'_> {
    fn now(&self) -> Milliseconds {
        let elapsed = self.started.map_or(Duration::ZERO, |started| started.elapsed());
        Milliseconds(u64::try_from(elapsed.as_millis()).unwrap_or(u64::MAX))
    }

    fn hello(&self) -> anyhow::Result<DeviceMessage> {
        Ok(DeviceMessage::Hello(DeviceHello {
            schema: SCHEMA,
            oldest: OLDEST_SCHEMA,
            device: DEVICE,
            boot: 1,
            firmware: [0, 1, 0],
            rate_hz: self.rate_hz,
            full_scale: 8_388_607,
            next_sequence: 1,
            waiting: self.waiting.len() as u32,
            name: heapless::String::try_from("exit").map_err(|_| anyhow!("the lane's name is too long"))?,
        }))
    }

    fn obey(&mut self, message: HostMessage, talk: &mut Talk) -> anyhow::Result<()> {
        match message {
            HostMessage::Hello(_) => {
                (talk.greeted, talk.in_flight) = (true, 0);
                talk.say(&self.hello()?)?;
                talk.say(&DeviceMessage::Journal(self.journal))
            }
            HostMessage::Acknowledge { first, last } => {
                let before = self.waiting.len();
                self.waiting.retain(|(sequence, _)| !(first..=last).contains(sequence));
                talk.in_flight = talk.in_flight.saturating_sub(before - self.waiting.len());
                Ok(())
            }
            HostMessage::TimeRequest(request) => {
                let now = self.now();
                talk.say(&DeviceMessage::TimeReply(TimeReply {
                    host_sent_ms: request.host_sent_ms,
                    round_trip_ms: request.round_trip_ms,
                    boot: 1,
                    received: now,
                    sent: now,
                }))
            }
            HostMessage::GetSettings => talk.say(&DeviceMessage::Settings(settings(self.rate_hz))),
            HostMessage::StreamRaw { seconds } => {
                self.weighed.start(self.now().0, seconds);
                Ok(())
            }
            // An invented lane has nothing to set.
            _ => Ok(()),
        }
    }

    fn send(&mut self, talk: &mut Talk) -> anyhow::Result<()> {
        let step_ms = 1_000 / u64::from(self.rate_hz.max(1));
        for message in self.weighed.due(self.now().0, step_ms) {
            talk.say(&DeviceMessage::RawReadings(message))?;
        }
        if talk.in_flight > 0 && talk.sent.elapsed() >= AGAIN {
            talk.in_flight = 0;
        }
        let ready = self.waiting.iter().take_while(|(_, found)| found.at <= self.now().0).count();
        for (_, found) in &self.waiting[talk.in_flight.min(ready)..ready.min(WINDOW)] {
            talk.say(&found.message)?;
            (talk.in_flight, talk.sent) = (talk.in_flight + 1, Instant::now());
        }
        Ok(())
    }
}

impl Talk {
    fn say(&mut self, message: &DeviceMessage) -> anyhow::Result<()> {
        let mut frame = [0; MAX_FRAME_BYTES];
        let length = encode_frame(message, &mut frame).map_err(|e| anyhow!("a frame does not fit: {e:?}"))?;
        Ok(self.stream.write_all(&frame[..length])?)
    }

    /// What has come in; `None` where the host is gone.
    fn hear(&mut self) -> Option<Vec<HostMessage>> {
        let mut bytes = [0; 1024];
        let mut heard = Vec::new();
        let length = match self.stream.read(&mut bytes) {
            Ok(0) => return None,
            Ok(length) => length,
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => 0,
            Err(_) => return None,
        };
        self.reader.payloads(&bytes[..length], |payload| {
            if let Decoded::Message(message) = decode::<HostMessage>(payload) {
                heard.push(message);
            }
        });
        Some(heard)
    }
}

/// Plays what was measured on a TCP port until a host has all of it.
///
/// # Errors
/// Where the port fails.
pub fn play(
    listener: &TcpListener,
    settings: &HerdSettings,
    journal: u64,
    (measured, weighed): (&[Measured], Weighed),
) -> anyhow::Result<()> {
    let mut device = Device {
        started: None,
        journal,
        rate_hz: settings.rate_hz as u16,
        waiting: (1..).zip(measured).collect(),
        weighed,
    };
    while !device.waiting.is_empty() {
        let (stream, _) = listener.accept().context("no host came")?;
        device.started.get_or_insert_with(Instant::now);
        stream.set_read_timeout(Some(TICK))?;
        stream.set_nodelay(true)?;
        let mut talk =
            Talk { stream, reader: FrameReader::new(), greeted: false, in_flight: 0, sent: Instant::now() };
        while !device.waiting.is_empty() {
            let Some(heard) = talk.hear() else { break };
            let spoken = heard.into_iter().try_for_each(|message| device.obey(message, &mut talk));
            let sent = if talk.greeted { device.send(&mut talk) } else { Ok(()) };
            // A host that is gone may come back.
            if spoken.and(sent).is_err() {
                break;
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn herd() -> Herd {
        Herd::new(HerdSettings { trouble: 0.0, ..HerdSettings::new(3, 1, 5) })
    }

    #[test]
    fn each_cow_is_measured_with_her_tag_before_her_and_numbers_rise_with_time() {
        let herd = herd();
        let (measured, _) = milking(&herd).unwrap();
        let cows = herd.order(0).len();
        let tag = |found: &&Measured| matches!(found.message, DeviceMessage::TagRead(_));
        assert!(measured.iter().filter(tag).count() >= cows);
        let passages: Vec<_> = measured
            .iter()
            .filter_map(|found| match &found.message {
                DeviceMessage::Passage(passage) => Some((found.at, passage)),
                _ => None,
            })
            .collect();
        assert_eq!(passages.len(), cows);
        for (at, passage) in passages {
            let end = passage.summary.start.0 + passage.summary.duration.0;
            assert!(end <= at && at < end + 5_000, "told once she is off: {end} {at}");
        }
        assert!(measured.windows(2).all(|two| two[0].at <= two[1].at));
        let key = |found: &Measured| match &found.message {
            DeviceMessage::Passage(passage) => passage.key.sequence,
            DeviceMessage::TagRead(tag) => tag.key.sequence,
            _ => 0,
        };
        assert!(measured.iter().map(key).eq(1..=measured.len() as u32));
    }
}
