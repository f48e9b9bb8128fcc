//! The session against a fake device and a bad line, into a real store.

use crate::link::fake_device::{FakeDevice, START_UTC_MS, World, frame, hello, summary};
mod half_open;
mod refused;

use crate::link::*;
use crate::record::ClockPoint;
use crate::store::{PassageFilter, SourceId, Store, StoreError};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use shared::{limits::MAX_FRAME_BYTES, units::Milliseconds, wire::*};

fn world(ppm: f64, seed: u64) -> World {
    World::new(FakeDevice::new(ppm), ChaCha8Rng::seed_from_u64(seed))
}

fn store() -> (Store, SourceId) {
    let store = Store::in_memory().expect("memory");
    let source = store.begin_source("link", "test", jiff::Timestamp::UNIX_EPOCH).expect("stored");
    (store, source)
}

fn session<'s>(world: &World, store: &'s (Store, SourceId)) -> Session<StoreKeeper<'s>> {
    Session::new(StoreKeeper::new(&store.0, store.1), Line::Cable, world.host_now())
}

/// UTC of every stored passage less the true times given, ms.
fn time_errors(store: &Store, true_ms: &[u64]) -> Vec<f64> {
    let passages = store.passages(&PassageFilter::default()).expect("stored");
    assert_eq!(passages.len(), true_ms.len(), "every passage once");
    passages
        .iter()
        .zip(true_ms)
        .map(|(passage, truth)| passage.time.as_millisecond() as f64 - START_UTC_MS - *truth as f64)
        .collect()
}

fn assert_within_50_ms(store: &Store, true_ms: &[u64]) {
    for (error, at) in time_errors(store, true_ms).iter().zip(true_ms) {
        assert!(error.abs() <= 50.0, "the passage at {at} ms is {error} ms off");
    }
}

#[test]
fn everything_is_stored_once_and_in_time() {
    for ppm in [100.0, -100.0] {
        let store = store();
        let mut world = world(ppm, 1);
        let mut session = session(&world, &store);
        let mut truth = Vec::new();
        for cow in 0..40 {
            world.run(&mut session, 45_000).expect("runs");
            truth.push(world.now);
            world.cow(cow);
        }
        world.run(&mut session, 10_000).expect("runs");
        assert!(world.device.journal.is_empty(), "all acknowledged");
        session.keeper().settle(world.device.id).expect("settled");
        assert_within_50_ms(&store.0, &truth);
        let tags = store.0.tag_reads("East", 0, i64::MAX).expect("tags");
        assert_eq!(tags.len(), 40);
        let first = store.0.passages(&PassageFilter::default()).expect("stored")[0].id;
        let trace = store.0.trace(first).expect("readable").expect("kept");
        let samples: Vec<_> = TraceDecoder::new(&trace).collect::<Result<_, _>>().expect("whole");
        assert_eq!(samples.len(), 40, "both chunks, in order");
        assert!(samples.windows(2).all(|pair| pair[0].time < pair[1].time));
        assert_eq!((samples[0].values.0[0], samples[39].values.0[0]), (0, 1));
    }
}

#[test]
fn noise_loses_nothing_and_makes_nothing_up() {
    let store = store();
    let mut world = world(30.0, 2);
    let mut session = session(&world, &store);
    let mut truth = Vec::new();
    world.noise = 0.01;
    for cow in 0..10 {
        truth.push(world.now);
        world.cow(cow);
        world.run(&mut session, 10_000).expect("runs");
    }
    assert!(session.counts().dropped > 50, "{:?}", session.counts());
    world.noise = 0.0002;
    for cow in 10..20 {
        truth.push(world.now);
        world.cow(cow);
        world.run(&mut session, 30_000).expect("runs");
    }
    world.noise = 0.0;
    world.run(&mut session, 20_000).expect("runs");
    assert!(world.device.journal.is_empty());
    session.keeper().settle(world.device.id).expect("settled");
    assert_within_50_ms(&store.0, &truth);
    assert_eq!(store.0.tag_reads("East", 0, i64::MAX).expect("tags").len(), 20);
}

