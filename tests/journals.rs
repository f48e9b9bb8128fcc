//! A device whose flash was erased counts anew, and two devices may have one number: what they bring is kept all the same.

use firmware::fakes::{Board, FakePort, SharedFlash};
use host::store::Store;
use shared::wire::{DeviceId, ResetCause};
use tests::joint::{Joint, passages_of};

/// The number of the device in memory.
const DEVICE: DeviceId = DeviceId(0xFA4E);

/// Lets cows pass and everything be delivered and placed.
fn cows(joint: &mut Joint<'_>, tags: std::ops::Range<u64>) {
    joint.connect();
    tags.for_each(|tag| {
        joint.cow(tag);
    });
    joint.run(10_000);
    joint.disconnect();
    assert_eq!(joint.board.scale.journal().waiting(), 0, "{:?}", joint.notices);
}

fn blank() -> Board {
    Board::boot(SharedFlash::new(16), FakePort::default(), ResetCause::PowerOn).expect("boots")
}

#[test]
fn a_device_whose_flash_was_erased_brings_what_it_measures_from_then_on() {
    let store = Store::in_memory().expect("a store");
    let mut joint = Joint::new(&store, 16, 1);
    cows(&mut joint, 1..4);
    joint.reboot(ResetCause::PowerOn);
    cows(&mut joint, 4..5);
    assert_eq!(passages_of(&store), 4);
    // Boots and numbers begin at 1 again; the host keeps them apart.
    joint.board = blank();
    joint.reboot(ResetCause::PowerOn);
    cows(&mut joint, 5..8);
    assert_eq!(passages_of(&store), 7, "{:?}", joint.notices);
    let known = store.device(DEVICE).expect("read").expect("known");
    assert_eq!(known.boot, 4, "two boots before, the third made the journal, in the fourth it was heard");
    // The same journal is the same boots.
    cows(&mut joint, 8..9);
    assert_eq!((passages_of(&store), store.device(DEVICE).expect("read").expect("known").boot), (8, 4));
}

#[test]
fn two_devices_of_one_number_are_both_kept() {
    let store = Store::in_memory().expect("a store");
    let mut joint = Joint::new(&store, 16, 2);
    cows(&mut joint, 1..3);
    let first = std::mem::replace(&mut joint.board, blank());
    cows(&mut joint, 3..5);
    let second = std::mem::replace(&mut joint.board, first);
    cows(&mut joint, 5..7);
    joint.board = second;
    cows(&mut joint, 7..9);
    assert_eq!(passages_of(&store), 8);
}

#[test]
fn the_boots_of_a_journal_are_counted_on_from_all_that_were_known() {
    let store = Store::in_memory().expect("a store");
    let base = |boot, journal| store.journal_base(DEVICE, boot, journal).expect("kept");
    assert_eq!((base(1, 7), base(9, 7)), (0, 0), "the first is as it says");
    let mut joint = Joint::new(&store, 16, 3);
    joint.connect();
    joint.run(2_000);
    joint.reboot(ResetCause::PowerOn);
    joint.connect();
    joint.run(2_000);
    let known = store.device(DEVICE).expect("read").expect("known").boot;
    assert_eq!(base(1, 8), known, "another begins after them");
    assert_eq!((base(5, 8), base(5, 7)), (known, 0), "and stays there");
    // A journal that nobody has named before, of a device that is known, goes on where its boots do, and else after them.
    let other = DeviceId(5);
    let hello = |boot| shared::wire::DeviceHello {
        schema: 1,
        oldest: 1,
        device: other,
        boot,
        firmware: [0; 3],
        rate_hz: 200,
        full_scale: 1,
        next_sequence: 1,
        waiting: 0,
        name: "".try_into().expect("short"),
    };
    store.meet_device(&hello(6), 0).expect("kept");
    assert_eq!(store.journal_base(other, 6, 1).expect("kept"), 0);
    assert_eq!(store.journal_base(DeviceId(6), 1, 1).expect("kept"), 0);
    store.meet_device(&shared::wire::DeviceHello { device: DeviceId(8), ..hello(6) }, 0).expect("kept");
    assert_eq!(store.journal_base(DeviceId(8), 5, 1).expect("kept"), 6);
}
