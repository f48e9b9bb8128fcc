//! The format against published vectors, its own limits, and noise.

mod longest;

use super::{frame::frame_payload, *};
use crate::{
    limits::{MAX_FRAME_BYTES, MAX_NAME_BYTES, MAX_PAYLOAD_BYTES, MAX_SUMMARY_BYTES},
    plate::PerPlate,
    units::{Kilograms, Milliseconds},
};
use longest::{worst_device_messages, worst_host_messages};
use proptest::prelude::*;
use std::{string::String, vec, vec::Vec};

fn frame<M: Message>(message: &M) -> Vec<u8> {
    let mut out = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut out).expect("every message fits");
    out[..length].to_vec()
}

/// The payloads in a stream that comes in pieces, and the frames dropped.
fn payloads(bytes: &[u8], piece: usize) -> (Vec<Vec<u8>>, u32) {
    let mut reader = FrameReader::new();
    let mut found = Vec::new();
    for piece in bytes.chunks(piece.max(1)) {
        reader.payloads(piece, |payload| found.push(payload.to_vec()));
    }
    assert_eq!(reader.counts().frames as usize, found.len());
    (found, reader.counts().dropped)
}

fn comes_back<M: Message + PartialEq + Clone + core::fmt::Debug>(messages: &[M]) {
    assert_eq!(messages.len(), usize::from(M::KINDS), "one of every kind");
    for (kind, message) in messages.iter().enumerate() {
        let frame = frame(message);
        assert!(frame.len() <= MAX_FRAME_BYTES);
        let (found, dropped) = payloads(&frame, 7);
        assert_eq!((found.len(), dropped), (1, 0));
        assert_eq!(found[0][..2], [M::SENDER, u8::try_from(kind).expect("few kinds")]);
        assert_eq!(decode::<M>(&found[0]), Decoded::Message(message.clone()));
    }
}

#[test]
fn the_longest_messages_fit_and_come_back() {
    comes_back(&worst_device_messages());
    comes_back(&worst_host_messages());
}

#[test]
fn a_summary_fits_its_budget() {
    let passage = worst_device_messages().swap_remove(1);
    assert!(matches!(passage, DeviceMessage::Passage(_)));
    let bytes = frame(&passage).len();
    assert!(bytes <= MAX_SUMMARY_BYTES, "{bytes}");
}

/// CRC-32/ISCSI of "123456789" as catalogued by akhilles/crc-catalog; slice and check from postcard's tests/crc.rs.
#[test]
fn the_check_is_the_catalogued_one() {
    assert_eq!(crc32(b"123456789"), 0xE306_9283);
    assert_eq!(crc32(&[0x04, 0x01, 0x00, 0x20, 0x30]).to_le_bytes(), [0x8E, 0xC8, 0x1A, 0x37]);
}

fn stuffed(plain: &[u8]) -> Vec<u8> {
    let mut out = vec![0; cobs::max_encoding_length(plain.len())];
    let length = cobs::encode(plain, &mut out);
    out.truncate(length);
    out
}

