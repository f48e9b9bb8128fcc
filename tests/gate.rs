//! The gate with device and host together: lists that are told, confirmed, kept over losses of power and reported; tables that
//! come in pieces; and all that is refused.

use host::{
    link::{
        Notice,
        orders::{Told, Wanted, WantedList},
    },
    record::gate::GateRecord,
    store::Store,
};
use jiff::Timestamp;
use shared::{
    identity::AnimalCode,
    lane_score::{CowRow, LaneFlag, OwnState, TableHead},
    plate::Leg,
    units::Kilograms,
    wire::{
        ConfirmList, DeviceId, DeviceMessage, GateOutcome, GateSettings, HoldList, HostMessage, LaneAnswer,
        LaneOrders, LinkKey, Refusal, ResetCause,
    },
};
use tests::{
    cow_rows::{self, square},
    joint::{Joint, START_UTC_MS},
};

const DEVICE: DeviceId = DeviceId(0xFA4E);
const KEY: LinkKey = LinkKey([0x5A; 32]);
const GATE: GateSettings = GateSettings {
    moves_high: true,
    delay_ms: 8_000,
    pulse_ms: 1_000,
    hold_ms: 6_000,
    silence_s: 120,
    first_kg: Kilograms(20.0),
};

fn code(national: u64) -> AnimalCode {
    AnimalCode::new(999, national).expect("in range")
}

fn store() -> Store {
    let store = Store::in_memory().expect("memory");
    store.put_link_key(DEVICE, Some(KEY)).expect("kept");
    store
}

/// A paired device with a gate.
fn paired(store: &Store, pages: usize, seed: u64) -> Joint<'_> {
    let mut joint = Joint::new(store, pages, seed);
    joint.connect();
    joint.run(2_000);
    joint.say(&HostMessage::Pair(KEY));
    joint.run(3_000);
    assert!(joint.is_sealed(), "{:?}", joint.notices);
    joint.say(&HostMessage::SetGate(Some(GATE)));
    joint.run(2_000);
    assert_eq!(told(&joint).gate, Some(GATE));
    joint
}

fn told(joint: &Joint<'_>) -> LaneOrders {
    *joint.orders.state().expect("the device has said")
}

fn list(nationals: &[u64], most: u8) -> Option<WantedList> {
    let codes = nationals.iter().copied().map(code).collect();
    Some(WantedList { codes, most, until_ms: START_UTC_MS + 4 * 3_600_000 })
}

fn events(store: &Store) -> Vec<(u64, GateOutcome)> {
    let all = store.gate_events(Timestamp::UNIX_EPOCH, Timestamp::MAX).expect("readable");
    let national = |event: &GateRecord| event.animal.0.trim_start_matches("999").parse().expect("our own");
    all.iter().map(|event| (national(event), event.outcome)).collect()
}

fn refusals(joint: &mut Joint<'_>) -> Vec<Refusal> {
    let refused = |notice: &Notice| match notice {
        Notice::Answer(answer) => match **answer {
            DeviceMessage::Refused(refusal) => Some(refusal),
            _ => None,
        },
        _ => None,
    };
    std::mem::take(&mut joint.notices).iter().filter_map(refused).collect()
}

#[test]
fn listed_cows_are_held_back_and_reported_and_others_walk_by() {
    let store = store();
    let mut joint = paired(&store, 64, 1);
    joint.wanted.list = list(&[2, 4, 5], 2);
    joint.run(3_000);
    assert!(told(&joint).in_force && told(&joint).listed == 3);
    assert!(joint.orders.take_told().contains(&Told::InForce { listed: 3 }));
    let mut read = Vec::new();
    for cow in 1..=5 {
        read.push(joint.cow(cow));
        joint.run(5_000);
    }
    assert_eq!(joint.moves.len(), 2);
    for (moved, cow) in joint.moves.iter().zip([2, 4]) {
        let after = moved - read[cow - 1];
        assert!((8_000..13_100).contains(&after), "cow {cow}: {after} ms after her tag");
    }
    joint.run(5_000);
    assert_eq!(events(&store), [(2, GateOutcome::Held), (4, GateOutcome::Held), (5, GateOutcome::Enough)]);
    assert_eq!((told(&joint).held, joint.board.scale.journal().waiting()), (2, 0));
    // She comes round again.
    joint.cow(2);
    joint.run(5_000);
    assert_eq!((joint.moves.len(), events(&store).last()), (2, Some(&(2, GateOutcome::HeldBefore))));
    // With the stop input open nothing moves.
    joint.stopped = true;
    joint.wanted.list = list(&[6], 2);
    joint.run(3_000);
    joint.cow(6);
    joint.run(5_000);
    assert_eq!((joint.moves.len(), events(&store).last()), (2, Some(&(6, GateOutcome::Stopped))));
}

