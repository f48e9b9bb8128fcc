//! Golden files of the message format: they must decode to the values beside them, here and in a decoder written
//! in another language from the description alone, and encode to the same bytes again.
//!
//! A published golden file is never changed. `WRITE_GOLDEN=1` writes those of the samples below that are missing.

use shared::{
    analysis::{LegContacts, PassageKind, PassageSummary, Quality, Reason, Standing},
    lane_score::{CowRow, LaneFlag, OwnState, TableHead},
    limits::MAX_FRAME_BYTES,
    plate::{Leg, PerLeg, PerPlate, Plate},
    units::{Counts, Estimate, Kilograms, Milliseconds},
    wire::*,
};
use std::{
    fs,
    path::{Path, PathBuf},
    process::Command,
};

#[derive(Clone, Debug, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "a handful in a test")]
enum Said {
    Device(DeviceMessage),
    Host(HostMessage),
}

impl Said {
    fn frame(&self) -> Vec<u8> {
        let mut out = [0; MAX_FRAME_BYTES];
        let length = match self {
            Self::Device(message) => encode_frame(message, &mut out),
            Self::Host(message) => encode_frame(message, &mut out),
        };
        out[..length.expect("fits")].to_vec()
    }

    fn json(&self) -> String {
        match self {
            Self::Device(message) => serde_json::to_string(message),
            Self::Host(message) => serde_json::to_string(message),
        }
        .expect("JSON")
    }

    fn of_json(value: &serde_json::Value, like: &Self) -> Self {
        // Through text: a number of 32 bits must be read as one.
        let text = value.to_string();
        match like {
            Self::Device(_) => Self::Device(serde_json::from_str(&text).expect("a device's message")),
            Self::Host(_) => Self::Host(serde_json::from_str(&text).expect("a host's message")),
        }
    }

    fn data(&self) -> Option<&[u8]> {
        match self {
            Self::Device(DeviceMessage::TraceChunk(chunk)) => Some(&chunk.data),
            Self::Device(DeviceMessage::RawReadings(readings)) => Some(&readings.data),
            _ => None,
        }
    }
}

#[derive(Default)]
struct Stream {
    said: Vec<Said>,
    dropped: u32,
    skipped: u32,
}

fn read(bytes: &[u8]) -> Stream {
    let (mut stream, mut reader, mut rest) = (Stream::default(), FrameReader::new(), bytes);
    while !rest.is_empty() {
        rest = match reader.push(rest) {
            Feed::NeedMore => &[],
            Feed::Dropped { rest } => rest,
            Feed::Frame { payload, rest } => {
                match (decode::<DeviceMessage>(payload), decode::<HostMessage>(payload)) {
                    (Decoded::Message(message), _) => stream.said.push(Said::Device(message)),
                    (_, Decoded::Message(message)) => stream.said.push(Said::Host(message)),
                    _ => stream.skipped += 1,
                }
                rest
            }
        };
    }
    stream.dropped = reader.counts().dropped;
    stream
}

fn samples(data: &[u8]) -> Vec<Vec<i64>> {
    TraceDecoder::new(data)
        .map(|sample| {
            let sample = sample.expect("whole samples");
            let time = i64::try_from(sample.time.0).expect("a golden time");
            core::iter::once(time).chain(sample.values.0.map(i64::from)).collect()
        })
        .collect()
}

/// The rows of tables in a stream, taken apart.
fn rows(stream: &Stream) -> Vec<CowRow> {
    let mut found = Vec::new();
    for said in &stream.said {
        let Said::Host(HostMessage::Rows(rows)) = said else { continue };
        let mut rest = &rows.rows[..];
        while !rest.is_empty() {
            let (row, after) = postcard::take_from_bytes(rest).expect("whole rows");
            found.push(row);
            rest = after;
        }
    }
    found
}