/// Test cases of cmcqueen/cobs-python (test.py) and jamesmunns/cobs.rs.
#[test]
fn stuffing_is_the_published_one() {
    let run = |from: u8, to: u8| (from..=to).collect::<Vec<u8>>();
    let with = |head: &[u8], middle: Vec<u8>, tail: &[u8]| [head, &middle, tail].concat();
    for (plain, expected) in [
        (vec![0], vec![1, 1]),
        (vec![0, 0], vec![1, 1, 1]),
        (b"12345".to_vec(), b"\x0612345".to_vec()),
        (b"12345\x006789".to_vec(), b"\x0612345\x056789".to_vec()),
        (b"12345\x006789\x00".to_vec(), b"\x0612345\x056789\x01".to_vec()),
        (run(1, 0xFD), with(&[0xFE], run(1, 0xFD), &[])),
        (run(1, 0xFE), with(&[0xFF], run(1, 0xFE), &[])),
        (run(1, 0xFF), with(&[0xFF], run(1, 0xFE), &[2, 0xFF])),
        (run(0, 0xFF), with(&[1, 0xFF], run(1, 0xFE), &[2, 0xFF])),
        (with(&[], run(2, 0xFF), &[0]), with(&[0xFF], run(2, 0xFF), &[1, 1])),
        (with(&[], run(3, 0xFF), &[0, 1]), with(&[0xFE], run(3, 0xFF), &[2, 1])),
        (vec![0x0A, 0x0B, 0, 0x0C], vec![3, 0x0A, 0x0B, 2, 0x0C]),
        (vec![0, 0, 1, 0], vec![1, 1, 2, 1, 1]),
    ] {
        assert_eq!(stuffed(&plain), expected);
        let mut back = vec![0; 300];
        let length = cobs::decode(&expected, &mut back).expect("valid");
        assert_eq!(back[..length], plain);
    }
    for bad in [&[0][..], b"\x05123", b"\x051234\x00", b"\x0512\x004"] {
        let mut reader = FrameReader::new();
        let mut bytes = bad.to_vec();
        bytes.push(0);
        assert!(!matches!(reader.push(&bytes), Feed::Frame { .. }), "{bad:?}");
    }
}

/// jamesmunns/postcard, spec/src/wire-format.md.
#[test]
fn numbers_are_the_published_ones() {
    fn bytes<T: serde::Serialize>(value: T) -> Vec<u8> {
        let mut out = [0; 16];
        postcard::to_slice(&value, &mut out).expect("fits").to_vec()
    }
    for (value, expected) in [
        (0u16, &[0x00][..]),
        (127, &[0x7F]),
        (128, &[0x80, 0x01]),
        (16383, &[0xFF, 0x7F]),
        (16384, &[0x80, 0x80, 0x01]),
        (16385, &[0x81, 0x80, 0x01]),
        (65535, &[0xFF, 0xFF, 0x03]),
    ] {
        assert_eq!(bytes(value), expected);
    }
    for (value, expected) in [
        (0i16, &[0x00][..]),
        (-1, &[0x01]),
        (1, &[0x02]),
        (63, &[0x7E]),
        (-64, &[0x7F]),
        (64, &[0x80, 0x01]),
        (-65, &[0x81, 0x01]),
        (32767, &[0xFE, 0xFF, 0x03]),
        (-32768, &[0xFF, 0xFF, 0x03]),
    ] {
        assert_eq!(bytes(value), expected);
    }
    let number = -32.005_859_375_f64; // exact in f32 too
    assert_eq!(bytes(number as f32), [0x00, 0x06, 0x00, 0xC2]);
    assert_eq!(bytes(number), [0, 0, 0, 0, 0xC0, 0x00, 0x40, 0xC0]);
    let read = |bytes: &[u8]| postcard::from_bytes::<u16>(bytes).ok();
    assert_eq!(read(&[0x80, 0x00]), Some(0));
    assert_eq!(read(&[0x80, 0x80, 0x00]), Some(0));
    assert_eq!(read(&[0x80, 0x80, 0x80, 0x00]), None);
    assert_eq!(read(&[0xFF, 0xFF, 0x07]), None);
    assert_eq!(read(&[0xFF, 0xFF, 0x83, 0x00]), None);
}

