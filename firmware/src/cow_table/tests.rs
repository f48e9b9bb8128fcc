use super::*;
use crate::fakes::{FailingFlash, code, head};
use shared::{
    lane_score::{LaneFlag, OwnState},
    limits::MAX_TRACE_DATA_BYTES,
};

const SLOT_PAGES: u32 = 32;
const PAGES: usize = 1 + 2 * SLOT_PAGES as usize;

/// Not at the beginning of the flash, as on a board.
fn slots() -> [Range<u32>; 2] {
    let page = crate::memory_flash::PAGE_BYTES as u32;
    let slot = SLOT_PAGES * page;
    [page..page + slot, page + slot..page + 2 * slot]
}

/// A row as long as any is.
fn row(national: u64) -> CowRow {
    let own = OwnState { state: 30, likely: 254, usual: [-128; 6], usual_sd: [255; 6] };
    CowRow {
        code: code(national),
        flag: LaneFlag::Urgent,
        treated: true,
        unsettled: true,
        usual: [i16::MIN; 6],
        usual_sd: [255; 6],
        noise: [255; 6],
        sound: 255,
        states: heapless::Vec::from_slice(&[own; 4]).unwrap(),
    }
}

fn rows(table: u32, first: u16, nationals: &[u64]) -> TableRows {
    let mut bytes = heapless::Vec::<u8, MAX_TRACE_DATA_BYTES>::new();
    for national in nationals {
        let mut room = [0; MAX_ROW_BYTES];
        bytes.extend_from_slice(postcard::to_slice(&row(*national), &mut room).unwrap()).unwrap();
    }
    TableRows { table, first, rows: bytes }
}

/// Sends a table of the cows 10, 20, ... and says how it went.
fn send(table: &mut CowTable, flash: &mut FailingFlash, name: u32, cows: u16) -> Result<(), Refusal> {
    table.begin(flash, &head(name, cows))?;
    for first in 0..cows {
        table.rows(flash, &rows(name, first, &[10 * (u64::from(first) + 1)]))?;
    }
    Ok(())
}

fn loaded(flash: &mut FailingFlash) -> CowTable {
    let mut table = CowTable::new(slots());
    table.load(flash);
    table
}

fn knows(table: &CowTable, flash: &mut FailingFlash, national: u64) -> bool {
    let found = table.find(flash, code(national));
    assert!(found.as_ref().is_none_or(|(_, found)| *found == row(national)));
    found.is_some()
}

#[test]
fn every_cow_of_a_full_table_is_found_and_nobody_else() {
    let mut flash = FailingFlash::new(PAGES);
    let mut table = loaded(&mut flash);
    assert_eq!((table.name(), knows(&table, &mut flash, 10)), (0, false));
    send(&mut table, &mut flash, 5, 1_000).unwrap();
    let again = loaded(&mut flash);
    for table in [table, again] {
        assert_eq!((table.name(), table.coming()), (5, (0, 0)));
        for national in [10, 20, 5_000, 9_990, 10_000] {
            assert!(knows(&table, &mut flash, national), "{national}");
        }
        for national in [9, 15, 9_995, 10_001] {
            assert!(!knows(&table, &mut flash, national), "{national}");
        }
    }
}

#[test]
fn rows_that_come_again_or_too_soon_are_passed_over() {
    let mut flash = FailingFlash::new(PAGES);
    let mut table = loaded(&mut flash);
    table.begin(&mut flash, &head(5, 4)).unwrap();
    table.rows(&mut flash, &rows(5, 0, &[10, 20])).unwrap();
    table.rows(&mut flash, &rows(5, 0, &[10, 20])).unwrap();
    table.rows(&mut flash, &rows(5, 3, &[40])).unwrap();
    table.rows(&mut flash, &rows(6, 2, &[30])).unwrap();
    assert_eq!(table.coming(), (5, 2));
    table.begin(&mut flash, &head(5, 4)).unwrap();
    assert_eq!(table.coming(), (5, 2), "the same table goes on");
    table.rows(&mut flash, &rows(5, 2, &[30])).unwrap();
    assert_eq!(table.name(), 0, "a table that is cut in the middle is none");
    table.rows(&mut flash, &rows(5, 3, &[40])).unwrap();
    assert_eq!((table.name(), table.coming()), (5, (0, 0)));
    table.begin(&mut flash, &head(5, 4)).unwrap();
    assert_eq!(table.coming(), (0, 0), "it is here already");
    table.begin(&mut flash, &head(6, 4)).unwrap();
    table.rows(&mut flash, &rows(6, 0, &[10])).unwrap();
    table.begin(&mut flash, &head(7, 4)).unwrap();
    assert_eq!((table.coming(), table.name()), ((7, 0), 5), "another begins anew");
}

