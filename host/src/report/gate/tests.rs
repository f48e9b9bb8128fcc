use super::*;
use crate::case::rechecks::recheck::Recheck;
use crate::record::finding::RecheckReason;
use crate::record::gate::OUTCOMES;
use crate::record::mark::{Mark, Marked};
use crate::report::invented::{cow_day, last_seen, stance};
use crate::report::list::marks::Marks;
use crate::report::words::Language;
use jiff::civil::{date, time};
use jiff::tz::TimeZone;
use shared::wire::GateOutcome;

const TODAY: Date = date(2026, 11, 24);

fn animal(name: &str) -> AnimalId {
    AnimalId(name.into())
}

fn recheck(animal: &str, date: Date, look_for: LookFor) -> Recheck {
    Recheck {
        date,
        animal_id: animal.into(),
        leg: "RR",
        case: 1,
        look_for: vec![look_for],
        reason: RecheckReason::Planned,
        planned: None,
    }
}

/// An urgent cow, one to check, one with a dressing, two rechecks of which one is tomorrow's, one booked, one booked and sold.
fn farm() -> Farm {
    let mut farm = Farm::empty(TODAY);
    let rows =
        [("urgent", Flag::Urgent), ("check", Flag::Check), ("both", Flag::Urgent), ("booked", Flag::Clear)];
    farm.days = rows.map(|(name, flag)| cow_day(name, TODAY, flag)).into();
    farm.passages = rows.map(|(name, _)| stance(name, TODAY, [25.0; 4])).into();
    farm.last_seen = last_seen(&farm.passages);
    farm.rechecks = vec![
        recheck("dressed", TODAY, LookFor::DressingOff),
        recheck("again", TODAY, LookFor::BlockHeight),
        recheck("later", TODAY.tomorrow().unwrap(), LookFor::BlockHeight),
        recheck("both", TODAY, LookFor::BlockHeight),
        recheck("forgotten", date(2026, 10, 1), LookFor::BlockHeight),
    ];
    let mark = |name: &str, mark| Marked { date: TODAY, animal: animal(name), mark, who: String::new() };
    let marks = [mark("booked", Mark::Booked), mark("gone", Mark::Booked), mark("gone", Mark::Sold)];
    farm.marks =
        Marks::on(TODAY, &marks, &farm.last_seen, &[], |_, _| Ok::<_, ()>(None::<crate::record::CowDay>))
            .unwrap();
    farm
}

fn tags() -> BTreeMap<AnimalId, AnimalCode> {
    let names = ["hand", "urgent", "both", "dressed", "booked"];
    names.iter().zip(1..).map(|(name, n)| (animal(name), AnimalCode::new(999, n).unwrap())).collect()
}

fn hold(name: &str) -> Hold {
    Hold { animal: animal(name), until: TODAY, why: "stiff".into(), who: String::new() }
}

fn names(cows: &[ToHold]) -> Vec<&str> {
    cows.iter().map(|cow| cow.animal_id.0.as_str()).collect()
}

#[test]
fn the_most_pressing_come_first_and_each_once() {
    let cows = to_hold(Some(&farm()), &[hold("hand")], &HoldReason::ALL, &tags(), TODAY);
    assert_eq!(names(&cows), ["hand", "both", "urgent", "dressed", "again", "booked"]);
    assert_eq!(cows[1].reasons, [HoldReason::Urgent, HoldReason::Recheck]);
    assert_eq!((cows[0].why.as_str(), cows[0].tag.is_some(), cows[4].tag), ("stiff", true, None));
}

#[test]
fn only_reasons_that_the_farm_wants_count() {
    let cows = to_hold(Some(&farm()), &[hold("hand")], &[HoldReason::Dressing], &tags(), TODAY);
    assert_eq!(names(&cows), ["dressed"]);
    assert!(to_hold(Some(&farm()), &[hold("hand")], &[], &tags(), TODAY).is_empty());
    assert_eq!(names(&to_hold(None, &[hold("hand")], &HoldReason::ALL, &tags(), TODAY)), ["hand"]);
}

fn day(cows: Vec<ToHold>, outcomes: &[(&str, GateOutcome)]) -> GateDay {
    let event = |(name, outcome): &(&str, GateOutcome)| GateRecord {
        lane: "East".into(),
        time: Timestamp::UNIX_EPOCH,
        animal: animal(name),
        outcome: *outcome,
    };
    let from = Timestamp::UNIX_EPOCH;
    let window = Some(GateWindow { from, until: from + jiff::SignedDuration::from_hours(4) });
    GateDay { date: TODAY, window, most: 2, cows, events: outcomes.iter().map(event).collect() }
}

