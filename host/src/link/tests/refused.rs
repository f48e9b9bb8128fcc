//! What must not be acknowledged: items under a key that is known with other content, and a store that is gone.

use super::*;

#[test]
fn a_device_whose_journal_counts_anew_is_not_acknowledged_and_keeps_all() {
    let store = store();
    let mut world = world(0.0, 9);
    let mut first = session(&world, &store);
    for cow in 0..3 {
        world.cow(cow);
        world.run(&mut first, 45_000).expect("runs");
    }
    assert!(world.device.journal.is_empty(), "all acknowledged");
    drop(first);
    // Its flash is erased: boot and items are counted from the start again.
    world.device.sequence = 1;
    let mut again = session(&world, &store);
    world.cow(7);
    let waiting = world.device.journal.len();
    let refused = world.run(&mut again, 45_000).unwrap_err();
    assert!(matches!(refused, SessionError::Keeper(StoreError::OtherItem { .. })), "{refused:?}");
    assert_eq!(world.device.journal.len(), waiting, "the device keeps them");
    assert_eq!(store.0.passage_count().expect("counted"), 3, "nothing of it is stored in part");
    assert!(store.0.refused_since(world.device.id).expect("readable").is_some(), "and the lane says so");
}

#[test]
fn the_same_content_under_the_same_key_is_known() {
    let store = store();
    let world = world(0.0, 10);
    let device = world.device.id;
    store.0.meet_device(&hello(device, "East"), 0).expect("stored");
    let key = ItemKey { boot: 1, sequence: 5 };
    assert!(store.0.keep_item(device, key, b"one").expect("new"));
    assert!(!store.0.keep_item(device, key, b"one").expect("known"));
    assert!(matches!(
        store.0.keep_item(device, key, b"two"),
        Err(StoreError::OtherItem { boot: 1, sequence: 5, .. })
    ));
    assert!(store.0.keep_item(device, ItemKey { boot: 2, ..key }, b"two").expect("another boot"));
}

#[test]
fn a_store_that_was_moved_away_acknowledges_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("store.sqlite");
    let opened = Store::open(&path).expect("opened");
    let source = opened.begin_source("link", "test", jiff::Timestamp::UNIX_EPOCH).expect("stored");
    let store = (opened, source);
    let mut world = world(0.0, 11);
    let mut session = session(&world, &store);
    world.run(&mut session, 5_000).expect("runs");
    std::fs::rename(&path, folder.path().join("elsewhere.sqlite")).expect("moved");
    world.cow(1);
    let waiting = world.device.journal.len();
    let refused = world.run(&mut session, 45_000).unwrap_err();
    assert!(matches!(refused, SessionError::Keeper(StoreError::FileMoved)), "{refused:?}");
    assert_eq!(world.device.journal.len(), waiting);
}
