//! What the application does at its own thresholds.

use super::*;
use crate::{
    fakes::{Board, FakePort, GATE, SharedFlash, at, code, head},
    load_cells::TOP_CODE,
};
use shared::{
    lane_score::{Class, CowRow, LaneFlag},
    units::Counts,
    wire::{Decoded, Feed, FrameReader, TableRows, decode},
};

fn board(pages: usize) -> Board {
    Board::boot(SharedFlash::new(pages), FakePort::default(), ResetCause::PowerOn).unwrap()
}

#[test]
fn what_lies_on_the_deck_is_the_sum_of_its_plates_where_all_of_them_are_sure() {
    let mut scale = board(16).scale;
    assert!(scale.deck().is_none(), "nothing was read");
    scale.loads = Some(PerPlate([1.0, 2.0, 4.0, 8.0].map(Kilograms)));
    let deck = scale.deck().unwrap();
    // The first plates are the rear ones: 4 + 8, and 1 + 2 more.
    assert_eq!((deck.first, deck.all), (Kilograms(12.0), Kilograms(15.0)));
    scale.last.counts[Plate::RF] = Counts(TOP_CODE);
    assert!(scale.deck().is_none(), "a plate at its end stop");
}

#[test]
fn a_program_on_trial_is_given_up_after_ten_minutes_without_its_host() {
    let mut scale = board(16).scale;
    scale.prove(at(599_999));
    assert!(!scale.restart);
    scale.prove(at(600_000));
    assert!(scale.restart);
}

#[test]
fn a_gate_is_driven_as_stored_and_refused_where_it_cannot_be() {
    let Board { mut scale, flash, .. } = board(16);
    assert_eq!(scale.set_gate(Some(GATE)), Ok(()));
    assert_eq!((scale.gate_settings(), scale.store.gate()), (Some(GATE), Some(GATE)));
    assert_eq!(scale.set_gate(Some(GateSettings { pulse_ms: 49, ..GATE })), Err(Refusal::BadGate));
    flash.die_after(0);
    assert_eq!(scale.set_gate(None), Err(Refusal::NotStored));
    assert_eq!(scale.gate_settings(), Some(GATE));
    flash.revive();
    assert_eq!(scale.set_gate(None), Ok(()));
    assert_eq!(scale.gate_settings(), None);
}

/// Tells the device of one cow.
fn tell(scale: &mut Scale<'_, FakePort, SharedFlash>, cow: AnimalCode) {
    let row = CowRow {
        code: cow,
        flag: LaneFlag::Clear,
        treated: false,
        unsettled: false,
        usual: [0; 6],
        usual_sd: [9; 6],
        noise: [9; 6],
        sound: 200,
        states: heapless::Vec::new(),
    };
    let mut room = [0; 128];
    let bytes = postcard::to_slice(&row, &mut room).unwrap();
    let rows = TableRows { table: 5, first: 0, rows: bytes.iter().copied().collect() };
    let Scale { journal, orders, .. } = scale;
    orders.table.begin(journal.flash(), &head(5, 1)).unwrap();
    orders.table.rows(journal.flash(), &rows).unwrap();
    assert_eq!(orders.table.name(), 5);
}

#[test]
fn each_cow_of_the_table_who_is_judged_is_counted_while_somebody_listens() {
    let mut scale = board(128).scale;
    tell(&mut scale, code(1));
    let measures = Measures { value: [f32::NAN; 6], stated: [0.0; 6], class: Class::Walk };
    let left = |national| ToJudge { passage: 1, start: Milliseconds(0), code: code(national), measures };
    // Nobody listens; she is judged; another is not in the table; she again.
    for (listens, national, answered) in [(false, 1, 0), (true, 1, 1), (true, 2, 1), (true, 1, 2)] {
        if listens {
            scale.flight.open();
        }
        scale.pending.judge = Some(left(national));
        scale.judge();
        assert_eq!(scale.answered(), answered, "cow {national}");
    }
}

/// How many passages the journal holds.
fn passages(journal: &mut Journal<SharedFlash>) -> usize {
    let (mut found, mut from) = (0, 0);
    while let Some((number, frame)) = journal.next_from(from).unwrap() {
        let mut reader = FrameReader::new();
        let Feed::Frame { payload, .. } = reader.push(frame) else { panic!("a frame") };
        found += usize::from(matches!(decode(payload), Decoded::Message(DeviceMessage::Passage(_))));
        from = number + 1;
    }
    found
}

#[test]
fn a_passage_that_a_long_gap_ends_is_kept_although_somebody_stands_there_after_it() {
    let mut scale = board(16).scale;
    // By the factory's 0.000339 kg a count, 102 kg on each plate.
    let standing = Sample { counts: PerPlate([Counts(300_000); 4]) };
    (0..1_000).step_by(5).for_each(|ms| scale.sample(Milliseconds(ms), &standing));
    assert!(scale.is_occupied());
    assert_eq!(passages(scale.journal()), 0);
    // The last reading was at 995 ms; a gap of 2,000 ms does not end a passage, one of 2,001 ms does.
    for (ms, kept, since) in [(2_995, 0, 0), (4_996, 1, 4_996)] {
        scale.sample(Milliseconds(ms), &standing);
        assert!(scale.is_occupied());
        assert_eq!(passages(scale.journal()), kept, "{ms}");
        assert_eq!(scale.recording.map(|recording| recording.since), Some(Milliseconds(since)));
    }
}
