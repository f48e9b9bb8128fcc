//! The same readings as a device would send them: raw counts and tags in frames, as a capture file holds them.

use crate::files::Out;
use crate::herd::Settings as HerdSettings;
use crate::lane::Sink;
use anyhow::{Context, anyhow, ensure};
use shared::identity::AnimalCode;
use shared::limits::{MAX_FRAME_BYTES, MAX_TRACE_DATA_BYTES};
use shared::plate::PerPlate;
use shared::units::{Counts, Milliseconds};
use shared::wire::trace::MAX_SAMPLE_BYTES;
use shared::wire::{
    DeviceHello, DeviceId, DeviceMessage, ItemKey, OLDEST_SCHEMA, RawReadings, Sample, Settings, TagRead,
    TimeReply, TraceEncoder, encode_frame,
};
use std::collections::VecDeque;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// The invented device's number.
const DEVICE: DeviceId = DeviceId(0xD3_0000_0001);
/// Counts of a kilogram, and of each empty plate (our choice).
const COUNTS_PER_KG: f64 = 50.0;
const ZERO_COUNTS: [i32; 4] = [41_250, 38_400, 40_010, 43_775];
/// Counts at which a converter ends: 24 bits, both signs.
const FULL_SCALE: u32 = 8_388_607;
/// The device started this long before the first day, ms.
const UP_BEFORE_MS: i64 = 3_600_000;
/// How often the device tells the time, ms.
const TIME_EVERY_MS: i64 = 3_600_000;

/// Writes `lane.capture`.
pub struct CaptureSink {
    out: Out,
    boot_ms: i64,
    tags: VecDeque<(i64, AnimalCode)>,
    sequence: u32,
    index: u32,
    chunk: heapless::Vec<u8, MAX_TRACE_DATA_BYTES>,
    encoder: TraceEncoder,
    last_time: i64,
}

impl CaptureSink {
    /// Begins a capture in a folder: hello, settings, time.
    ///
    /// # Errors
    /// Where the file cannot be made, or the rate is no whole number.
    pub fn create(folder: &Path, settings: &HerdSettings) -> anyhow::Result<Self> {
        let rate_hz = libm::round(settings.rate_hz);
        ensure!(rate_hz == settings.rate_hz, "a device reads a whole number of times a second");
        let path = folder.join("lane.capture");
        let file = File::create(&path).with_context(|| format!("cannot write {}", path.display()))?;
        let boot_ms = settings.millis(0.0) - UP_BEFORE_MS;
        let mut sink = Self {
            out: BufWriter::new(file),
            boot_ms,
            tags: VecDeque::new(),
            sequence: 1,
            index: 0,
            chunk: heapless::Vec::new(),
            encoder: TraceEncoder::new(),
            last_time: i64::MIN,
        };
        let name = heapless::String::try_from("exit").map_err(|_| anyhow!("the lane's name is too long"))?;
        sink.send(&DeviceMessage::Hello(DeviceHello {
            schema: 1,
            oldest: OLDEST_SCHEMA,
            device: DEVICE,
            boot: 1,
            firmware: [0, 1, 0],
            rate_hz: rate_hz as u16,
            full_scale: FULL_SCALE,
            next_sequence: 1,
            waiting: 0,
            name: name.clone(),
        }))?;
        let mut kg_per_count = [[0.0_f32; 4]; 4];
        for (i, row) in kg_per_count.iter_mut().enumerate() {
            row[i] = (1.0 / COUNTS_PER_KG) as f32;
        }
        let zero = PerPlate(ZERO_COUNTS.map(Counts));
        sink.send(&DeviceMessage::Settings(Settings { rate_hz: rate_hz as u16, zero, kg_per_count, name }))?;
        Ok(sink)
    }

    /// Writes what is still held.
    ///
    /// # Errors
    /// Where the disk is full.
    pub fn finish(mut self) -> anyhow::Result<()> {
        self.flush_chunk()?;
        self.flush_tags(i64::MAX)?;
        self.out.flush()?;
        Ok(())
    }

    fn send(&mut self, message: &DeviceMessage) -> anyhow::Result<()> {
        let mut frame = [0; MAX_FRAME_BYTES];
        let length = encode_frame(message, &mut frame).map_err(|e| anyhow!("a frame does not fit: {e:?}"))?;
        self.out.write_all(&frame[..length])?;
        Ok(())
    }

