//! Rows with what is kept are those of a store that keeps nothing, whatever changed in between.

use crate::record::case::history;
use crate::record::case::{BlockSeen, Case, FollowUp};
use crate::record::finding::FlagReason;
use crate::record::{AnimalId, HerdEntry, MobilityScore, Passage};
use crate::score::kept::*;
use crate::simulated_herd::{START, Scenario, SimulatedHerd, herd, listed, name};
use crate::store::SourceId;
use jiff::{Timestamp, ToSpan};
use shared::plate::Leg;

const DAYS: i64 = 30;

fn made() -> SimulatedHerd {
    herd(&Scenario { cows: 12, days: DAYS + 10, onset: 0.02, ..Scenario::default() })
}

fn date(day: i64) -> Date {
    START.saturating_add(day.days())
}

fn put(store: &Store, source: SourceId, passage: &Passage) {
    store.insert_listed(&listed(passage), source).unwrap();
}

fn source(store: &Store) -> SourceId {
    store.begin_source("passages", "invented", Timestamp::UNIX_EPOCH).unwrap()
}

/// A store with the first days of a herd, its register and a case.
fn filled(made: &SimulatedHerd) -> Store {
    let store = Store::in_memory().unwrap();
    let from = source(&store);
    made.register.iter().for_each(|entry| assert!(store.put_herd_entry(entry).unwrap()));
    made.passages.iter().filter(|p| p.date < date(DAYS)).for_each(|p| put(&store, from, p));
    store.add_case(&case(12), Timestamp::UNIX_EPOCH).unwrap().unwrap();
    store
}

fn case(day: i64) -> Case {
    let mut case = Case::new(name(3), date(day));
    for (field, value) in [("leg", "RR"), ("lesion", "SU"), ("block_claw", "inner")] {
        case.set_field(field, value).unwrap();
    }
    case
}

/// What a store without anything kept says, by a run from the first day.
fn anew(store: &Store, until: Option<Date>) -> Vec<CowDay> {
    let mut work = store.foot_work().unwrap();
    let last = until.or(store.last_day(None).unwrap()).unwrap();
    match until {
        Some(until) => known_by(&mut work, until),
        None => known_at_last(&mut work, last),
    }
    let passages = store.passages(&PassageFilter { to: Some(last), ..PassageFilter::default() }).unwrap();
    let settings =
        ScoreSettings { until: Some(last), zone: store.time_zone().unwrap(), ..ScoreSettings::default() };
    let (herd, scores) = (store.herd().unwrap(), store.mobility_scores().unwrap());
    crate::score::run_on(&passages, &herd, &scores, &work, &settings).days
}

fn kept(store: &Store, until: Option<Date>) -> Vec<CowDay> {
    rows(store, until, |_| KeptRows::All).unwrap().unwrap().1.days
}

#[track_caller]
fn same(store: &Store) {
    let found = kept(store, None);
    let wanted = anew(store, None);
    assert_eq!(found.len(), wanted.len());
    found.iter().zip(&wanted).for_each(|(found, wanted)| assert_eq!(found, wanted));
    // And once more, from what has just been kept.
    assert!(is_kept(store));
    assert_eq!(kept(store, None), wanted);
    // And anew, in short stretches.
    store.connection().execute_batch(FORGET).unwrap();
    let stretched = rows_by(60, store, None, |_| KeptRows::All).unwrap().unwrap().1;
    assert_eq!(stretched.days, wanted);
    assert!(is_kept(store));
    assert_eq!(stretched.lanes, rows(store, None, |_| KeptRows::All).unwrap().unwrap().1.lanes);
}

/// As if nothing had ever been kept.
const FORGET: &str = "DELETE FROM score_days; DELETE FROM score_lanes; DELETE FROM score_checkpoints;
    UPDATE score_state SET kept_to = NULL, dirty_ms = NULL;";

fn is_kept(store: &Store) -> bool {
    let state = store.kept_scores().unwrap();
    let last = store.last_day(None).unwrap().map(day_number);
    state.dirty.is_none() && state.model == checksum() && state.to == last
}