fn json_of(stream: &Stream) -> String {
    let said: Vec<_> = stream.said.iter().map(|said| format!("  {}", said.json())).collect();
    let runs: Vec<_> = stream
        .said
        .iter()
        .filter_map(Said::data)
        .map(|data| format!("  {}", serde_json::to_string(&samples(data)).expect("JSON")))
        .collect();
    let rows = rows(stream);
    let rows = if rows.is_empty() {
        String::new()
    } else {
        format!(",\n \"rows\": {}", serde_json::to_string(&rows).expect("JSON"))
    };
    format!(
        "{{\n \"messages\": [\n{}\n ],\n \"dropped\": {},\n \"skipped\": {},\n \"samples\": [\n{}\n ]{rows}\n}}\n",
        said.join(",\n"),
        stream.dropped,
        stream.skipped,
        runs.join(",\n")
    )
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("golden/v1")
}

fn golden_files() -> Vec<PathBuf> {
    let mut files: Vec<_> = fs::read_dir(folder())
        .expect("golden files")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|end| end == "bin"))
        .collect();
    files.sort();
    files
}

fn data<const N: usize>(samples: &[Sample]) -> [u8; N] {
    let (mut encoder, mut bytes, mut at) = (TraceEncoder::new(), [0; N], 0);
    for sample in samples {
        at += encoder.push(sample, &mut bytes[at..]).expect("fits");
    }
    assert_eq!(at, N, "length of the sample run");
    bytes
}

fn at(time: u64, values: [i32; 4]) -> Sample {
    Sample { time: Milliseconds(time), values: PerPlate(values) }
}

fn stance() -> PassageSummary {
    let mut quality = Quality::default();
    quality.add(Reason::Ringing);
    quality.add(Reason::ZeroUnsure);
    let contacts =
        |peak_pct| LegContacts { count: 1, peak_pct, stance_s: 0.72, impulse_pct_s: 29.5, step_s: 0.61 };
    PassageSummary {
        start: Milliseconds(81_250),
        duration: Milliseconds(9_430),
        kind: PassageKind::Stance,
        quality,
        readings: 943,
        lost_readings: 2,
        body_weight: Some(Estimate { value: 652.4, se: 1.3 }),
        standing: Some(Standing {
            seconds: 6.1,
            share_pct: PerLeg([27.4, 26.1, 26.0, 20.5]),
            share_sd_pct: PerLeg([1.1, 1.2, 2.3, 2.4]),
            share_se_pct: PerLeg([0.3, 0.3, 0.6, 0.7]),
            front_shifts: 1,
            rear_shifts: 7,
            lifts: PerLeg([0, 0, 0, 2]),
        }),
        walking: PerLeg([contacts(58.0), contacts(57.1), contacts(47.9), LegContacts::default()]),
    }
}

fn walk_through() -> PassageSummary {
    PassageSummary {
        kind: PassageKind::WalkThrough,
        quality: Quality::default(),
        body_weight: None,
        standing: None,
        start: Milliseconds(5_000_000_000),
        ..stance()
    }
}

fn settings() -> Settings {
    Settings {
        rate_hz: 100,
        zero: PerPlate([Counts(-1_204), Counts(88_310), Counts(0), Counts(-8_388_608)]),
        kg_per_count: [
            [1.25e-4, 1.0e-6, 0.0, 0.0],
            [0.0, 1.26e-4, 0.0, -2.0e-6],
            [0.0, 0.0, 1.24e-4, 0.0],
            [0.0, 0.0, 0.0, 1.25e-4],
        ],
        name: "Uitgang – east".try_into().expect("short"),
    }
}

fn hello() -> DeviceMessage {
    DeviceMessage::Hello(DeviceHello {
        schema: 1,
        oldest: 1,
        device: DeviceId(0x0123_4567_89AB_CDEF),
        boot: 3,
        firmware: [0, 1, 0],
        rate_hz: 100,
        full_scale: 8_388_607,
        next_sequence: 304,
        waiting: 4,
        name: "Uitgang – east".try_into().expect("short"),
    })
}