#[test]
fn a_line_that_is_cut_in_the_middle_of_frames_delivers_in_the_end() {
    let store = store();
    let mut world = world(50.0, 3);
    let truth = vec![0];
    world.cow(1);
    for _ in 0..30 {
        let mut session = session(&world, &store);
        let length = world.rng.random_range(5..400);
        world.run(&mut session, length).expect("runs");
        world.cut();
    }
    let mut session = session(&world, &store);
    world.run(&mut session, 10_000).expect("runs");
    assert!(world.device.journal.is_empty());
    session.keeper().settle(world.device.id).expect("settled");
    assert_within_50_ms(&store.0, &truth);
}

#[test]
fn what_is_sent_again_is_known() {
    let store = store();
    let mut world = world(0.0, 4);
    world.device.deaf = true;
    world.cow(1);
    let mut session = session(&world, &store);
    let notices = world.run(&mut session, 20_000).expect("runs");
    assert_eq!(world.device.journal.len(), 4, "it heard no acknowledgement");
    let mut kept = Kept::default();
    for notice in &notices {
        if let Notice::Kept(batch) = notice {
            kept.add(batch);
        }
    }
    assert_eq!((kept.passages, kept.tags, kept.chunks), (1, 1, 2));
    assert!(kept.already >= 12, "{kept:?}");
    world.device.deaf = false;
    world.run(&mut session, 10_000).expect("runs");
    assert!(world.device.journal.is_empty(), "acknowledged again when it came again");
    assert_eq!(store.0.passage_count().expect("counted"), 1);
}

#[test]
fn a_host_killed_between_commit_and_acknowledgement_stores_once() {
    let store = store();
    let mut world = world(0.0, 5);
    world.cow(1);
    let hello = frame(&world.device.hello());
    let items: Vec<u8> = world.device.journal.iter().flat_map(|(_, message)| frame(message)).collect();
    let mut killed = session(&world, &store);
    killed.receive(&hello, world.host_now()).expect("met");
    killed.receive(&items, world.host_now()).expect("committed");
    drop(killed);
    assert_eq!(world.device.journal.len(), 4, "nothing was acknowledged");
    let mut session = session(&world, &store);
    world.run(&mut session, 10_000).expect("runs");
    assert!(world.device.journal.is_empty());
    session.keeper().settle(world.device.id).expect("settled");
    assert_eq!(store.0.passage_count().expect("counted"), 1);
    assert_eq!(store.0.tag_reads("East", 0, i64::MAX).expect("tags").len(), 1);
}

/// A keeper whose disk is full.
struct Full;

impl Keeper for Full {
    type Error = StoreError;
    fn journal(&mut self, _: &DeviceHello, _: u64) -> Result<u32, StoreError> {
        Ok(0)
    }
    fn meet(&mut self, _: &DeviceHello, _: i64) -> Result<(), StoreError> {
        Ok(())
    }
    fn key(&mut self, _: DeviceId) -> Result<Option<LinkKey>, StoreError> {
        Ok(None)
    }
    fn keep(&mut self, _: DeviceId, _: &[KeptItem]) -> Result<Kept, StoreError> {
        Err(StoreError::Full)
    }
    fn clock(&mut self, _: DeviceId, _: u32, _: ClockPoint) -> Result<(), StoreError> {
        Ok(())
    }
    fn health(&mut self, _: DeviceId, _: &Health, _: i64) -> Result<(), StoreError> {
        Ok(())
    }
    fn settle(&mut self, _: DeviceId) -> Result<(), StoreError> {
        Ok(())
    }
}

fn said(bytes: &[u8]) -> Vec<HostMessage> {
    let mut found = Vec::new();
    FrameReader::new().payloads(bytes, |payload| {
        if let Decoded::Message(message) = decode(payload) {
            found.push(message);
        }
    });
    found
}

