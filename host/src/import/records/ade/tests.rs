//! Animals, findings and work from files of other programs.

use super::*;
use jiff::Timestamp;
use shared::analysis::PassageKind;

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
    let milk = r#"{"resourceType":"icarMilkingVisitEventResource"}"#;
    let outcome = import(&store, &format!(r#"{{"member":[{},{milk}]}}"#, cow(more)));
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

const HERS: &str = r#""animal":{"id":"372000000000412","scheme":"std.iso.11785"}"#;

fn weight(more: &str, weight: &str) -> String {
    format!(
        r#"{{"resourceType":"icarWeightEventResource","id":"w-1","eventDateTime":"2026-03-01T06:00:00Z",
            {HERS},"weight":{weight}{more}}}"#
    )
}

#[test]
fn a_weight_is_a_passage_that_is_never_scored() {
    let store = Store::in_memory().unwrap();
    let device = r#","device":{"identifier":{"id":"gate","scheme":"org.example"}}"#;
    let all = [
        weight(device, r#"{"measurement":640.5,"units":"KGM","method":"WalkOver"}"#),
        weight("", r#"{"measurement":1400,"units":"LBR"}"#),
        weight(r#","device":{"serial":"s-7"}"#, r#"{"measurement":0.65,"units":"TNE","method":"LoadCell"}"#),
        weight(r#","device":{"serial":"s-8"}"#, r#"{"measurement":640000,"units":"GRM"}"#),
        // Guessed, not weighed.
        weight("", r#"{"measurement":600,"method":"Girth"}"#),
    ];
    let outcome = import(&store, &format!("[{}]", all.join(",")));
    assert_eq!((outcome.added, outcome.bad), (4, 0), "{:?}", outcome.problems);
    let mut found: Vec<_> = store
        .passages(&crate::store::PassageFilter::default())
        .unwrap()
        .into_iter()
        .map(|passage| (passage.lane, passage.summary.body_weight.unwrap().value, passage.summary.kind))
        .collect();
    found.sort_by(|a, b| a.0.cmp(&b.0));
    let kinds = [PassageKind::WalkThrough, PassageKind::Unclear, PassageKind::Unclear, PassageKind::Unclear];
    let wanted = [("gate", 640.5), ("s-7", 650.0), ("s-8", 640.0), ("scale", 635.029)];
    for (found, ((lane, kg), kind)) in found.iter().zip(wanted.into_iter().zip(kinds)) {
        assert_eq!((found.0.as_str(), found.1, found.2), (lane, kg, kind));
    }
    let rows = crate::score::days(
        &store.passages(&crate::store::PassageFilter::default()).unwrap(),
        &[],
        &[],
        &[],
        &crate::score::ScoreSettings::default(),
    );
    assert!(
        rows.iter().all(|row| row.probability.is_none() && row.flag < crate::record::Flag::Clear),
        "{rows:?}"
    );
    assert_eq!(import(&store, &format!("[{}]", all.join(","))).added, 0);
}

#[test]
fn a_weight_that_cannot_be_read_is_refused() {
    let store = Store::in_memory().unwrap();
    let good = weight("", r#"{"measurement":640}"#);
    let all = [
        good.replace(r#""measurement":640"#, r#""units":"KGM""#),
        good.replace(r#"{"measurement":640}"#, r#"{"measurement":640,"units":"PN"}"#),
        good.replace("06:00:00Z", "06:00:00+01:00"),
        good.replace("2026-03-01T", "soon "),
        good.replace("372000000000412", "12"),
    ];
    let outcome = import(&store, &format!("[{}]", all.join(",")));
    assert_eq!((outcome.added, outcome.bad), (0, 5));
    let columns: Vec<Option<&str>> = outcome.problems.iter().map(|problem| problem.column).collect();
    let wanted = ["weight", "weight", "eventDateTime", "eventDateTime", "animal"];
    assert_eq!(columns, wanted.map(Some));
}

fn attention(causes: &str, more: &str) -> String {
    format!(
        r#"{{"resourceType":"icarAttentionEventResource","eventDateTime":"2026-03-01T23:30:00Z",{HERS},
            "category":"Health","causes":{causes},"meta":{{"source":"org.example"}}{more}}}"#
    )
}

#[test]
fn attention_to_lameness_is_a_mark_of_the_farms_day() {
    let store = Store::in_memory().unwrap();
    store.set_setting("time_zone", "Europe/Berlin").unwrap();
    let all = [
        attention(r#"["Activity","Lameness"]"#, ""),
        attention(r#"["Mastitis"]"#, ""),
        attention(r#"["Lameness"]"#, "").replace("org.example", SOURCE),
        attention("7", ""),
    ];
    let outcome = import(&store, &format!("[{}]", all.join(",")));
    assert_eq!((outcome.added, outcome.already, outcome.bad), (1, 1, 1), "{:?}", outcome.problems);
    assert!(outcome.notes.iter().any(|note| note.starts_with("1 resources")), "{:?}", outcome.notes);
    let marks = store.marks(jiff::civil::Date::MAX).unwrap();
    assert_eq!((marks.len(), marks[0].mark.name(), marks[0].who.as_str()), (1, "told", "org.example"));
    // Half past eleven in the evening, UTC, is the next day in Berlin.
    assert_eq!(marks[0].date, jiff::civil::date(2026, 3, 2));
    let person = attention(r#"["Lameness"]"#, r#","responsible":"Ann""#).replace("-01T", "-05T");
    import(&store, &person);
    assert_eq!(store.marks(jiff::civil::Date::MAX).unwrap().len(), 1, "a day later than now");
    let person =
        attention(r#"["Lameness"]"#, r#","responsible":"Ann""#).replace("2026-03-01T23", "2026-02-01T23");
    import(&store, &person);
    assert_eq!(store.marks(jiff::civil::Date::MAX).unwrap()[0].who, "Ann");
}

#[test]
fn a_device_is_kept_as_it_is_described_until_its_import_is_taken_back() {
    let store = Store::in_memory().unwrap();
    let device = |version: &str| {
        format!(
            r#"{{"id":"d-1","name":"collar, left","resourceType":"icarDeviceResource","softwareVersion":"{version}"}}"#
        )
    };
    assert_eq!(import(&store, &device("1")).added, 1);
    assert_eq!(import(&store, &device("1")).added, 0);
    let newer = import(&store, &device("2"));
    assert_eq!(newer.added, 1);
    let kept: Vec<Value> =
        store.other_devices().unwrap().iter().map(|text| serde_json::from_str(text).unwrap()).collect();
    assert_eq!(kept, [serde_json::from_str::<Value>(&device("2")).unwrap()]);
    let last = store.sources().unwrap().iter().map(|source| source.id.0).max().unwrap();
    let now: Timestamp = "2026-03-02T12:00:00Z".parse().unwrap();
    store.take_back(crate::store::SourceId(last), now).unwrap().unwrap();
    assert!(store.other_devices().unwrap()[0].contains(r#""softwareVersion":"1""#));
    assert_eq!(import(&store, r#"{"resourceType":"icarDeviceResource"}"#).bad, 1);
}