fn health() -> Health {
    Health {
        boot: 3,
        uptime: Milliseconds(3_600_000),
        reset: ResetCause::Watchdog,
        supply_mv: Some(11_870),
        temperature_dc: Some(-45),
        lost_readings: 12,
        dropped_frames: 1,
        bad_tag_lines: 0,
        stack_high_water: 2_104,
        journal_fill_pct: 4,
        journal_waiting: 9,
        traces_dropped: 0,
        passages_dropped: 0,
        zero: PerPlate([0.4, -0.1, 0.0, 6.25].map(Kilograms)),
        noise: PerPlate([0.05, 0.06, 0.05, 0.4].map(Kilograms)),
        plates: PerPlate([PlateState::Good, PlateState::Saturated, PlateState::Stuck, PlateState::Silent]),
    }
}

fn device_samples() -> Vec<(&'static str, DeviceMessage)> {
    let key = |sequence| ItemKey { boot: 3, sequence };
    let trace: [u8; 13] = data(&[at(1_000, [0, 1, -1, 64]), at(1_010, [0, 1, -1, -64])]);
    let counts: [u8; 18] =
        data(&[at(500, [1, -1, 8_388_607, i32::MIN]), at(510, [1, -1, 8_388_607, i32::MAX])]);
    let step = CalibrationStep::KnownWeight { plate: Plate::RF, weight: Kilograms(20.0) };
    vec![
        ("device-hello", hello()),
        (
            "passage-stance",
            DeviceMessage::Passage(Passage {
                key: key(302),
                passage: 150,
                trace_chunks: 2,
                summary: stance(),
            }),
        ),
        (
            "passage-walk-through",
            DeviceMessage::Passage(Passage {
                key: key(303),
                passage: 151,
                trace_chunks: 0,
                summary: walk_through(),
            }),
        ),
        (
            "trace-chunk",
            DeviceMessage::TraceChunk(TraceChunk {
                key: key(301),
                passage: 150,
                chunk: 0,
                data: trace.into_iter().collect(),
            }),
        ),
        (
            "tag-read",
            DeviceMessage::TagRead(TagRead {
                key: key(300),
                time: Milliseconds(65_000),
                code: "999000000112233".parse().expect("a code"),
            }),
        ),
        ("health", DeviceMessage::Health(health())),
        (
            "health-nothing-measured",
            DeviceMessage::Health(Health { supply_mv: None, temperature_dc: None, ..health() }),
        ),
        (
            "time-reply",
            DeviceMessage::TimeReply(TimeReply {
                host_sent_ms: 1_767_225_600_000,
                round_trip_ms: 14,
                boot: 3,
                received: Milliseconds(60_007),
                sent: Milliseconds(60_008),
            }),
        ),
        ("settings", DeviceMessage::Settings(settings())),
        (
            "calibration-reply",
            DeviceMessage::CalibrationReply(CalibrationReply {
                step,
                outcome: CalibrationOutcome::NotSteady,
                counts: PerPlate([Counts(-3), Counts(160_000), Counts(12), Counts(0)]),
                loads: PerPlate([0.0, 20.1, 0.0, -0.1].map(Kilograms)),
            }),
        ),
        (
            "raw-readings",
            DeviceMessage::RawReadings(RawReadings { boot: 3, index: 7, data: counts.into_iter().collect() }),
        ),
        ("refused", DeviceMessage::Refused(Refusal::BadSettings)),
    ]
}

fn host_samples() -> Vec<(&'static str, HostMessage)> {
    vec![
        ("host-hello", HostMessage::Hello(HostHello { schema: 1, oldest: 1 })),
        ("acknowledge", HostMessage::Acknowledge { first: 5, last: 9 }),
        (
            "time-request",
            HostMessage::TimeRequest(TimeRequest { host_sent_ms: 1_767_225_600_000, round_trip_ms: 14 }),
        ),
        ("get-settings", HostMessage::GetSettings),
        ("set-settings", HostMessage::SetSettings(settings())),
        ("calibrate-empty-deck", HostMessage::Calibrate(CalibrationStep::EmptyDeck)),
        (
            "calibrate-check",
            HostMessage::Calibrate(CalibrationStep::Check { plate: Plate::LR, weight: Kilograms(20.0) }),
        ),
        ("stream-raw", HostMessage::StreamRaw { seconds: 300 }),
    ]
}