#[test]
fn nothing_is_acknowledged_that_is_not_stored() {
    let mut world = world(0.0, 6);
    world.cow(1);
    let mut session = Session::new(Full, Line::Cable, world.host_now());
    session.receive(&frame(&world.device.hello()), world.host_now()).expect("met");
    let items: Vec<u8> = world.device.journal.iter().flat_map(|(_, message)| frame(message)).collect();
    assert!(matches!(session.receive(&items, world.host_now()), Err(SessionError::Keeper(StoreError::Full))));
    let said = said(&session.take_output());
    assert!(said.iter().all(|message| !matches!(message, HostMessage::Acknowledge { .. })), "{said:?}");
}

#[test]
fn items_before_the_first_hello_are_left_to_be_sent_again() {
    let store = store();
    let mut world = world(0.0, 7);
    world.cow(1);
    let mut session = session(&world, &store);
    let items: Vec<u8> = world.device.journal.iter().flat_map(|(_, message)| frame(message)).collect();
    session.receive(&items, world.host_now()).expect("passed over");
    assert_eq!(
        said(&session.take_output()),
        [HostMessage::Hello(HostHello { schema: SCHEMA, oldest: OLDEST_SCHEMA })]
    );
    world.run(&mut session, 10_000).expect("runs");
    assert!(world.device.journal.is_empty());
}

#[test]
fn a_device_that_gave_the_host_up_is_answered_and_an_answer_is_not() {
    let store = store();
    let world = world(0.0, 18);
    let mut session = session(&world, &store);
    let hello = frame(&world.device.hello());
    let ours = HostMessage::Hello(HostHello { schema: SCHEMA, oldest: OLDEST_SCHEMA });
    let mut answers = Vec::new();
    for _ in 0..4 {
        session.take_output();
        session.receive(&hello, world.host_now()).expect("met");
        answers.push(said(&session.take_output()).contains(&ours));
    }
    // The first answers our hello; the second comes unasked; the third answers what we said then.
    assert_eq!(answers, [false, true, false, true]);
}

#[test]
fn acknowledgements_name_only_what_came() {
    let store = store();
    let mut world = world(0.0, 8);
    world.cow(1);
    world.cow(2);
    let mut session = session(&world, &store);
    let mut bytes = frame(&world.device.hello());
    for (sequence, message) in &world.device.journal {
        if *sequence != 3 && *sequence != 6 {
            bytes.extend(frame(message));
        }
    }
    session.take_output();
    session.receive(&bytes, world.host_now()).expect("kept");
    let mut acknowledged = said(&session.take_output());
    acknowledged.retain(|message| matches!(message, HostMessage::Acknowledge { .. }));
    let range = |first, last| HostMessage::Acknowledge { first, last };
    assert_eq!(acknowledged, [range(1, 2), range(4, 5), range(7, 8)]);
}

#[test]
fn a_newer_device_is_followed_where_its_schema_allows_it() {
    let store = store();
    let mut world = world(0.0, 9);
    world.device.schema = SCHEMA + 3;
    world.cow(1);
    let mut session = session(&world, &store);
    let mut newer = [0; MAX_FRAME_BYTES];
    let length = shared::wire::frame::frame_payload(b"D\x63a kind to come", &mut newer).expect("fits");
    session.receive(&newer[..length], world.host_now()).expect("skipped");
    let notices = world.run(&mut session, 10_000).expect("runs");
    assert!(notices.contains(&Notice::Skipped { kind: 0x63 }));
    assert!(world.device.journal.is_empty());
    assert_eq!(store.0.passage_count().expect("counted"), 1);
}