    fn device_time(&self, millis: i64) -> Milliseconds {
        Milliseconds((millis - self.boot_ms).max(0) as u64)
    }

    fn tell_time(&mut self, millis: i64) -> anyhow::Result<()> {
        self.last_time = millis;
        let now = self.device_time(millis);
        self.send(&DeviceMessage::TimeReply(TimeReply {
            host_sent_ms: millis - 5,
            round_trip_ms: 10,
            boot: 1,
            received: now,
            sent: now,
        }))
    }

    fn flush_chunk(&mut self) -> anyhow::Result<()> {
        if self.chunk.is_empty() {
            return Ok(());
        }
        let data = std::mem::take(&mut self.chunk);
        self.encoder = TraceEncoder::new();
        self.send(&DeviceMessage::RawReadings(RawReadings { boot: 1, index: self.index, data }))?;
        self.index += 1;
        Ok(())
    }

    fn flush_tags(&mut self, until: i64) -> anyhow::Result<()> {
        while let Some((millis, code)) = self.tags.front().copied().filter(|(millis, _)| *millis <= until) {
            self.tags.pop_front();
            let key = ItemKey { boot: 1, sequence: self.sequence };
            self.sequence += 1;
            let time = self.device_time(millis);
            self.send(&DeviceMessage::TagRead(TagRead { key, time, code }))?;
        }
        Ok(())
    }
}

impl Sink for CaptureSink {
    fn reading(&mut self, millis: i64, loads: &PerPlate<f64>) -> anyhow::Result<()> {
        if self.last_time == i64::MIN || millis - self.last_time >= TIME_EVERY_MS {
            self.flush_chunk()?;
            self.tell_time(millis)?;
        }
        if self.tags.front().is_some_and(|(tag, _)| *tag <= millis) {
            self.flush_chunk()?;
            self.flush_tags(millis)?;
        }
        let mut values = PerPlate(ZERO_COUNTS);
        for (value, load) in values.0.iter_mut().zip(loads.0) {
            *value += libm::round(load * COUNTS_PER_KG) as i32;
        }
        let sample = Sample { time: self.device_time(millis), values };
        if self.chunk.len() + MAX_SAMPLE_BYTES > MAX_TRACE_DATA_BYTES {
            self.flush_chunk()?;
        }
        let mut bytes = [0; MAX_SAMPLE_BYTES];
        let length = self.encoder.push(&sample, &mut bytes).context("a sample does not fit")?;
        self.chunk.extend_from_slice(&bytes[..length]).map_err(|_| anyhow!("a sample does not fit"))?;
        Ok(())
    }

    fn tag(&mut self, millis: i64, animal_id: &str) -> anyhow::Result<()> {
        let code = AnimalCode::from_digits(animal_id.as_bytes()).map_err(|e| anyhow!("tag: {e:?}"))?;
        self.tags.push_back((millis, code));
        Ok(())
    }
}

/// Writes to two sinks: to both, or to one before a moment and to the other from then on.
pub struct Two<'a> {
    /// The first.
    pub first: &'a mut dyn Sink,
    /// The second.
    pub second: &'a mut dyn Sink,
    /// When the second takes over, ms since the Unix epoch; `None` writes everything to both.
    pub from: Option<i64>,
}

impl Two<'_> {
    fn each(
        &mut self,
        millis: i64,
        write: impl Fn(&mut dyn Sink) -> anyhow::Result<()>,
    ) -> anyhow::Result<()> {
        if self.from.is_none_or(|from| millis < from) {
            write(self.first)?;
        }
        if self.from.is_none_or(|from| millis >= from) {
            write(self.second)?;
        }
        Ok(())
    }
}

impl Sink for Two<'_> {
    fn reading(&mut self, millis: i64, loads: &PerPlate<f64>) -> anyhow::Result<()> {
        self.each(millis, |sink| sink.reading(millis, loads))
    }

    fn tag(&mut self, millis: i64, animal_id: &str) -> anyhow::Result<()> {
        self.each(millis, |sink| sink.tag(millis, animal_id))
    }
}