// Two weeks a stretch, for sixty passages are less: of thirty days two stretches, and a day or two left for the end; the
// second goes on from a state of the first.
#[test]
fn stretches_go_on_from_each_other_up_to_the_last() {
    let store = filled(&made());
    stretches::keep_earlier(&store, checksum(), 60).unwrap();
    let kept = store.kept_scores().unwrap().to.expect("kept");
    let last = day_number(store.last_day(None).unwrap().expect("passages"));
    assert!((last - 3..last).contains(&kept), "{kept} of {last}");
}

#[test]
fn rows_are_kept_and_read_by_day_and_by_cow() {
    let store = filled(&made());
    let all = anew(&store, None);
    assert_eq!(kept(&store, None), all);
    let part = |which: KeptRows<'static>| rows(&store, None, |_| which).unwrap().unwrap();
    let (last, day) = part(KeptRows::Day(date(DAYS - 1)));
    assert_eq!(last, date(DAYS - 1));
    assert!(day.days.iter().eq(all.iter().filter(|row| row.date == last)));
    let since = part(KeptRows::Since(date(DAYS - 3))).1.days;
    assert!(since.iter().eq(all.iter().filter(|row| row.date >= date(DAYS - 3))));
    assert!(day.lanes.last().is_some_and(|lane| lane.date == last));
    let cow: &'static AnimalId = Box::leak(Box::new(name(5)));
    assert!(part(KeptRows::Of(cow)).1.days.iter().eq(all.iter().filter(|row| row.animal == *cow)));
}

#[test]
fn nothing_gives_nothing() {
    assert!(rows(&Store::in_memory().unwrap(), None, |_| KeptRows::All).unwrap().is_none());
}

#[test]
fn new_days_go_on_from_the_kept_state() {
    let made = made();
    let store = filled(&made);
    kept(&store, None);
    let before = kept(&store, None);
    for day in DAYS..DAYS + 10 {
        let from = source(&store);
        made.passages.iter().filter(|p| p.date == date(day)).for_each(|p| put(&store, from, p));
        assert!(!is_kept(&store));
        // Only the day before the new one and the new one are scored: the last kept day was hardly whole.
        let state = store.kept_scores().unwrap();
        assert_eq!(holds_to(&state, checksum(), day_number(date(day))), day_number(date(day)) - 2);
        assert_eq!(store.checkpoint(i64::MAX).unwrap().unwrap().0, day_number(date(day)) - 2);
        same(&store);
    }
    let after = kept(&store, None);
    assert!(before.iter().filter(|row| row.date < date(DAYS - 1)).zip(&after).all(|(a, b)| a == b));
}

