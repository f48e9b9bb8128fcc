//! Captures as they come: whole, torn, twice, mixed with noise.

use super::*;
use crate::link::fake_device::{frame, hello as first_hello};
use crate::store::PassageFilter;
use shared::{
    limits::MAX_FRAME_BYTES,
    units::Milliseconds,
    wire::{ItemKey, Passage, TagRead, TimeReply},
};
use std::io::Cursor;

const UTC_MS: i64 = 1_767_225_600_000;

fn hello(boot: u32) -> Vec<u8> {
    frame(&DeviceMessage::Hello(DeviceHello {
        schema: 1,
        oldest: 1,
        boot,
        ..first_hello(DeviceId(5), "East")
    }))
}

fn time(boot: u32, device_ms: u64) -> Vec<u8> {
    frame(&DeviceMessage::TimeReply(TimeReply {
        host_sent_ms: UTC_MS + i64::try_from(device_ms).unwrap() - 5,
        round_trip_ms: 10,
        boot,
        received: Milliseconds(device_ms),
        sent: Milliseconds(device_ms),
    }))
}

fn tag(sequence: u32, time: u64) -> Vec<u8> {
    let key = ItemKey { boot: 1, sequence };
    let code = "999000000000007".parse().unwrap();
    frame(&DeviceMessage::TagRead(TagRead { key, time: Milliseconds(time), code }))
}

fn passage(sequence: u32, start: u64) -> Vec<u8> {
    let key = ItemKey { boot: 1, sequence };
    let summary = PassageSummary {
        start: Milliseconds(start),
        duration: Milliseconds(4_000),
        kind: shared::analysis::PassageKind::WalkThrough,
        quality: shared::analysis::Quality::default(),
        readings: 400,
        lost_readings: 0,
        body_weight: None,
        standing: None,
        walking: shared::plate::PerLeg::default(),
    };
    frame(&DeviceMessage::Passage(Passage { key, passage: sequence, trace_chunks: 0, summary }))
}

fn run(store: &Store, bytes: &[u8]) -> Outcome {
    import(store, Input::of("lane.capture", Box::new(Cursor::new(bytes.to_vec())), None)).unwrap()
}

#[test]
fn a_capture_is_placed_by_its_time_replies_and_adds_nothing_twice() {
    let store = Store::in_memory().unwrap();
    let bytes = [hello(1), tag(1, 9_000), passage(2, 10_000), time(1, 60_000)].concat();
    let outcome = run(&store, &bytes);
    assert_eq!((outcome.rows, outcome.added, outcome.already, outcome.bad), (4, 2, 0, 0), "{outcome:?}");
    let passages = store.passages(&PassageFilter::default()).unwrap();
    assert_eq!(passages[0].time.as_millisecond(), UTC_MS + 10_000);
    assert_eq!(passages[0].lane, "East");
    assert_eq!(passages[0].animal.as_ref().map(|animal| animal.0.as_str()), Some("999000000000007"));
    assert_eq!(store.tag_reads("East", 0, i64::MAX).unwrap()[0].time.as_millisecond(), UTC_MS + 9_000);
    let again = run(&store, &[bytes.clone(), passage(3, 20_000)].concat());
    assert_eq!((again.added, again.already, again.bad), (1, 2, 0), "{again:?}");
    assert_eq!(store.passage_count().unwrap(), 2);
}

#[test]
fn a_capture_cut_anywhere_keeps_what_is_whole_and_resumes() {
    let bytes = [hello(1), time(1, 1_000), passage(1, 10_000), passage(2, 20_000)].concat();
    for cut in 0..bytes.len() {
        let store = Store::in_memory().unwrap();
        let first = run(&store, &bytes[..cut]);
        let whole = bytes[..cut].last() == Some(&0);
        assert_eq!(first.bad == 0, whole, "cut at {cut}: {first:?}");
        run(&store, &bytes);
        assert_eq!(store.passage_count().unwrap(), 2, "cut at {cut}");
    }
}

#[test]
fn what_is_wrong_is_said() {
    let store = Store::in_memory().unwrap();
    let said = |bytes: &[u8]| {
        let outcome = run(&store, bytes);
        assert!(outcome.bad > 0);
        outcome.problems.iter().map(|problem| problem.what.clone()).collect::<Vec<_>>().join("; ")
    };
    assert!(said(b"").contains("empty"));
    assert!(said(b"\x1F\x8B\x08").contains("gzip"));
    assert!(said(b"time,lf,rf,lr,rr\n1,2,3,4,5\n").contains("no capture"));
    assert!(said(&passage(1, 5)).contains("before the device said who it is"));
    let mut flipped = [hello(1), time(1, 1_000), passage(7, 5)].concat();
    let at = flipped.len() - 9;
    flipped[at] ^= 4;
    assert!(said(&flipped).contains("1 broken frames, the first ends at byte"));
    assert_eq!(store.passage_count().unwrap(), 0);
    assert!(said(&[hello(2), frame_of_boot_2()].concat()).contains("without any time reply"));
    assert_eq!(run(&store, &[hello(2), time(2, 9_000)].concat()).bad, 0);
    assert_eq!(store.passage_count().unwrap(), 1, "the time reply came later");
    let mut newer = [0; MAX_FRAME_BYTES];
    let length = shared::wire::frame::frame_payload(b"D\x00\x09\x08 something else", &mut newer).unwrap();
    assert!(said(&newer[..length]).contains("schema 9"));
}