#[test]
fn newer_peers_are_followed_as_far_as_they_are_known() {
    let mut out = [0; MAX_FRAME_BYTES];
    let length = frame_payload(&[b'D', 200, 1, 2, 3], &mut out).expect("short");
    let mut stream = out[..length].to_vec();
    // A known kind with fields added at its end.
    let length = frame_payload(&[b'H', 1, 5, 9, 77, 78], &mut out).expect("short");
    stream.extend_from_slice(&out[..length]);
    let (found, dropped) = payloads(&stream, 3);
    assert_eq!(dropped, 0);
    assert_eq!(decode::<DeviceMessage>(&found[0]), Decoded::NewerKind(200));
    assert_eq!(
        decode::<HostMessage>(&found[1]),
        Decoded::Message(HostMessage::Acknowledge { first: 5, last: 9 })
    );
    assert_eq!(decode::<DeviceMessage>(&found[1]), Decoded::OtherSender(b'H'));
    assert_eq!(decode::<HostMessage>(b"H\x01\x05"), Decoded::Malformed);
    assert_eq!(decode::<HostMessage>(b"H"), Decoded::Malformed);
    assert_eq!(decode::<HostMessage>(b""), Decoded::Malformed);
    assert_eq!(hello_schema(b"D\x00\x09\x02whatever follows"), Some((9, 2)));
    assert_eq!(hello_schema(b"H\x01\x05\x09"), None);
    assert!(speaks(SCHEMA, OLDEST_SCHEMA) && speaks(SCHEMA + 9, SCHEMA));
    assert!(!speaks(SCHEMA + 9, SCHEMA + 1) && !speaks(OLDEST_SCHEMA - 1, 0));
}

#[test]
fn a_name_too_long_or_an_impossible_tag_is_malformed() {
    let mut hello = frame(&worst_device_messages()[0]);
    let (found, _) = payloads(&hello, 99);
    let mut payload = found[0].clone();
    let at = payload.len() - MAX_NAME_BYTES - 1;
    payload[at] += 1;
    payload.push(b'x');
    assert_eq!(decode::<DeviceMessage>(&payload), Decoded::Malformed);
    // Country 000.
    hello = vec![b'D', 3, 1, 1, 1, 1];
    assert_eq!(decode::<DeviceMessage>(&hello), Decoded::Malformed);
}

#[test]
fn a_broken_frame_costs_no_other() {
    let acknowledge = frame(&HostMessage::Acknowledge { first: 1, last: 2 });
    let mut stream = acknowledge[3..].to_vec();
    stream.extend_from_slice(&acknowledge);
    stream.extend_from_slice(&[0, 0, 0]);
    stream.extend(core::iter::repeat_n(7, 1000));
    stream.push(0);
    stream.extend_from_slice(&acknowledge);
    for piece in [1, 2, 5, 4096] {
        let (found, dropped) = payloads(&stream, piece);
        assert_eq!((found.len(), dropped), (2, 2), "pieces of {piece}");
    }
}

#[test]
fn buffers_too_short_are_refused() {
    let message = worst_device_messages().swap_remove(1);
    let whole = frame(&message);
    let mut out = [0; MAX_FRAME_BYTES];
    for length in 0..whole.len() {
        assert_eq!(encode_frame(&message, &mut out[..length]), Err(EncodeError::NoRoom), "{length}");
    }
    assert_eq!(encode_frame(&message, &mut out[..whole.len()]), Ok(whole.len()));
    assert_eq!(frame_payload(&[1; MAX_PAYLOAD_BYTES + 1], &mut [0; 300]), Err(EncodeError::TooLong));
    assert_eq!(frame_payload(&[1; MAX_PAYLOAD_BYTES], &mut out), Ok(MAX_FRAME_BYTES - 1));
}

fn streamed(samples: &[Sample]) -> Vec<u8> {
    let mut encoder = TraceEncoder::new();
    let mut bytes = Vec::new();
    for sample in samples {
        let mut out = [0; trace::MAX_SAMPLE_BYTES];
        let length = encoder.push(sample, &mut out).expect("the longest sample fits");
        bytes.extend_from_slice(&out[..length]);
    }
    bytes
}