/// A session with all that can happen to it: an idle line, every kind, a half frame, a flipped bit, a kind of a
/// newer device.
fn capture() -> Vec<u8> {
    let mut bytes = vec![0, 0];
    for (index, (_, message)) in device_samples().into_iter().enumerate() {
        let frame = Said::Device(message).frame();
        match index {
            2 => bytes.extend_from_slice(&frame[frame.len() / 2..]),
            5 => {
                let mut flipped = frame.clone();
                flipped[9] ^= 0x10;
                bytes.extend_from_slice(&flipped);
            }
            _ => {}
        }
        bytes.extend_from_slice(&frame);
    }
    let mut newer = [0; MAX_FRAME_BYTES];
    let length = shared::wire::frame::frame_payload(b"D\x63what comes next", &mut newer).expect("fits");
    bytes.extend_from_slice(&newer[..length]);
    bytes
}

/// Messages of schemas 2 and 3, which the published capture does not hold.
fn added_samples() -> Vec<(&'static str, Said)> {
    let paired = Paired { device: DeviceId(0x00A1_B2C3_D4E5_F607), boot: 3, count: 1 };
    let open = HostMessage::Open { random: std::array::from_fn(|n| n as u8), count: 1 };
    let key = LinkKey(std::array::from_fn(|n| 0xE0 + n as u8));
    vec![
        ("paired", Said::Device(DeviceMessage::Paired(paired))),
        ("open", Said::Host(open)),
        ("pair", Said::Host(HostMessage::Pair(key))),
        ("journal", Said::Device(DeviceMessage::Journal(0x0123_4567_89AB_CDEF))),
        ("name-journal", Said::Host(HostMessage::NameJournal(0x0123_4567_89AB_CDEF))),
    ]
    .into_iter()
    .chain(ordered_samples())
    .collect()
}