#[test]
fn what_makes_no_sense_is_refused_and_the_last_good_table_stays() {
    let mut flash = FailingFlash::new(PAGES);
    let mut table = loaded(&mut flash);
    send(&mut table, &mut flash, 5, 3).unwrap();
    let spoilt = |change: fn(&mut TableHead)| {
        let mut head = head(6, 3);
        change(&mut head);
        head
    };
    for (bad, refusal) in [
        (spoilt(|head| head.version = 2), Refusal::NewerTable),
        (spoilt(|head| head.table = 0), Refusal::BadTable),
        (spoilt(|head| head.rows = 1_001), Refusal::BadTable),
        (spoilt(|head| head.rows = 5_000), Refusal::BadTable),
        (spoilt(|head| head.variance[2][5] = 0.0), Refusal::BadTable),
        (spoilt(|head| head.variance[0][0] = f32::INFINITY), Refusal::BadTable),
        (spoilt(|head| head.shift[1] = f32::NAN), Refusal::BadTable),
        (spoilt(|head| head.shift_variance[3] = -0.1), Refusal::BadTable),
        (spoilt(|head| head.scored[0] = 1.1), Refusal::BadTable),
        (spoilt(|head| head.watch[1] = -0.1), Refusal::BadTable),
        (spoilt(|head| head.check[0] = f32::NAN), Refusal::BadTable),
        (spoilt(|head| head.weight = 1.1), Refusal::BadTable),
    ] {
        assert_eq!(table.begin(&mut flash, &bad), Err(refusal), "{bad:?}");
    }
    for nationals in [&[20, 10][..], &[10, 10], &[10, 20, 30, 40]] {
        table.begin(&mut flash, &head(6, 3)).unwrap();
        let sent: Result<(), Refusal> = nationals
            .iter()
            .zip(0..)
            .try_for_each(|(national, first)| table.rows(&mut flash, &rows(6, first, &[*national])));
        // A fourth row of three comes after the end, and is nobody's.
        assert_eq!(sent, if nationals.len() == 4 { Ok(()) } else { Err(Refusal::BadTable) });
        assert_eq!(table.coming(), (0, 0));
    }
    let mut table = loaded(&mut flash);
    assert_eq!(table.name(), 6);
    let cut = TableRows { rows: heapless::Vec::from_slice(&[1, 2, 3]).unwrap(), ..rows(7, 0, &[]) };
    table.begin(&mut flash, &head(7, 3)).unwrap();
    assert_eq!(table.rows(&mut flash, &cut), Err(Refusal::BadTable));
    assert!(table.name() == 6 && knows(&table, &mut flash, 30));
}

#[test]
fn a_table_fills_its_slot_to_the_last_row_and_no_further() {
    // A page has room for the head and thirty rows.
    let page = crate::memory_flash::PAGE_BYTES as u32;
    let mut flash = FailingFlash::new(3);
    let mut table = CowTable::new([page..2 * page, 2 * page..3 * page]);
    assert_eq!(table.begin(&mut flash, &head(5, 31)), Err(Refusal::BadTable));
    send(&mut table, &mut flash, 5, 30).unwrap();
    assert!(table.name() == 5 && knows(&table, &mut flash, 300));
    send(&mut table, &mut flash, 6, 30).unwrap();
    assert!(table.name() == 6 && knows(&table, &mut flash, 10));
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config { failure_persistence: None, ..Default::default() })]

    /// Whatever comes as rows, the last good table stays until the next is whole.
    #[test]
    fn any_bytes_as_rows_leave_the_last_good_table(
        bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..MAX_TRACE_DATA_BYTES),
    ) {
        let mut flash = FailingFlash::new(PAGES);
        let mut table = loaded(&mut flash);
        send(&mut table, &mut flash, 5, 2).unwrap();
        table.begin(&mut flash, &head(6, 1_000)).unwrap();
        let rows = TableRows { table: 6, first: 0, rows: heapless::Vec::from_slice(&bytes).unwrap() };
        let taken = table.rows(&mut flash, &rows);
        proptest::prop_assert!(matches!(taken, Ok(()) | Err(Refusal::BadTable)));
        proptest::prop_assert_eq!(table.name(), 5);
        proptest::prop_assert!(knows(&table, &mut flash, 10) && knows(&loaded(&mut flash), &mut flash, 20));
    }
}