#[test]
fn a_gate_is_given_tags_alone_and_nobody_who_was_held_already() {
    let cows = to_hold(Some(&farm()), &[hold("hand")], &HoldReason::ALL, &tags(), TODAY);
    let national = |codes: &[AnimalCode]| codes.iter().map(|code| code.national()).collect::<Vec<_>>();
    let (codes, most) = day(cows.clone(), &[]).codes();
    assert_eq!((national(&codes), most), (vec![1, 3, 2, 4, 5], 2));
    let (codes, most) =
        day(cows.clone(), &[("urgent", GateOutcome::Held), ("both", GateOutcome::NameUnsure)]).codes();
    assert_eq!((national(&codes), most), (vec![1, 3, 4, 5], 1), "who was let by is still wanted");
    let all = [("urgent", GateOutcome::Held), ("both", GateOutcome::Held), ("hand", GateOutcome::Held)];
    assert_eq!(day(cows, &all).codes().1, 0);
}

#[test]
fn hours_are_those_of_the_farm_also_over_midnight() {
    let at = |hour, minute| TODAY.at(hour, minute, 0, 0);
    let (five, nine) = (time(5, 0, 0, 0), time(9, 0, 0, 0));
    assert_eq!(window(at(4, 59), five, nine), (at(5, 0), at(9, 0)));
    assert_eq!(window(at(8, 59), five, nine), (at(5, 0), at(9, 0)));
    let tomorrow = TODAY.tomorrow().unwrap();
    assert_eq!(window(at(9, 0), five, nine).0, tomorrow.at(5, 0, 0, 0));
    let (late, early) = (time(22, 0, 0, 0), time(2, 0, 0, 0));
    assert_eq!(window(at(1, 59), late, early).1, at(2, 0));
    assert_eq!(window(at(2, 0), late, early), (at(22, 0), tomorrow.at(2, 0, 0, 0)));
    let day = day(Vec::new(), &[]);
    let from = Timestamp::UNIX_EPOCH;
    let hours = |n| from + jiff::SignedDuration::from_hours(n);
    assert!(day.is_on(from) && day.is_on(hours(3)) && !day.is_on(hours(4)));
    assert!(!GateDay { window: None, ..day }.is_on(from));
}

#[test]
fn every_outcome_and_reason_has_words_in_every_language() {
    for language in [Language::English, Language::German] {
        let words = Words::new(language);
        for (_, name) in OUTCOMES {
            assert!(words.has(&format!("gate-outcome-{name}")), "{name}");
        }
        for reason in HoldReason::ALL {
            assert!(words.has(&format!("gate-reason-{}", reason.name())), "{reason:?}");
        }
    }
}

#[test]
fn what_is_printed_names_cows_reasons_gates_and_what_came() {
    let cows = to_hold(Some(&farm()), &[hold("hand")], &HoldReason::ALL, &tags(), TODAY);
    let gate = GateState {
        lane: "East".into(),
        heard: Some(Timestamp::UNIX_EPOCH),
        gate: true,
        listed: 5,
        in_force: true,
        table: true,
    };
    let none =
        GateState { lane: "West".into(), heard: None, gate: false, listed: 0, in_force: false, table: false };
    let words = Words::new(Language::English);
    let day = day(cows, &[("hand", GateOutcome::Held), ("both", GateOutcome::FirstPlates)]);
    let text = render(&day, &[gate, none], &Names::default(), &TimeZone::UTC, &words);
    for line in [
        "Held back on Thu 1 Jan 1970 from 00:00 to 04:00, 2 at most",
        "hand: by hand, stiff",
        "both: urgent, foot to be looked at again",
        "again: foot to be looked at again; no tag of 15 digits: no gate knows her",
        "Lane East: at 00:00 its gate had a list of 5 in force; it judges cows as they leave",
        "Lane West: nothing heard of its gate",
        "1970-01-01 00:00 hand: held back",
        "1970-01-01 00:00 both: let by: somebody stood on the first plates",
        "A gate that moves hurts cattle and people.",
    ] {
        assert!(text.replace("\n  ", " ").contains(line), "{line}\n{text}");
    }
    let closed = render(&GateDay { window: None, ..day }, &[], &Names::default(), &TimeZone::UTC, &words);
    assert!(closed.contains("Nobody is held back: the farm has said no hours"), "{closed}");
}