#[test]
fn a_loss_of_power_forgets_neither_the_list_nor_who_was_held() {
    let store = store();
    let mut joint = paired(&store, 64, 2);
    joint.wanted.list = list(&[1, 2], 9);
    joint.run(3_000);
    joint.cow(1);
    joint.run(3_000);
    let name = told(&joint).list;
    joint.reboot(ResetCause::PowerOn);
    // Without a host the list lies there and moves nothing.
    joint.disconnect();
    joint.cow(2);
    joint.run(3_000);
    assert_eq!(joint.moves.len(), 1);
    joint.connect();
    joint.run(10_000);
    assert_eq!((told(&joint).list, told(&joint).held, told(&joint).in_force), (name, 1, true));
    assert_eq!(events(&store), [(1, GateOutcome::Held), (2, GateOutcome::NotConfirmed)]);
    joint.cow(1);
    joint.cow(2);
    joint.run(5_000);
    assert_eq!(joint.moves.len(), 2, "cow 2 alone");
    assert_eq!(events(&store)[2..], [(1, GateOutcome::HeldBefore), (2, GateOutcome::Held)]);
}

#[test]
fn a_host_that_is_gone_leaves_the_gate_at_rest_and_hears_of_it_later() {
    let store = store();
    let mut joint = paired(&store, 64, 3);
    joint.wanted.list = list(&[1], 9);
    joint.run(3_000);
    joint.disconnect();
    joint.quiet(130_000);
    joint.run(2_000);
    joint.cow(1);
    joint.run(3_000);
    assert!(joint.moves.is_empty());
    joint.connect();
    joint.run(10_000);
    assert_eq!(events(&store), [(1, GateOutcome::HostSilent)]);
    joint.cow(1);
    assert_eq!(joint.moves.len(), 1, "it is back");
}

#[test]
fn a_clock_set_by_ten_years_leaves_the_gate_at_rest_until_it_fits_again() {
    let store = store();
    let mut joint = paired(&store, 64, 4);
    joint.wanted.list = list(&[1, 2], 9);
    joint.run(3_000);
    joint.host_off_ms = 10 * 365 * 86_400_000;
    joint.quiet(61_000);
    joint.run(2_000);
    joint.cow(1);
    joint.run(5_000);
    assert!(joint.moves.is_empty(), "the list is long over by that clock");
    joint.host_off_ms = 0;
    joint.quiet(61_000);
    joint.run(3_000);
    joint.cow(2);
    assert_eq!(joint.moves.len(), 1);
}

#[test]
fn without_pairing_the_lane_only_measures() {
    let store = Store::in_memory().expect("memory");
    let mut joint = Joint::new(&store, 64, 5);
    joint.connect();
    joint.run(3_000);
    joint.notices.clear();
    let (head, _) = table(&[1]);
    for order in [
        HostMessage::SetGate(Some(GATE)),
        HostMessage::HoldList(HoldList {
            list: 1,
            part: 0,
            parts: 1,
            most: 1,
            codes: [code(1)].into_iter().collect(),
        }),
        HostMessage::ConfirmList(ConfirmList { list: 1, now_utc_ms: 0, until_utc_ms: 1 }),
        HostMessage::Table(head),
    ] {
        joint.say(&order);
        joint.run(500);
        assert_eq!(refusals(&mut joint), [Refusal::NotPaired], "{order:?}");
    }
    joint.cow(1);
    joint.run(3_000);
    assert!(joint.moves.is_empty() && events(&store).is_empty());
    assert_eq!(told(&joint), LaneOrders::default());
    assert_eq!(tests::joint::passages_of(&store), 1);
}

