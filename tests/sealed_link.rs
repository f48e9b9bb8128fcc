//! A paired device and its host, against whoever else speaks on the line.

use host::link::{Line, Notice};
use host::store::Store;
use shared::limits::MAX_FRAME_BYTES;
use shared::wire::{DeviceId, HostMessage, LinkKey, ResetCause, encode_frame};
use tests::joint::{Joint, passages_of};

/// The number of the device in memory.
const DEVICE: DeviceId = DeviceId(0xFA4E);
const KEY: LinkKey = LinkKey([0x5A; 32]);

fn frame(message: &HostMessage) -> Vec<u8> {
    let mut out = [0; MAX_FRAME_BYTES];
    let length = encode_frame(message, &mut out).expect("fits");
    out[..length].to_vec()
}

/// Pairs the two by the cable, as `lane pair` does.
fn pair(joint: &mut Joint<'_>, store: &Store) {
    store.put_link_key(DEVICE, Some(KEY)).expect("kept");
    joint.connect();
    joint.run(2_000);
    joint.say(&HostMessage::Pair(KEY));
    joint.run(3_000);
    assert!(joint.is_sealed(), "{:?}", joint.notices);
}

#[test]
fn over_a_network_only_a_paired_device_is_believed() {
    let store = Store::in_memory().expect("a store");
    let mut joint = Joint::new(&store, 16, 1);
    joint.line = Line::Network;
    joint.connect();
    joint.cow(1);
    assert!(joint.notices.contains(&Notice::NotPaired(DEVICE)));
    assert_eq!(passages_of(&store), 0);
    let waiting = joint.board.scale.journal().waiting();
    assert!(waiting > 2, "{waiting}: the device keeps everything");

    joint.line = Line::Cable;
    pair(&mut joint, &store);
    joint.line = Line::Network;
    joint.connect();
    joint.cow(2);
    joint.run(5_000);
    assert!(joint.is_sealed());
    assert_eq!((passages_of(&store), joint.board.scale.journal().waiting()), (2, 0));
    // After a boot, and on a line that flips bits, the two find each other again.
    joint.reboot(ResetCause::PowerOn);
    joint.trouble.noise = 2e-5;
    joint.cow(3);
    joint.run(60_000);
    joint.disconnect();
    assert_eq!((passages_of(&store), joint.board.scale.journal().waiting()), (3, 0));
}

#[test]
fn nothing_is_heard_twice_and_nothing_that_is_not_sealed() {
    let store = Store::in_memory().expect("a store");
    let mut joint = Joint::new(&store, 16, 2);
    joint.connect();
    pair(&mut joint, &store);
    joint.went = (Vec::new(), Vec::new());
    joint.connect();
    joint.cow(1);
    joint.run(5_000);
    let kept = passages_of(&store);
    assert_eq!((kept, joint.board.scale.journal().waiting()), (1, 0));
    let (to_device, to_host) = std::mem::take(&mut joint.went);

    // The host is away; somebody says to the device all that it said before, in this boot and in the next.
    joint.disconnect();
    joint.cow(2);
    let waiting = joint.board.scale.journal().waiting();
    for _ in 0..2 {
        to_device.iter().for_each(|bytes| joint.put(bytes.clone()));
        joint.put(frame(&HostMessage::Acknowledge { first: 0, last: u32::MAX }));
        joint.put(frame(&HostMessage::Pair(LinkKey([1; 32]))));
        joint.run(5_000);
        assert_eq!(joint.board.scale.journal().waiting(), waiting, "nothing is acknowledged");
        joint.reboot(ResetCause::PowerOn);
    }

    // Somebody says to the host what the device said before.
    let other = Store::in_memory().expect("a store");
    other.put_link_key(DEVICE, Some(KEY)).expect("kept");
    let mut stranger = Joint::new(&other, 16, 3);
    stranger.line = Line::Network;
    stranger.connect();
    to_host.iter().for_each(|bytes| stranger.put_to_host(bytes.clone()));
    stranger.quiet(30_000);
    assert_eq!((passages_of(&other), other.devices().expect("devices").len()), (0, 0));

    // The right host still gets what is its own.
    joint.connect();
    joint.run(20_000);
    assert_eq!((passages_of(&store), joint.board.scale.journal().waiting()), (2, 0));
}

#[test]
fn a_store_without_the_key_is_told_so_and_takes_nothing() {
    let (store, other) = (Store::in_memory().expect("a store"), Store::in_memory().expect("a store"));
    let mut joint = Joint::new(&store, 16, 4);
    pair(&mut joint, &store);
    for key in [None, Some(LinkKey([0x5B; 32]))] {
        other.put_link_key(DEVICE, key).expect("kept");
        let mut wrong = Joint::new(&other, 16, 4);
        std::mem::swap(&mut wrong.board, &mut joint.board);
        wrong.connect();
        wrong.cow(1);
        assert_eq!(passages_of(&other), 0);
        assert_eq!(wrong.notices.contains(&Notice::Locked(DEVICE)), key.is_none(), "{:?}", wrong.notices);
        std::mem::swap(&mut wrong.board, &mut joint.board);
    }
    assert!(joint.board.scale.journal().waiting() > 0);
}

#[test]
fn a_pairing_is_taken_back_sealed_only() {
    let store = Store::in_memory().expect("a store");
    let mut joint = Joint::new(&store, 16, 5);
    pair(&mut joint, &store);
    joint.put(frame(&HostMessage::Pair(LinkKey::NONE)));
    joint.run(2_000);
    joint.connect();
    joint.run(5_000);
    assert!(joint.is_sealed(), "said by somebody else");
    joint.say(&HostMessage::Pair(LinkKey::NONE));
    joint.run(2_000);
    store.put_link_key(DEVICE, None).expect("kept");
    joint.connect();
    joint.cow(1);
    assert!(!joint.is_sealed());
    assert_eq!(passages_of(&store), 1);
}