#[test]
fn a_schema_that_cannot_be_followed_costs_nothing() {
    for (schema, oldest) in [(SCHEMA + 3, SCHEMA + 1), (OLDEST_SCHEMA - 1, OLDEST_SCHEMA - 1)] {
        let store = store();
        let mut world = world(0.0, 10);
        (world.device.schema, world.device.oldest) = (schema, oldest);
        world.cow(1);
        let mut session = session(&world, &store);
        let notices = world.run(&mut session, 20_000).expect("runs");
        assert!(notices.contains(&Notice::Schema { schema, oldest }), "{notices:?}");
        assert_eq!(world.device.journal.len(), 4, "it keeps everything");
        assert_eq!(store.0.passage_count().expect("counted"), 0);
        assert_eq!(store.0.devices().expect("devices"), []);
    }
}

#[test]
fn a_reboot_in_the_middle_keeps_boots_apart() {
    let store = store();
    let mut world = world(100.0, 11);
    let mut session = session(&world, &store);
    let mut truth = Vec::new();
    for cow in 0..12 {
        world.run(&mut session, 70_000).expect("runs");
        if cow % 4 == 3 {
            world.device.reboot(world.now as f64);
            world.run(&mut session, 2_000).expect("runs");
        }
        truth.push(world.now);
        world.cow(cow);
    }
    world.run(&mut session, 10_000).expect("runs");
    session.keeper().settle(world.device.id).expect("settled");
    assert_eq!(world.device.boot, 4);
    assert_within_50_ms(&store.0, &truth);
}

#[test]
fn a_night_without_a_host_is_placed_to_50_ms() {
    let store = store();
    let mut world = world(100.0, 12);
    let mut truth = Vec::new();
    let mut evening = session(&world, &store);
    world.run(&mut evening, 300_000).expect("runs");
    world.cut();
    for cow in 0..100 {
        world.now += 12 * 3_600_000 / 100;
        truth.push(world.now);
        world.cow(cow);
    }
    let mut morning = session(&world, &store);
    world.run(&mut morning, 60_000).expect("runs");
    assert!(world.device.journal.is_empty());
    morning.keeper().settle(world.device.id).expect("settled");
    assert_within_50_ms(&store.0, &truth);
}

#[test]
fn a_host_clock_set_right_counts_from_then_on() {
    let store = store();
    let mut world = world(100.0, 13);
    world.host_off_ms = -3_600_000;
    let mut session = session(&world, &store);
    world.run(&mut session, 600_000).expect("runs");
    let before = world.now;
    world.cow(1);
    world.run(&mut session, 600_000).expect("runs");
    world.host_off_ms = 0;
    world.run(&mut session, 600_000).expect("runs");
    let after = world.now;
    world.cow(2);
    world.run(&mut session, 120_000).expect("runs");
    session.keeper().settle(world.device.id).expect("settled");
    let errors = time_errors(&store.0, &[before, after]);
    assert!((errors[0] + 3_600_000.0).abs() <= 50.0, "by the host's clock as it was: {errors:?}");
    assert!(errors[1].abs() <= 50.0, "{errors:?}");
}

#[test]
fn a_boot_that_never_saw_a_host_waits_and_is_not_lost() {
    let store = store();
    let mut world = world(0.0, 14);
    world.now = 60_000;
    world.cow(1);
    world.device.reboot(61_000.0);
    let mut session = session(&world, &store);
    world.run(&mut session, 10_000).expect("runs");
    session.keeper().settle(world.device.id).expect("settled");
    assert!(world.device.journal.is_empty(), "safe in the store, so acknowledged");
    assert_eq!(store.0.passage_count().expect("counted"), 0, "but nobody knows when it was");
    assert_eq!(store.0.waiting_items(world.device.id).expect("waiting").len(), 4);
}

#[test]
fn a_silent_device_ends_the_session() {
    let store = store();
    let mut world = world(0.0, 15);
    world.noise = 0.5;
    let mut session = session(&world, &store);
    let result = world.run(&mut session, 200_000);
    assert!(matches!(result, Err(SessionError::Silent)));
}