#[test]
fn what_makes_no_sense_is_refused_with_words_and_what_was_there_stays() {
    let store = store();
    let mut joint = paired(&store, 64, 6);
    joint.wanted.list = list(&[1], 9);
    joint.run(3_000);
    let before = told(&joint);
    joint.notices.clear();
    let part = |list, part, parts, cows: u64| {
        let codes = (1..=cows).map(code).collect();
        HostMessage::HoldList(HoldList { list, part, parts, most: 9, codes })
    };
    let until = START_UTC_MS + 30 * 3_600_000;
    for (order, refusal) in [
        (HostMessage::SetGate(Some(GateSettings { pulse_ms: 49, ..GATE })), Refusal::BadGate),
        (part(0, 0, 1, 1), Refusal::BadList),
        (part(99, 1, 2, 1), Refusal::BadList),
        (part(99, 0, 0, 1), Refusal::BadList),
        (
            HostMessage::ConfirmList(ConfirmList { list: 98, now_utc_ms: 0, until_utc_ms: 1 }),
            Refusal::BadList,
        ),
        (
            HostMessage::ConfirmList(ConfirmList {
                list: before.list,
                now_utc_ms: START_UTC_MS,
                until_utc_ms: until,
            }),
            Refusal::BadList,
        ),
    ] {
        joint.say(&order);
        joint.run(500);
        assert_eq!(refusals(&mut joint), [refusal], "{order:?}");
    }
    // A list of more cows than a page holds: the fourth part is one too many.
    (0..3).for_each(|n| joint.say(&part(99, n, 4, 16)));
    joint.run(500);
    assert!(refusals(&mut joint).is_empty());
    joint.say(&part(99, 3, 4, 16));
    joint.run(500);
    assert_eq!(refusals(&mut joint), [Refusal::BadList]);
    joint.run(61_000);
    assert_eq!((told(&joint).list, told(&joint).listed), (before.list, 1));
    joint.cow(1);
    assert_eq!(joint.moves.len(), 1, "the list is confirmed again within a minute");
}

#[test]
fn a_list_that_is_the_same_is_not_looked_up_in_the_store_again() {
    let store = store();
    let mut joint = paired(&store, 64, 5);
    joint.wanted.list = list(&[1], 1);
    joint.run(3_000);
    assert!(told(&joint).in_force);
    store.connection().execute_batch("DROP TABLE gate_lists").expect("gone");
    joint.run(130_000);
    assert!(told(&joint).in_force, "confirmed twice meanwhile");
}

/// A table of cows who are sound and stand square, as far as anybody knows.
fn table(nationals: &[u64]) -> (TableHead, Vec<CowRow>) {
    let own = OwnState { state: 1 + 3 * 5 + 3, likely: 60, usual: [0; 6], usual_sd: [40; 6] };
    let row = |national: &u64| CowRow {
        states: [own].into_iter().collect(),
        ..square(code(*national), 5_333, 20, 1)
    };
    cow_rows::table(nationals.iter().map(row).collect())
}

fn answers(joint: &Joint<'_>) -> Vec<LaneAnswer> {
    let answer = |notice: &Notice| match notice {
        Notice::Answer(answer) => match **answer {
            DeviceMessage::Answer(answer) => Some(answer),
            _ => None,
        },
        _ => None,
    };
    joint.notices.iter().filter_map(answer).collect()
}

