use super::*;
use crate::{
    fakes::{FailingFlash, GATE, code},
    journal::Layout,
};

fn layout() -> Layout {
    Layout::of::<FailingFlash>(16 * 4096).unwrap()
}

fn orders(flash: &mut FailingFlash) -> Orders {
    let mut orders = Orders::closed(&layout());
    orders.start(flash, Some(GATE));
    orders
}

fn part(list: u32, part: u8, parts: u8, nationals: core::ops::Range<u64>) -> HoldList {
    HoldList { list, part, parts, most: 3, codes: nationals.map(code).collect() }
}

/// The list in use and how many are on it.
fn listed(orders: &Orders) -> (u32, usize) {
    (orders.gate.list.list, orders.gate.list.codes.len())
}

#[test]
fn a_list_comes_in_parts_and_in_order() {
    let mut flash = FailingFlash::new(16);
    let mut orders = orders(&mut flash);
    assert_eq!(orders.hold_list(&mut flash, &part(5, 0, 2, 0..16)), Ok(()));
    assert_eq!(listed(&orders), (0, 0), "not whole yet");
    assert_eq!(orders.hold_list(&mut flash, &part(5, 1, 2, 16..20)), Ok(()));
    assert_eq!(listed(&orders), (5, 20));
    assert_eq!(listed(&self::orders(&mut flash)), (5, 20), "after a start");
    // The same again changes nothing, whatever it says: who was held stays so.
    orders.gate.list.hold(3);
    assert_eq!(orders.hold_list(&mut flash, &part(5, 0, 1, 0..1)), Ok(()));
    assert_eq!((listed(&orders), orders.gate.list.held()), ((5, 20), 1));
}

#[test]
fn what_is_no_list_leaves_the_one_before() {
    let mut flash = FailingFlash::new(16);
    let mut orders = orders(&mut flash);
    orders.hold_list(&mut flash, &part(5, 0, 1, 0..2)).unwrap();
    let bad = Err(Refusal::BadList);
    assert_eq!(orders.hold_list(&mut flash, &part(0, 0, 1, 0..1)), bad, "no name");
    assert_eq!(orders.hold_list(&mut flash, &part(6, 1, 2, 0..1)), bad, "its first part is missing");
    assert_eq!(orders.hold_list(&mut flash, &part(6, 0, 0, 0..1)), bad, "of no parts");
    assert_eq!(orders.hold_list(&mut flash, &part(6, 0, 3, 0..1)), Ok(()));
    assert_eq!(orders.hold_list(&mut flash, &part(6, 2, 3, 1..2)), bad, "its second part is missing");
    assert_eq!(orders.hold_list(&mut flash, &part(6, 1, 3, 1..2)), bad, "it must begin anew");
    assert_eq!(orders.hold_list(&mut flash, &part(6, 0, 2, 0..1)), Ok(()));
    assert_eq!(orders.hold_list(&mut flash, &part(7, 1, 2, 1..2)), bad, "another's part");
    for n in 0..3 {
        assert_eq!(orders.hold_list(&mut flash, &part(8, n, 4, 0..16)), Ok(()));
    }
    assert_eq!(orders.hold_list(&mut flash, &part(8, 3, 4, 0..1)), bad, "49 cows");
    assert_eq!(listed(&orders), (5, 2));
    flash.die_after(0);
    assert_eq!(orders.hold_list(&mut flash, &part(9, 0, 1, 0..1)), Err(Refusal::NotStored));
    assert_eq!(listed(&orders), (5, 2));
    orders.gate.set(None);
    assert_eq!(orders.hold_list(&mut flash, &part(9, 0, 1, 0..1)), Err(Refusal::BadGate), "there is no gate");
}

#[test]
fn another_host_finds_nothing() {
    let mut flash = FailingFlash::new(16);
    let mut orders = orders(&mut flash);
    let used = flash.used;
    orders.forget(&mut flash);
    assert_eq!(flash.used, used, "there was nothing to forget");
    orders.hold_list(&mut flash, &part(5, 0, 1, 0..2)).unwrap();
    orders.forget(&mut flash);
    assert_eq!((listed(&orders), listed(&self::orders(&mut flash))), ((0, 0), (0, 0)));
    // Where the flash fails the list lies there, and is not in force.
    orders.hold_list(&mut flash, &part(6, 0, 1, 0..2)).unwrap();
    flash.die_after(0);
    orders.forget(&mut flash);
    assert_eq!((listed(&orders), orders.gate.in_force(Milliseconds(0))), ((6, 2), false));
}

/// Whose the passage from 20 to 30 s was, by these reads: seconds and cows.
fn named(reads: &[(u64, u64)]) -> Option<u64> {
    let mut orders = Orders::closed(&layout());
    reads.iter().for_each(|(ms, national)| orders.read(Milliseconds(*ms), code(*national)));
    orders.name(Milliseconds(20_000), Milliseconds(30_000)).map(AnimalCode::national)
}

#[test]
fn a_passage_is_hers_whose_tag_alone_is_in_reach() {
    for (reads, hers) in [
        (&[][..], None),
        (&[(10_000, 1)], Some(1)),
        (&[(9_999, 1)], None),
        (&[(30_000, 1)], Some(1)),
        (&[(30_001, 1)], None),
        // The nearer by two seconds; after the first foot a second counts half.
        (&[(12_000, 1), (14_000, 2)], Some(2)),
        (&[(12_001, 1), (14_000, 2)], None),
        (&[(14_000, 2), (24_000, 1)], Some(1)),
        (&[(18_000, 2), (28_000, 1)], Some(2)),
        (&[(18_000, 2), (27_999, 1)], None),
        // Her own reads do not speak against her.
        (&[(18_000, 2), (19_000, 2), (21_000, 2)], Some(2)),
        (&[(18_000, 2), (19_000, 2), (14_000, 1)], Some(2)),
    ] {
        assert_eq!(named(reads), hers, "{reads:?}");
    }
}

#[test]
fn the_cow_before_may_still_stand_at_the_reader() {
    let mut orders = Orders::closed(&layout());
    orders.read(Milliseconds(4_000), code(1));
    assert_eq!(orders.name(Milliseconds(5_000), Milliseconds(15_000)), Some(code(1)));
    orders.read(Milliseconds(16_000), code(1));
    orders.read(Milliseconds(17_000), code(2));
    assert_eq!(orders.name(Milliseconds(18_000), Milliseconds(28_000)), Some(code(2)));
    // Nobody else was read: it is not the cow before.
    orders.read(Milliseconds(29_000), code(2));
    assert_eq!(orders.name(Milliseconds(30_000), Milliseconds(40_000)), None);
}