#[test]
fn a_flash_without_room_takes_no_table() {
    let mut flash = FailingFlash::new(1);
    let mut table = CowTable::new([0..0, 0..0]);
    table.load(&mut flash);
    assert_eq!(table.begin(&mut flash, &head(5, 1)), Err(Refusal::BadTable));
    table.forget(&mut flash);
    assert_eq!(flash.used, 0);
}

#[test]
fn a_slot_with_room_for_no_row_holds_a_table_without_cows() {
    let mut flash = FailingFlash::new(1);
    write_head(&mut flash, &(0..256), 9, &head(5, 0)).unwrap();
    assert_eq!(read_head(&mut flash, &(0..256)), Some((9, head(5, 0))));
    assert_eq!(read_head(&mut flash, &(0..255)), None);
}

#[test]
fn a_head_of_a_newer_form_or_without_sense_in_flash_is_none() {
    for spoil in [(|head| head.version = 2) as fn(&mut TableHead), |head| head.weight = f32::NAN] {
        let mut flash = FailingFlash::new(PAGES);
        let mut table = loaded(&mut flash);
        send(&mut table, &mut flash, 5, 2).unwrap();
        // Left by another program, later than ours.
        let (mut other, slots) = (head(6, 0), slots());
        spoil(&mut other);
        write_head(&mut flash, &slots[1 - table.current], 9, &other).unwrap();
        assert_eq!(loaded(&mut flash).name(), 5);
    }
}

#[test]
fn a_table_is_forgotten_for_good() {
    let mut flash = FailingFlash::new(PAGES);
    let mut table = loaded(&mut flash);
    send(&mut table, &mut flash, 5, 2).unwrap();
    send(&mut table, &mut flash, 6, 2).unwrap();
    table.forget(&mut flash);
    assert!(!knows(&table, &mut flash, 10));
    assert_eq!(loaded(&mut flash).name(), 0);
}

#[test]
fn a_power_cut_at_any_byte_leaves_the_table_before_or_the_new_one() {
    let mut flash = FailingFlash::new(PAGES);
    let mut table = loaded(&mut flash);
    send(&mut table, &mut flash, 5, 2).unwrap();
    let before = flash.used;
    let mut whole = flash.clone();
    let mut table = loaded(&mut whole);
    send(&mut table, &mut whole, 6, 3).unwrap();
    let cost = whole.used - before;
    let mut whole_before = false;
    for cut in 0..=cost {
        let mut torn = flash.clone();
        let mut table = loaded(&mut torn);
        torn.die_after(cut);
        let sent = send(&mut table, &mut torn, 6, 3);
        torn.revive();
        let mut table = loaded(&mut torn);
        // The last bytes of the head's room are padding: it may be whole although the power went.
        let new = table.name() == 6;
        assert!(new || table.name() == 5, "cut after {cut} of {cost}");
        assert!(new || !(sent.is_ok() || whole_before || cut == cost), "cut after {cut} of {cost}");
        whole_before = new;
        assert_eq!((knows(&table, &mut torn, 20), knows(&table, &mut torn, 30)), (true, new), "{cut}");
        if cut % 50 == 0 {
            send(&mut table, &mut torn, 7, 4).unwrap();
            assert!(knows(&loaded(&mut torn), &mut torn, 40));
        }
    }
}