/// Messages of the gate and of the table of cows.
fn ordered_samples() -> Vec<(&'static str, Said)> {
    let code = |digits: &str| digits.parse().expect("a code");
    let gate = GateSettings {
        moves_high: true,
        delay_ms: 4_000,
        pulse_ms: 800,
        hold_ms: 15_000,
        silence_s: 180,
        first_kg: Kilograms(20.0),
    };
    let cow = CowRow {
        code: code("999000000112233"),
        flag: LaneFlag::Watch,
        treated: false,
        unsettled: false,
        usual: [-215, 90, 5_480, 12, -3, 5_390],
        usual_sd: [31, 42, 12, 20, 35, 9],
        noise: [16, 14, 20, 16, 16, 11],
        sound: 4,
        states: [OwnState {
            state: 18,
            likely: 27,
            usual: [1, -9, 0, 0, -5, 1],
            usual_sd: [33, 60, 14, 21, 58, 10],
        }]
        .into_iter()
        .collect(),
    };
    let other = CowRow { code: code("999000000112290"), states: [].into_iter().collect(), ..cow.clone() };
    let bytes = |row: &CowRow| postcard::to_allocvec(row).expect("bytes");
    let rows = [bytes(&cow), bytes(&other)].concat();
    let head = TableHead {
        version: 1,
        table: 20_451,
        rows: 2,
        variance: [
            [9.0, 9.5, 2.0, 16.0, 15.0, 2.5],
            [30.0, 31.0, 6.0, 16.0, 15.0, 2.5],
            [60.0, 61.0, 9.0, 16.0, 15.0, 2.5],
        ],
        shift: [0.5, -0.25, 0.0, 0.0, 0.125, 0.0],
        shift_variance: [0.04; 6],
        scored: [0.004, 0.25, 0.9, 0.99, 1.0, 1.0],
        watch: [0.2, 0.125],
        check: [0.6, 0.4],
        weight: 0.5,
    };
    let orders = LaneOrders {
        gate: Some(gate),
        list: 20_451,
        listed: 2,
        held: 1,
        in_force: true,
        table: 20_450,
        coming: 20_451,
        next_row: 1,
    };
    vec![
        (
            "gate-event",
            Said::Device(DeviceMessage::GateEvent(GateEvent {
                key: ItemKey { boot: 3, sequence: 305 },
                time: Milliseconds(65_000),
                code: cow.code,
                outcome: GateOutcome::FirstPlates,
            })),
        ),
        ("orders", Said::Device(DeviceMessage::Orders(orders))),
        ("orders-none", Said::Device(DeviceMessage::Orders(LaneOrders::default()))),
        (
            "answer",
            Said::Device(DeviceMessage::Answer(LaneAnswer {
                boot: 3,
                passage: 150,
                start: Milliseconds(81_250),
                code: cow.code,
                table: 20_451,
                flag: LaneFlag::Check,
                probability: 0.75,
                leg: Some(Leg::RR),
            })),
        ),
        ("set-gate", Said::Host(HostMessage::SetGate(Some(gate)))),
        ("set-no-gate", Said::Host(HostMessage::SetGate(None))),
        (
            "hold-list",
            Said::Host(HostMessage::HoldList(HoldList {
                list: 20_451,
                part: 0,
                parts: 1,
                most: 6,
                codes: [cow.code, other.code].into_iter().collect(),
            })),
        ),
        (
            "confirm-list",
            Said::Host(HostMessage::ConfirmList(ConfirmList {
                list: 20_451,
                now_utc_ms: 1_767_225_600_000,
                until_utc_ms: 1_767_240_000_000,
            })),
        ),
        ("table", Said::Host(HostMessage::Table(head))),
        (
            "table-rows",
            Said::Host(HostMessage::Rows(TableRows {
                table: 20_451,
                first: 0,
                rows: rows.into_iter().collect(),
            })),
        ),
    ]
}

/// Frames sealed in the connection that the samples above open, first the device's, then the host's.
fn sealed_frames() -> Vec<u8> {
    let opening = Opening {
        host: std::array::from_fn(|n| n as u8),
        device: DeviceId(0x00A1_B2C3_D4E5_F607),
        boot: 3,
        count: 1,
    };
    let key = LinkKey(std::array::from_fn(|n| 0xE0 + n as u8));
    let (mut device, mut host) =
        (Sealed::open::<DeviceMessage>(&key, &opening), Sealed::open::<HostMessage>(&key, &opening));
    let mut bytes = Vec::new();
    let mut seal = |end: &mut Sealed, sender: u8, body: Vec<u8>| {
        let mut out = [0; shared::limits::MAX_SEALED_FRAME_BYTES];
        let length = end.seal(&[&[sender][..], &body].concat(), &mut out).expect("fits");
        bytes.extend_from_slice(&out[..length]);
    };
    for (_, message) in device_samples() {
        seal(&mut device, b'D', postcard::to_allocvec(&message).expect("bytes"));
    }
    for (_, message) in host_samples() {
        seal(&mut host, b'H', postcard::to_allocvec(&message).expect("bytes"));
    }
    bytes
}

