use super::*;
use crate::link::fake_device::{FakeDevice, frame};
use crate::link::{Line, StoreKeeper};
use shared::{
    limits::MAX_SEALED_FRAME_BYTES,
    units::Kilograms,
    wire::{Decoded, FrameReader, GateSettings, LinkKey, Opening, Paired, Sealed, decode},
};

const KEY: LinkKey = LinkKey([9; 32]);
/// When a milking is over in these tests.
const UNTIL_MS: i64 = 50_000;

fn at(utc_ms: i64) -> Now {
    Now { utc_ms, monotonic_ms: 1_000 }
}

/// Every message in bytes that the host said.
fn payloads(bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut found = Vec::new();
    FrameReader::new().payloads(bytes, |payload| found.push(payload.to_vec()));
    found
}

/// A paired device that has said hello, its end of the connection, and ours.
fn paired(store: &Store) -> (Session<StoreKeeper<'_>>, Sealed) {
    let source = store.begin_source("link", "test", jiff::Timestamp::UNIX_EPOCH).expect("stored");
    let mut session = Session::new(StoreKeeper::new(store, source), Line::Cable, at(0));
    let mut device = FakeDevice::new(0.0);
    device.schema = ORDERS_SCHEMA;
    let DeviceMessage::Hello(hello) = device.hello() else { panic!("a hello") };
    store.meet_device(&hello, 0).expect("stored");
    store.put_link_key(device.id, Some(KEY)).expect("stored");
    session.take_output();
    let paired = Paired { device: device.id, boot: device.boot, count: 1 };
    session.receive(&frame(&DeviceMessage::Paired(paired)), at(0)).expect("opened");
    let opened = payloads(&session.take_output()).iter().find_map(|payload| match decode(payload) {
        Decoded::Message(HostMessage::Open { random, .. }) => Some(random),
        _ => None,
    });
    let host = opened.expect("the host opens");
    let opening = Opening { host, device: device.id, boot: device.boot, count: 1 };
    let mut sealed = Sealed::open::<DeviceMessage>(&KEY, &opening);
    for message in [device.hello(), DeviceMessage::Journal(5)] {
        let mut out = [0; MAX_SEALED_FRAME_BYTES];
        let length = sealed.seal_message(&message, &mut out).expect("fits");
        session.receive(&out[..length], at(0)).expect("heard");
    }
    assert!(session.is_sealed() && session.device().is_some());
    session.take_output();
    (session, sealed)
}

/// What the host said since the last call.
fn said(session: &mut Session<StoreKeeper<'_>>, sealed: &mut Sealed) -> Vec<HostMessage> {
    let mut found = Vec::new();
    for mut payload in payloads(&session.take_output()) {
        if let Some(Decoded::Message(message)) = sealed.unseal(&mut payload).map(decode) {
            found.push(message);
        }
    }
    found
}

/// A device with a gate that has this list.
fn orders(list: u32, in_force: bool) -> LaneOrders {
    let gate = GateSettings {
        moves_high: true,
        delay_ms: 500,
        pulse_ms: 300,
        hold_ms: 4_000,
        silence_s: 120,
        first_kg: Kilograms(20.0),
    };
    LaneOrders { gate: Some(gate), list, listed: 2, in_force, ..LaneOrders::default() }
}

#[test]
fn a_list_is_told_of_when_it_comes_into_force_and_not_again() {
    let store = Store::in_memory().expect("memory");
    let (session, _) = paired(&store);
    let mut spoken = OrdersSpoken::default();
    let mut told = |list, in_force| {
        let message = DeviceMessage::Orders(orders(list, in_force));
        assert!(spoken.hear(&session, &store, &message, &Wanted::default(), at(0)).expect("stored"));
        spoken.take_told()
    };
    let new = vec![Told::InForce { listed: 2 }];
    assert_eq!(told(1, false), []);
    assert_eq!(told(1, true), new);
    assert_eq!(told(1, true), [], "the same list");
    assert_eq!(told(2, true), new, "another list");
    assert_eq!(told(2, false), []);
    assert_eq!(told(2, true), new, "the same list, in force again");
}

#[test]
fn a_list_is_said_until_it_is_over_and_not_from_that_moment_on() {
    let store = Store::in_memory().expect("memory");
    let (mut session, mut sealed) = paired(&store);
    let code = AnimalCode::new(999, 41).expect("possible");
    let list = WantedList { codes: vec![code], most: 1, until_ms: UNTIL_MS };
    let wanted = Wanted { list: Some(list), table: None };
    let mut parts = |utc_ms| {
        let mut spoken = OrdersSpoken::default();
        let message = DeviceMessage::Orders(orders(0, false));
        spoken.hear(&session, &store, &message, &wanted, at(utc_ms)).expect("stored");
        spoken.turn(&mut session, &store, &wanted, at(utc_ms)).expect("stored");
        said(&mut session, &mut sealed)
    };
    let before = parts(UNTIL_MS - 1);
    assert!(matches!(&before[..], [HostMessage::HoldList(part)] if part.codes == [code]), "{before:?}");
    assert_eq!(parts(UNTIL_MS), []);
    assert_eq!(parts(UNTIL_MS + 1), []);
}