fn frame_of_boot_2() -> Vec<u8> {
    let mut reader = FrameReader::new();
    let bytes = passage(9, 5_000);
    let Feed::Frame { payload, .. } = reader.push(&bytes) else { panic!("whole") };
    let Decoded::Message(DeviceMessage::Passage(mut passage)) = decode(payload) else { panic!("a passage") };
    passage.key.boot = 2;
    frame(&DeviceMessage::Passage(passage))
}

#[test]
fn raw_readings_are_weighed_and_analysed() {
    let store = Store::in_memory().unwrap();
    let mut bytes = [hello(1), time(1, 1_000)].concat();
    let kg_per_count =
        std::array::from_fn(|row| std::array::from_fn(|column| f32::from(u8::from(row == column)) * 0.01));
    bytes.extend(frame(&DeviceMessage::Settings(Settings {
        rate_hz: 100,
        zero: PerPlate([Counts(500); 4]),
        kg_per_count,
        name: "East".try_into().unwrap(),
    })));
    // An empty deck, a cow of 600 kg that stands for 6 s, an empty deck.
    let loads =
        |tick: u64| if (500..1100).contains(&tick) { [16_500, 16_000, 14_500, 13_000] } else { [0; 4] };
    for (index, start) in (0..).zip((0..1_600u64).step_by(10)) {
        let (mut encoder, mut data) = (TraceEncoder::new(), Vec::new());
        for tick in start..start + 10 {
            let tremble = i32::try_from(tick * 7919 % 5).unwrap() - 2;
            let values = PerPlate(loads(tick).map(|load: i32| load + 500 + tremble * 5));
            let mut room = [0; trace::MAX_SAMPLE_BYTES];
            let sample = Sample { time: Milliseconds(2_000 + tick * 10), values };
            let length = encoder.push(&sample, &mut room).unwrap();
            data.extend_from_slice(&room[..length]);
        }
        let data = data.into_iter().collect();
        bytes.extend(frame(&DeviceMessage::RawReadings(RawReadings { boot: 1, index, data })));
    }
    for added in [1, 0] {
        let outcome = run(&store, &bytes);
        assert_eq!((outcome.added, outcome.bad), (added, 0), "{outcome:?}");
    }
    let passages = store.passages(&PassageFilter::default()).unwrap();
    assert_eq!(passages.len(), 1);
    let off = passages[0].time.as_millisecond() - (UTC_MS + 7_000);
    assert!(off.abs() <= 50, "{off}");
    let weight = passages[0].summary.body_weight.unwrap().value;
    assert!((weight - 600.0).abs() < 2.0, "{weight}");
    let trace = store.trace(passages[0].id).unwrap().unwrap();
    assert!(TraceDecoder::new(&trace).filter(|sample| sample.is_ok()).count() >= 590);
}

#[test]
fn times_of_the_future_are_kept_and_not_placed() {
    let with_clock = |ahead_ms: i64| {
        let store = Store::in_memory().unwrap();
        let bytes = [hello(1), tag(1, 9_000), passage(2, 10_000), time(1, 60_000)].concat();
        let input = Input::of("lane.capture", Box::new(Cursor::new(bytes)), None);
        let now = Timestamp::from_millisecond(UTC_MS + 10_000 - 86_400_000 - ahead_ms).unwrap();
        let outcome = import(&store, input.at(now)).unwrap();
        (store.passages(&PassageFilter::default()).unwrap().len(), outcome.problems)
    };
    // A day and a second ahead, and a second less than a day.
    let (placed, said) = with_clock(1_000);
    assert_eq!(placed, 0);
    assert!(said.iter().any(|problem| problem.what.contains("in the future")), "{said:?}");
    assert_eq!(with_clock(-2_000).0, 1);
}

#[test]
fn raw_readings_that_came_before_any_settings_are_counted() {
    let raw = |index: u32, samples: u64| {
        let (mut encoder, mut data) = (TraceEncoder::new(), Vec::new());
        for tick in 0..samples {
            let time = Milliseconds(2_000 + u64::from(index) * 100 + tick * 10);
            let mut room = [0; trace::MAX_SAMPLE_BYTES];
            let sample = Sample { time, values: PerPlate([500; 4]) };
            let length = encoder.push(&sample, &mut room).expect("fits");
            data.extend_from_slice(&room[..length]);
        }
        let data = data.into_iter().collect();
        frame(&DeviceMessage::RawReadings(RawReadings { boot: 1, index, data }))
    };
    let settings = frame(&DeviceMessage::Settings(Settings {
        rate_hz: 100,
        zero: PerPlate([Counts(500); 4]),
        kg_per_count: [[0.01; 4]; 4],
        name: "East".try_into().expect("short"),
    }));
    // 3 and 2 readings come too early, 4 do not.
    let late = [hello(1), time(1, 1_000), raw(0, 3), raw(1, 2), settings.clone(), raw(2, 4)].concat();
    let outcome = run(&Store::in_memory().expect("memory"), &late);
    let said: Vec<&str> = outcome.problems.iter().map(|problem| &*problem.what).collect();
    assert_eq!(said, ["5 raw readings came before any settings and were left out"]);
    let early = [hello(1), time(1, 1_000), settings, raw(0, 3)].concat();
    assert_eq!(run(&Store::in_memory().expect("memory"), &early).bad, 0);
}