#[test]
fn every_change_is_noticed_and_gives_what_a_run_from_the_first_day_gives() {
    let made = made();
    let store = filled(&made);
    let id = store.cases(None).unwrap()[0].id;
    let noon = |day: i64| date(day).at(12, 0, 0, 0).in_tz("UTC").unwrap().timestamp();
    let score = |day, score| MobilityScore { date: date(day), animal: name(2), score };
    let look = |day| FollowUp {
        date: date(day),
        block: Some(BlockSeen::TakenOff),
        height_mm: None,
        course: None,
        note: None,
        who: None,
    };
    let sql = |text: &str| store.connection().execute(text, []).unwrap();
    let changes: [(&str, &dyn Fn()); 15] = [
        ("a passage of a new day", &|| {
            let from = source(&store);
            made.passages.iter().filter(|p| p.date == date(DAYS)).for_each(|p| put(&store, from, p));
        }),
        ("a late passage", &|| {
            let late = made.passages.iter().find(|p| p.date == date(20)).unwrap();
            let time = late.time.saturating_add(1.hour()).unwrap();
            put(&store, source(&store), &Passage { time, ..late.clone() });
        }),
        ("a passage gone", &|| {
            assert_eq!(sql("DELETE FROM passages WHERE id = (SELECT max(id) - 40 FROM passages)"), 1);
        }),
        ("another cow", &|| {
            assert_eq!(
                sql(
                    "UPDATE passages SET animal_id = 'cow-001' WHERE id = (SELECT max(id) - 90 FROM passages)"
                ),
                1
            );
        }),
        ("a lane renamed", &|| assert!(sql("UPDATE passages SET lane = 'other' WHERE id % 2 = 0") > 100)),
        ("a mobility score", &|| assert!(store.put_mobility_score(&score(24, 2)).unwrap())),
        ("a mobility score corrected", &|| assert!(store.put_mobility_score(&score(24, 0)).unwrap())),
        ("a score of the last day", &|| assert!(store.put_mobility_score(&score(DAYS, 3)).unwrap())),
        ("a case", &|| assert!(store.add_case(&case(25), Timestamp::UNIX_EPOCH).unwrap().is_some())),
        ("a follow-up", &|| {
            store.add_follow_up(id, &look(27), Timestamp::UNIX_EPOCH).unwrap();
        }),
        ("a correction", &|| {
            let (is, changes) = history::apply(&case(12), &[("leg".into(), "LR".into())]).unwrap();
            store.correct_case(id, &is, &changes, "trimmer", noon(26)).unwrap();
        }),
        ("a withdrawal", &|| store.withdraw_case(id, "wrong cow", "trimmer", noon(28)).unwrap()),
        ("the register", &|| {
            let calved = HerdEntry { animal: name(4), parity: Some(3), calving_date: Some(date(15)) };
            assert!(store.put_herd_entry(&calved).unwrap());
        }),
        ("the time zone", &|| store.set_setting("time_zone", "America/Chicago").unwrap()),
        ("another model", &|| assert_eq!(sql("UPDATE score_state SET model = model + 1"), 1)),
    ];
    same(&store);
    for (what, change) in changes {
        change();
        assert!(!is_kept(&store), "{what} was not noticed");
        same(&store);
    }
}

#[test]
fn a_past_day_knows_nothing_that_came_later() {
    let made = made();
    let store = filled(&made);
    let id = store.cases(None).unwrap()[0].id;
    let then: Vec<_> =
        [15, DAYS - 2, DAYS - 1, DAYS + 3].map(|day| (day, anew(&store, Some(date(day))))).into();
    for (day, rows) in &then {
        assert_eq!(kept(&store, Some(date(*day))), *rows, "{day}");
    }
    // Later: a correction, and a score dated after the last day.
    let (is, changes) = history::apply(&case(12), &[("leg".into(), "LR".into())]).unwrap();
    let later = date(DAYS + 20).at(12, 0, 0, 0).in_tz("UTC").unwrap().timestamp();
    store.correct_case(id, &is, &changes, "trimmer", later).unwrap();
    for warm in [false, true] {
        if warm {
            same(&store);
        }
        for (day, rows) in &then {
            assert_eq!(kept(&store, Some(date(*day))), *rows, "{day} {warm}");
        }
    }
    // The last day's own list, read now, does know of the correction.
    let leg = |rows: &[CowDay]| {
        let row = rows.iter().rev().find(|row| row.animal == name(3)).unwrap();
        row.reasons.iter().find_map(|why| match why {
            FlagReason::BlockOn { leg, .. } => *leg,
            _ => None,
        })
    };
    assert_eq!(leg(&kept(&store, None)), Some(Leg::LR));
    assert_eq!(leg(&kept(&store, Some(date(DAYS - 1)))), Some(Leg::RR));
}

#[test]
fn damage_to_what_is_kept_only_costs_time() {
    let made = made();
    let store = filled(&made);
    kept(&store, None);
    store.connection().execute("UPDATE score_checkpoints SET state = x'00'", []).unwrap();
    let from = source(&store);
    made.passages.iter().filter(|p| p.date == date(DAYS)).for_each(|p| put(&store, from, p));
    same(&store);
}