#[test]
fn a_trace_is_written_as_its_table_says() {
    let at = |time, values| Sample { time: Milliseconds(time), values: PerPlate(values) };
    let samples = [at(1000, [0, 1, -1, 64]), at(1010, [0, 1, -1, -64])];
    assert_eq!(streamed(&samples), [0xE8, 0x07, 0, 2, 1, 0x80, 0x01, 10, 0, 0, 0, 0xFF, 0x01]);
    let loads =
        Sample::of_loads(Milliseconds(5), &PerPlate([0.05, -0.05, 154.96, f32::INFINITY].map(Kilograms)));
    assert_eq!(loads.values, PerPlate([1, -1, 1550, i32::MAX]));
    assert_eq!(at(0, [1550, 0, -3, 0]).loads(), PerPlate([155.0, 0.0, -0.3, 0.0].map(Kilograms)));
    let bytes = streamed(&samples);
    let mut cut = TraceDecoder::new(&bytes[..bytes.len() - 1]);
    assert_eq!(cut.next(), Some(Ok(samples[0])));
    assert_eq!((cut.next(), cut.next()), (Some(Err(TraceError::CutOff)), None));
    let mut overlong = TraceDecoder::new(&[0xFF; 30]);
    assert_eq!((overlong.next(), overlong.next()), (Some(Err(TraceError::Overlong)), None));
    let mut none = TraceEncoder::new();
    assert_eq!(none.push(&samples[0], &mut [0; 5]), None);
    assert_eq!(none.push(&samples[0], &mut [0; 7]), Some(7), "a sample that did not fit changes nothing");
}

/// Four legs that land, swing between 0 and 180 kg as hard as a walking cow does, and tremble by 0.5 kg: a 0.7 s
/// half sine on the front and the hind foot of a side by turns, 100 Hz.
#[test]
fn a_walk_stays_within_the_trace_budget() {
    let samples: Vec<Sample> = (0..1200u64)
        .map(|tick| {
            let time = tick * 10;
            let load = |phase: u64| {
                let (t, tremble) = ((time + phase) % 1400, (tick * 7919 + phase) % 11);
                let foot =
                    if t < 700 { 180.0 * libm::sinf(t as f32 / 700.0 * core::f32::consts::PI) } else { 0.0 };
                Kilograms(foot + tremble as f32 * 0.1 - 0.5)
            };
            Sample::of_loads(Milliseconds(time), &PerPlate([load(0), load(700), load(350), load(1050)]))
        })
        .collect();
    let per_channel = streamed(&samples).len() as f64 / (samples.len() * 4) as f64;
    assert!(per_channel <= 2.2, "{per_channel} bytes a channel a sample");
}

/// The frames in a stream, found by cutting it at zeros and decoding each piece by itself.
fn model(bytes: &[u8]) -> (Vec<Vec<u8>>, u32) {
    let (mut found, mut dropped) = (Vec::new(), 0);
    let whole = bytes.iter().rposition(|byte| *byte == 0).map_or(0, |last| last + 1);
    for piece in bytes[..whole].split(|byte| *byte == 0).filter(|piece| !piece.is_empty()) {
        let mut plain = Vec::new();
        let mut rest = piece;
        let mut good = true;
        while let Some((&code, tail)) = rest.split_first() {
            let run = usize::from(code) - 1;
            if tail.len() < run {
                good = false;
                break;
            }
            plain.extend_from_slice(&tail[..run]);
            rest = &tail[run..];
            if code != 0xFF && !rest.is_empty() {
                plain.push(0);
            }
        }
        let check = plain.len().saturating_sub(4);
        if good
            && (6..=MAX_FRAME_BYTES).contains(&plain.len())
            && crc32(&plain[..check]).to_le_bytes() == plain[check..]
        {
            found.push(plain[..check].to_vec());
        } else {
            dropped += 1;
        }
    }
    (found, dropped)
}

