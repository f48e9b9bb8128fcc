//! Animals, findings and work from files of other programs.

use super::*;
use jiff::Timestamp;

fn import(store: &Store, text: &str) -> Outcome {
    let input = Input::of("herd.json", Box::new(Cursor::new(text.to_owned())), None);
    super::import(store, input.at("2026-03-02T12:00:00Z".parse::<Timestamp>().unwrap())).unwrap()
}

fn cow(more: &str) -> String {
    format!(
        r#"{{"resourceType":"icarAnimalCoreResource","specie":"Cattle","gender":"Female",
            "identifier":{{"id":"372000000000412","scheme":"std.iso.11785"}}{more}}}"#
    )
}

#[test]
fn an_animal_comes_with_her_number_name_tags_and_state() {
    let store = Store::in_memory().unwrap();
    let more = r#","managementTag":"412","name":"Berta","lactationStatus":"Dry","alternativeIdentifiers":[
        {"id":"372000000000977","scheme":"std.iso.11785"},{"id":"x-1","scheme":"org.example"}]"#;
    let weight = r#"{"resourceType":"icarWeightEventResource"}"#;
    let outcome = import(&store, &format!(r#"{{"member":[{},{weight}]}}"#, cow(more)));
    assert_eq!((outcome.bad, outcome.problems.len()), (0, 0), "{:?}", outcome.problems);
    assert!(outcome.notes.iter().any(|note| note.starts_with("1 resources")), "{:?}", outcome.notes);
    let directory = store.directory().unwrap();
    let animal = store.wearer("372000000000977", None).unwrap().unwrap();
    assert_eq!(animal.0, "372000000000412");
    assert_eq!(directory.names.of(&animal).number, "412");
    assert_eq!(directory.names.of(&animal).name, "Berta");
    assert_eq!(store.marks(jiff::civil::Date::MAX).unwrap()[0].mark.name(), "dry");
    assert_eq!(import(&store, &format!("[{}]", cow(more))).added, 0, "nothing is new the second time");
}

#[test]
fn what_is_wrong_is_said_with_the_number_of_its_resource_and_the_rest_is_kept() {
    let store = Store::in_memory().unwrap();
    let bad = |from: &str, to: &str| cow("").replace(from, to);
    let all = [
        cow(r#","managementTag":"412""#),
        bad("372000000000412", "12"),
        bad(r#""id":"372000000000412","#, ""),
        bad(r#","scheme":"std.iso.11785""#, ""),
        bad("Cattle", "Sheep"),
        cow(r#","status":"Gone""#),
        cow(r#","lactationStatus":"Sometimes""#),
        cow(r#","name":7"#),
    ];
    let outcome = import(&store, &format!("[{}]", all.join(",")));
    assert_eq!((outcome.added, outcome.bad), (1, 7));
    let said: Vec<(u64, Option<&str>)> =
        outcome.problems.iter().map(|problem| (problem.line, problem.column)).collect();
    let columns = ["identifier", "identifier", "identifier", "specie", "status", "lactationStatus", "name"];
    assert_eq!(said, (2..).zip(columns.map(Some)).collect::<Vec<_>>());
    let outcome = import(&store, "{\"member\": [");
    assert_eq!((outcome.bad, outcome.problems[0].line), (1, 0));
    assert!(outcome.problems[0].what.starts_with("this is no JSON"), "{:?}", outcome.problems);
}

/// An event of cow 412 by another program, at a time of 1 March 2026.
fn event(kind: &str, more: &str) -> String {
    format!(
        r#"{{"resourceType":"{kind}","id":"x1","eventDateTime":"2026-03-01T10:00:00Z",
            "meta":{{"source":"org.example","sourceId":"x1","modified":"2026-03-01T10:00:00Z"}},
            "animal":{{"id":"372000000000412","scheme":"std.iso.11785"}}{more}}}"#
    )
}

fn found(more: &str) -> String {
    let one = format!(
        r#","responsible":"A. Vet","diagnoses":[{{"name":"Sole ulcer","site":"RR outer claw, zone 4",
            "severity":"Severe","severityScore":9,"positions":[{{"position":"LegsRearRight"}}]{more}}}]"#
    );
    event("icarDiagnosisEventResource", &one)
}

const WORK: &str = r#","procedure":"trim; block","site":"RR","positions":[{"position":"LegsRearRight"}],
    "withdrawals":[{"productType":"Milk","endDate":"2026-03-04T23:30:00Z"},{"productType":"Honey","endDate":"x"}]"#;

#[test]
fn a_finding_and_the_work_at_the_same_foot_are_one_case() {
    let store = Store::in_memory().unwrap();
    store.set_setting("time_zone", "Europe/Amsterdam").unwrap();
    let work = event("icarTreatmentEventResource", WORK);
    let all = format!("[{work},{}]", found(""));
    let outcome = import(&store, &all);
    assert_eq!((outcome.added, outcome.bad), (1, 0), "{:?}", outcome.problems);
    let case = store.cases(None).unwrap().remove(0).case;
    let fields =
        ["date", "leg", "claw", "lesion", "zone", "treatment", "severity", "milk_withdrawal_end", "who"];
    // Half past eleven at night, UTC, is the next day there.
    let told = ["2026-03-01", "RR", "outer", "SU", "4", "trim;block", "3", "2026-03-05", "A. Vet"];
    assert_eq!(fields.map(|field| case.field(field)), told);
    assert_eq!((import(&store, &all).added, import(&store, &all).already), (0, 1), "nothing is new again");
}

#[test]
fn what_is_of_no_leg_is_left_out_and_what_is_wrong_is_said() {
    let store = Store::in_memory().unwrap();
    let udder = WORK.replace("LegsRearRight", "UdderRearRight");
    let both = WORK.replace("[{\"position\"", "[{\"position\":\"LegsRearLeft\"},{\"position\"");
    let all = [
        event("icarTreatmentEventResource", &udder),
        event("icarTreatmentEventResource", &both),
        event("icarDiagnosisEventResource", r#","diagnoses":[{"name":"Mastitis"}]"#),
        found(r#","description":7"#),
        found("").replace("Severe", "Awful"),
        found("").replace("2026-03-01T10:00:00Z", "1 March"),
        found("").replace("std.iso.11785", ""),
        event("icarTreatmentEventResource", &WORK.replace("2026-03-04T23:30:00Z", "soon")),
        found("").replace("2026-03-01T10", "2026-03-09T10"),
    ];
    let outcome = import(&store, &format!("[{}]", all.join(",")));
    assert!(outcome.notes.iter().any(|note| note.starts_with("3 resources")), "{:?}", outcome.notes);
    let mut said: Vec<(u64, Option<&str>)> =
        outcome.problems.iter().map(|problem| (problem.line, problem.column)).collect();
    said.sort_unstable();
    let columns = ["description", "severity", "eventDateTime", "animal", "endDate", "date"];
    assert_eq!(said, (4..).zip(columns.map(Some)).collect::<Vec<_>>(), "the last is in the future");
    assert!(store.cases(None).unwrap().is_empty());
}
