//! Connections that hang half open, and pieces that came under another boot.

use super::*;

#[test]
fn what_a_newer_session_placed_an_older_one_does_not_place_again() {
    let store = store();
    let mut world = world(0.0, 18);
    let mut older = session(&world, &store);
    world.run(&mut older, 5_000).expect("runs");
    older.receive(&untraced(&world), world.host_now()).expect("kept");
    // The connection hangs half open; the device connects anew, to a host whose clock was set meanwhile.
    world.host_off_ms = 3_600_000;
    let mut newer = session(&world, &store);
    world.run(&mut newer, 600_000).expect("runs");
    newer.keeper().settle(world.device.id).expect("settled");
    assert_eq!(store.0.passage_count().expect("counted"), 1);
    older.keeper().settle(world.device.id).expect("settled");
    assert_eq!(store.0.passage_count().expect("counted"), 1, "placed once");
}

#[test]
fn pieces_of_another_boot_are_no_part_of_a_trace() {
    let store = store();
    let mut world = world(0.0, 19);
    let mut session = session(&world, &store);
    world.run(&mut session, 5_000).expect("runs");
    let key = ItemKey { boot: 7, sequence: 3 };
    let chunk = TraceChunk { key, passage: 5, chunk: 0, data: Default::default() };
    session.receive(&frame(&DeviceMessage::TraceChunk(chunk)), world.host_now()).expect("kept");
    session.receive(&untraced(&world), world.host_now()).expect("kept");
    assert_eq!(store.0.passage_count().expect("counted"), 0, "its own piece is still to come");
}