/// Another program opens sealed frames from the description, with ciphers checked against their own test vectors.
#[test]
fn another_program_opens_sealed_frames() {
    let path = folder().join("sealed.frames");
    if std::env::var_os("WRITE_GOLDEN").is_some() && !path.exists() {
        fs::write(&path, sealed_frames()).expect("written");
    }
    assert_eq!(fs::read(&path).expect("the frames"), sealed_frames());
    let program = Path::new(env!("CARGO_MANIFEST_DIR")).join("decoder/unseal.py");
    let golden = folder();
    let files = ["pair.json", "open.json", "paired.json"].map(|name| golden.join(name));
    let output = Command::new("python3").arg(program).args(files).arg(&path).output().expect("python3 runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let opened: Vec<serde_json::Value> = serde_json::from_slice(&output.stdout).expect("JSON");
    let device = device_samples().into_iter().map(|(_, message)| Said::Device(message));
    let host = host_samples().into_iter().map(|(_, message)| Said::Host(message));
    let said: Vec<Said> = device.chain(host).collect();
    assert_eq!(opened.len(), said.len());
    for (opened, said) in opened.iter().zip(&said) {
        assert_eq!(&Said::of_json(opened, said), said);
    }
}

fn write_missing() {
    let device = device_samples().into_iter().map(|(name, message)| (name, Said::Device(message).frame()));
    let host = host_samples().into_iter().map(|(name, message)| (name, Said::Host(message).frame()));
    let added = added_samples().into_iter().map(|(name, said)| (name, said.frame()));
    for (name, bytes) in device.chain(host).chain(added).chain([("capture", capture())]) {
        let path = folder().join(name).with_extension("bin");
        if !path.exists() {
            fs::write(path.with_extension("json"), json_of(&read(&bytes))).expect("written");
            fs::write(path, bytes).expect("written");
        }
    }
}

#[test]
fn golden_files_decode_and_encode() {
    if std::env::var_os("WRITE_GOLDEN").is_some() {
        write_missing();
    }
    let files = golden_files();
    assert!(files.len() >= device_samples().len() + host_samples().len(), "{} files", files.len());
    for path in files {
        let bytes = fs::read(&path).expect("readable");
        let text = fs::read_to_string(path.with_extension("json")).expect("the values beside it");
        let golden: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let stream = read(&bytes);
        let name = path.display();
        assert_eq!(golden["dropped"], stream.dropped, "{name}");
        assert_eq!(golden["skipped"], stream.skipped, "{name}");
        let messages = golden["messages"].as_array().expect("a list");
        assert_eq!(messages.len(), stream.said.len(), "{name}");
        for (value, said) in messages.iter().zip(&stream.said) {
            assert_eq!(&Said::of_json(value, said), said, "{name}");
        }
        let runs: Vec<_> = stream.said.iter().filter_map(Said::data).map(samples).collect();
        assert_eq!(golden["samples"], serde_json::json!(runs), "{name}");
        let golden_rows = golden.get("rows").cloned().unwrap_or_else(|| serde_json::json!([]));
        assert_eq!(golden_rows, serde_json::json!(rows(&stream)), "{name}");
        if stream.dropped + stream.skipped == 0 {
            let again: Vec<u8> = stream.said.iter().flat_map(Said::frame).collect();
            assert_eq!(again, bytes, "{name}");
        }
    }
}

#[test]
fn every_sample_has_its_golden_file() {
    let device = device_samples().into_iter().map(|(name, message)| (name, Said::Device(message)));
    let host = host_samples().into_iter().map(|(name, message)| (name, Said::Host(message)));
    for (name, said) in device.chain(host).chain(added_samples()) {
        let bytes = fs::read(folder().join(name).with_extension("bin")).expect(name);
        assert_eq!(read(&bytes).said, [said], "{name}");
    }
    let whole = read(&fs::read(folder().join("capture.bin")).expect("the capture"));
    assert_eq!((whole.said.len(), whole.dropped, whole.skipped), (device_samples().len(), 2, 1));
}

#[test]
fn another_decoder_reads_the_same() {
    let decoder = Path::new(env!("CARGO_MANIFEST_DIR")).join("decoder/decode.py");
    let output = Command::new("python3")
        .arg(&decoder)
        .arg("--check")
        .args(golden_files())
        .output()
        .expect("python3 runs");
    let said = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{said}{}", String::from_utf8_lossy(&output.stderr));
    assert!(said.contains(&format!("{} passed, 0 failed", golden_files().len())), "{said}");
}
