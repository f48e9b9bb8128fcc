//! A farm with an urgent cow, a silent lane and a withdrawal that is over, told by programs that do and do not.

use super::*;
use crate::record::AnimalId;
use crate::record::case::Case;
use crate::record::message::MessageKind;
use crate::report::words::Language;
use jiff::civil::date;
use std::path::Path;

/// 2026-03-05, noon UTC.
const NOW: Timestamp = Timestamp::constant(1_772_712_000, 0);
const MINUTE: i64 = 60_000;

fn later(ms: i64) -> Timestamp {
    Timestamp::from_millisecond(NOW.as_millisecond() + ms).unwrap()
}

/// A farm where the milk withdrawal of cow 412 was over on the day before.
fn farm() -> Store {
    let store = Store::in_memory().unwrap();
    let mut case = Case::new(AnimalId("412".into()), date(2026, 3, 1));
    case.medicine.milk_withdrawal_end = Some(date(2026, 3, 4));
    case.medicine.meat_withdrawal_end = Some(date(2026, 3, 20));
    store.add_case(&case, NOW).unwrap();
    store.set_setting("tell_quiet", "").unwrap();
    store
}

fn go(store: &Store, now: Timestamp) -> Round {
    round(store, &Words::new(Language::English), now, false).unwrap()
}

fn writes_to(store: &Store, file: &Path) {
    store.set_setting("tell_by", &format!("cat >> '{}'", file.display())).unwrap();
}

#[test]
fn nothing_is_told_without_a_program_and_nothing_is_lost_by_asking() {
    let store = farm();
    let asked = round(&store, &Words::new(Language::English), NOW, true).unwrap();
    assert_eq!((asked.waiting.len(), asked.why), (1, Some(Why::OnlyAsked)));
    let waits = go(&store, NOW);
    assert_eq!((waits.waiting.len(), waits.why), (1, Some(Why::NoProgram)));
    assert_eq!(waits.waiting[0].kind, MessageKind::WithdrawalOver);
    let text = &waits.waiting[0].text;
    assert!(text.contains("412: last day of milk withdrawal, as entered, was Wed 4 Mar"), "{text}");
}

#[test]
#[cfg(unix)]
fn it_is_told_once_after_a_week_without_a_network() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("told");
    let store = farm();
    store.set_setting("tell_by", "echo no route to host >&2; false").unwrap();
    let failed = go(&store, NOW);
    assert_eq!(failed.why, Some(Why::Failed { said: "no route to host".into() }));
    assert_eq!(go(&store, later(MINUTE - 1)).why, Some(Why::Later), "a pause first");
    assert!(matches!(go(&store, later(MINUTE)).why, Some(Why::Failed { .. })));
    assert_eq!(go(&store, later(2 * MINUTE)).why, Some(Why::Later), "and a longer one");
    writes_to(&store, &file);
    let week = 9 * 24 * 60 * MINUTE;
    let told = go(&store, later(week));
    assert_eq!((told.told.len(), told.waiting.len(), told.why), (1, 0, None));
    assert_eq!(go(&store, later(week + MINUTE)), Round { told: vec![], waiting: vec![], why: None });
    let text = std::fs::read_to_string(file).unwrap();
    assert!(text.starts_with("Lane: one thing that cannot wait\n\n- 412: last day of milk"), "{text}");
    assert_eq!(text.matches("412").count(), 1, "{text}");
}

#[test]
#[cfg(unix)]
fn quiet_hours_and_enough_for_a_day_hold_it_back_and_then_it_goes_out_together() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("told");
    let store = farm();
    writes_to(&store, &file);
    store.set_setting("tell_quiet", "11:00-13:00").unwrap();
    assert_eq!(go(&store, NOW).why, Some(Why::Quiet));
    store.set_setting("tell_times_a_day", "1").unwrap();
    assert_eq!(go(&store, later(60 * MINUTE)).told.len(), 1);
    for (animal, day) in [("98", 5), ("99", 5)] {
        let mut case = Case::new(AnimalId(animal.into()), date(2026, 3, day));
        case.medicine.milk_withdrawal_end = Some(date(2026, 3, 5));
        store.add_case(&case, NOW).unwrap();
    }
    let evening = later(11 * 60 * MINUTE);
    assert_eq!(go(&store, evening).why, None, "not over before midnight");
    let night = later(12 * 60 * MINUTE);
    assert_eq!(go(&store, night).told.len(), 2, "another day, both together");
    assert_eq!(std::fs::read_to_string(file).unwrap().matches("cannot wait").count(), 2);
}

#[test]
fn a_withdrawal_is_told_of_from_the_day_after_its_latest_end_for_a_week() {
    let store = farm();
    let of = |now| {
        let all = matters(&store, &Words::new(Language::English), now).unwrap();
        all.into_iter().map(|matter| matter.subject).collect::<Vec<_>>()
    };
    let days = |days: i64| later(days * 24 * 60 * MINUTE);
    assert_eq!(of(days(-1)), [""; 0], "its last day");
    assert_eq!(of(days(0)), ["412 milk 2026-03-04"]);
    assert_eq!((of(days(6)).len(), of(days(7)).len()), (1, 0));
    let mut again = Case::new(AnimalId("412".into()), date(2026, 3, 3));
    again.medicine.milk_withdrawal_end = Some(date(2026, 3, 9));
    store.add_case(&again, NOW).unwrap();
    assert_eq!(of(days(0)), [""; 0], "a later one goes on");
    assert_eq!(of(days(5)), ["412 milk 2026-03-09"]);
}