#[test]
fn a_table_of_a_thousand_cows_comes_in_pieces_and_cows_are_judged_as_they_leave() {
    let store = store();
    let mut joint = paired(&store, 256, 7);
    let nationals: Vec<u64> = (1..=1_000).collect();
    let (head, rows) = table(&nationals);
    joint.wanted = Wanted::default().with_table(head, rows.clone());
    let name = joint.wanted.table.as_ref().expect("a table").0.table;
    joint.trouble.noise = 2e-5;
    // A cow in between, and a loss of power in the middle: it begins anew.
    joint.run(5_000);
    joint.cow(77);
    assert!(answers(&joint).is_empty(), "not yet");
    joint.reboot(ResetCause::PowerOn);
    joint.quiet(300_000);
    assert_eq!((told(&joint).table, told(&joint).coming), (name, 0));
    assert!(joint.orders.take_told().contains(&Told::Table { rows: 1_000 }));
    joint.trouble.noise = 0.0;
    joint.notices.clear();
    joint.cow(500);
    joint.cow(1_001);
    joint.run(3_000);
    // The host makes the same of the same passage, and of the cow whom no table knows nothing.
    let passages = store.passages(&host::store::PassageFilter::default()).expect("readable");
    let hers = passages
        .iter()
        .find(|passage| passage.animal.as_ref().is_some_and(|animal| animal.0 == "999000000000500"));
    let measures = shared::lane_score::Measures::of(&hers.expect("she passed").summary).expect("trusted");
    let (head, rows) = joint.wanted.table.clone().expect("a table");
    let judged = shared::lane_score::judge(&head, &rows[499], &measures);
    let said = answers(&joint);
    assert_eq!(said.len(), 1);
    assert_eq!((said[0].code, said[0].table, said[0].flag), (code(500), name, judged.flag));
    assert_eq!(said[0].probability.to_bits(), judged.probability.to_bits(), "the same bytes");
    assert_eq!((said[0].leg, said[0].flag), (None, LaneFlag::Clear));
}

#[test]
fn a_cow_who_is_known_as_lame_is_named_with_her_leg_within_a_second() {
    let store = store();
    let mut joint = paired(&store, 256, 8);
    let (head, mut rows) = table(&[1, 2]);
    // Cow 1 would put 24 points more on RR were she sound, and stands square; cow 2 stands square as ever.
    rows[0].sound = 60;
    rows[0].flag = LaneFlag::Urgent;
    rows[0].states[0].likely = 1;
    rows[0].usual[1] = 2_400;
    joint.wanted = Wanted::default().with_table(head, rows);
    joint.run(5_000);
    joint.notices.clear();
    let begin = joint.now;
    joint.cow(1);
    let said = answers(&joint);
    assert_eq!((said.len(), said[0].flag, said[0].leg), (1, LaneFlag::Urgent, Some(Leg::RR)), "{said:?}");
    assert!(joint.now - begin <= 14_100);
    joint.notices.clear();
    joint.cow(2);
    assert!(answers(&joint).iter().all(|answer| answer.flag == LaneFlag::Clear));
}

#[test]
fn pairing_with_another_host_forgets_table_and_list() {
    let store = store();
    let mut joint = paired(&store, 256, 9);
    let (head, rows) = table(&[1, 2]);
    joint.wanted = Wanted { list: list(&[1], 3), ..Wanted::default().with_table(head, rows) };
    joint.run(10_000);
    assert!(told(&joint).table != 0 && told(&joint).list != 0);
    joint.wanted = Wanted::default();
    let other = LinkKey([0x77; 32]);
    joint.say(&HostMessage::Pair(other));
    joint.run(1_000);
    store.put_link_key(DEVICE, Some(other)).expect("kept");
    joint.connect();
    joint.run(5_000);
    let LaneOrders { list, table, gate, .. } = told(&joint);
    assert_eq!((list, table, gate), (0, 0, Some(GATE)), "how the gate is driven is the lane's own");
    joint.reboot(ResetCause::PowerOn);
    joint.run(10_000);
    assert_eq!((told(&joint).list, told(&joint).table), (0, 0));
}

#[test]
fn orders_wait_while_a_cow_is_on_the_plates() {
    let store = store();
    let mut joint = paired(&store, 256, 10);
    joint.wanted.list = list(&[1], 3);
    joint.deck.cows = vec![joint.now + 100];
    joint.run(14_000);
    assert_eq!(told(&joint).listed, 1, "and is told when she has gone");
    assert!(told(&joint).in_force);
}