fn any_payload() -> impl Strategy<Value = Vec<u8>> {
    proptest::collection::vec(prop_oneof![Just(0u8), any::<u8>()], 2..=MAX_PAYLOAD_BYTES)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn the_reader_agrees_with_its_model(
        parts in proptest::collection::vec(prop_oneof![
            any_payload().prop_map(|payload| (true, payload)),
            proptest::collection::vec(any::<u8>(), 0..400).prop_map(|noise| (false, noise)),
        ], 0..12),
        piece in 1usize..300,
    ) {
        let mut stream = Vec::new();
        for (framed, bytes) in parts {
            if framed {
                let mut out = [0; MAX_FRAME_BYTES];
                let length = frame_payload(&bytes, &mut out).expect("fits");
                stream.extend_from_slice(&out[..length]);
            } else {
                stream.extend_from_slice(&bytes);
            }
        }
        prop_assert_eq!(payloads(&stream, piece), model(&stream));
    }

    /// One bit in a hundred is wrong; what is taken for whole was sent.
    #[test]
    fn noise_makes_no_message(sent in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 2..60), 1..40), flips in proptest::collection::vec(0usize..100, 24_000)) {
        let mut stream = Vec::new();
        for payload in &sent {
            let mut out = [0; MAX_FRAME_BYTES];
            let length = frame_payload(payload, &mut out).expect("fits");
            stream.extend_from_slice(&out[..length]);
        }
        for (bit, flip) in flips.iter().enumerate().take(stream.len() * 8) {
            if *flip == 0 {
                stream[bit / 8] ^= 1 << (bit % 8);
            }
        }
        let (found, _) = payloads(&stream, 64);
        let mut rest = sent.iter();
        for payload in &found {
            prop_assert!(rest.any(|one| one == payload), "not sent, or out of order");
        }
    }

    #[test]
    fn any_bytes_decode_without_panic(bytes in proptest::collection::vec(any::<u8>(), 0..260)) {
        let _ = decode::<DeviceMessage>(&bytes);
        let _ = decode::<HostMessage>(&bytes);
        prop_assert!(TraceDecoder::new(&bytes).count() <= bytes.len());
    }

    #[test]
    fn any_samples_come_back(samples in proptest::collection::vec((any::<u32>(), any::<[i32; 4]>()), 0..60)) {
        let mut time = 0u64;
        let samples: Vec<Sample> = samples.into_iter().map(|(step, values)| {
            time += u64::from(step);
            Sample { time: Milliseconds(time), values: PerPlate(values) }
        }).collect();
        let read: Result<Vec<_>, _> = TraceDecoder::new(&streamed(&samples)).collect();
        prop_assert_eq!(read, Ok(samples));
    }
}

/// The byte tables of the format's description: every hexadecimal line under a heading is the frame or the
/// sample it says.
#[test]
fn the_description_quotes_real_bytes() {
    let text = include_str!("../../../WIRE.md");
    let quoted = |name: &str| -> Vec<u8> {
        let mark = std::format!("`{name}` = `");
        let at = text.find(&mark).unwrap_or_else(|| panic!("{name} is not quoted")) + mark.len();
        let hex: String = text[at..].chars().take_while(|c| *c != '`').collect();
        hex.split_whitespace().map(|byte| u8::from_str_radix(byte, 16).expect("hexadecimal")).collect()
    };
    assert_eq!(quoted("acknowledge 5 to 9"), frame(&HostMessage::Acknowledge { first: 5, last: 9 }));
    assert_eq!(quoted("get settings"), frame(&HostMessage::GetSettings));
    let tag = TagRead {
        key: ItemKey { boot: 3, sequence: 300 },
        time: Milliseconds(65_000),
        code: "999000000112233".parse().expect("a code"),
    };
    assert_eq!(quoted("tag read"), frame(&DeviceMessage::TagRead(tag)));
    let at = |time, values| Sample { time: Milliseconds(time), values: PerPlate(values) };
    assert_eq!(quoted("two samples"), streamed(&[at(1000, [0, 1, -1, 64]), at(1010, [0, 1, -1, -64])]));
}
