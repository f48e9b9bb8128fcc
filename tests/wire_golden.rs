//! Golden files of the message format: they must decode to the values beside them, here and in a decoder written
//! in another language from the description alone, and encode to the same bytes again.
//!
//! A published golden file is never changed. `WRITE_GOLDEN=1` writes those of the samples below that are missing.

mod wire_samples;

use shared::{lane_score::CowRow, limits::MAX_FRAME_BYTES, wire::*};
use std::{
    fs,
    path::{Path, PathBuf},
    process::Command,
};
use wire_samples::{added_samples, device_samples, host_samples};

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