/// A passage of now, of boot 1, whose one piece of trace does not come.
fn untraced(world: &World) -> Vec<u8> {
    let (key, start) = (ItemKey { boot: 1, sequence: 9 }, Milliseconds(world.now));
    frame(&DeviceMessage::Passage(Passage { key, passage: 5, trace_chunks: 1, summary: summary(start) }))
}

#[test]
fn a_passage_without_all_of_its_trace_waits_and_then_goes_without() {
    let store = store();
    let mut world = world(0.0, 16);
    let mut session = session(&world, &store);
    world.run(&mut session, 5_000).expect("runs");
    session.receive(&untraced(&world), world.host_now()).expect("kept");
    assert_eq!(store.0.passage_count().expect("counted"), 0);
    session.keeper().settle(world.device.id).expect("settled");
    let passages = store.0.passages(&PassageFilter::default()).expect("stored");
    assert_eq!(passages.len(), 1);
    assert_eq!(store.0.trace(passages[0].id).expect("readable"), None);
}

/// A device at the other end of a socket: waits for the host's hello, delivers, closes once all is acknowledged.
fn deliver(mut stream: std::net::TcpStream, bytes: &[u8], last: u32) {
    use std::io::{Read, Write};
    let (mut heard, mut piece) = (Vec::new(), [0; 256]);
    let mut wait_for = |stream: &mut std::net::TcpStream, wanted: &dyn Fn(&HostMessage) -> bool| {
        while !said(&heard).iter().any(wanted) {
            let length = stream.read(&mut piece).expect("readable");
            assert!(length > 0, "the host hung up");
            heard.extend_from_slice(&piece[..length]);
        }
    };
    wait_for(&mut stream, &|message| matches!(message, HostMessage::Hello(_)));
    stream.write_all(bytes).expect("written");
    wait_for(
        &mut stream,
        &|message| matches!(message, HostMessage::Acknowledge { last: to, .. } if *to == last),
    );
}

#[test]
fn a_device_on_a_socket_is_heard_recorded_and_acknowledged() {
    let store = store();
    let mut world = world(0.0, 17);
    world.cow(1);
    let mut bytes = frame(&world.device.hello());
    bytes.extend(frame(&DeviceMessage::Refused(Refusal::Busy)));
    bytes.extend(world.device.journal.iter().flat_map(|(_, message)| frame(message)));
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = listener.local_addr().expect("an address");
    let (mut record, mut notices) = (Vec::new(), Vec::new());
    let ended = std::thread::scope(|scope| {
        scope.spawn(|| deliver(std::net::TcpStream::connect(address).expect("connected"), &bytes, 4));
        let (stream, _) = listener.accept().expect("accepted");
        let stream = connect::ready_stream(stream).expect("ready");
        let keeper = StoreKeeper::new(&store.0, store.1);
        connect::run(
            stream,
            Line::Cable,
            keeper,
            connect::Until::default(),
            || false,
            Some(&mut record),
            |_, new, _| notices.extend(new),
        )
    });
    assert!(matches!(ended, Ok(connect::SessionEnd::Closed | connect::SessionEnd::Port(_))), "{ended:?}");
    assert_eq!(record, bytes, "recorded as it came");
    assert!(notices.contains(&Notice::Answer(Box::new(DeviceMessage::Refused(Refusal::Busy)))));
    assert_eq!(
        store.0.waiting_items(world.device.id).expect("waiting").len(),
        4,
        "kept until the time is known"
    );
    assert_eq!(store.0.devices().expect("devices")[0].lane(), "East");
}

#[test]
fn pauses_double_up_to_a_bound_and_begin_again() {
    let mut backoff = connect::Backoff::default();
    let pauses: Vec<u128> = (0..9).map(|_| backoff.pause().as_millis()).collect();
    assert_eq!(pauses, [500, 1_000, 2_000, 4_000, 8_000, 16_000, 30_000, 30_000, 30_000]);
    backoff.reset();
    assert_eq!(backoff.pause().as_millis(), 500);
}
