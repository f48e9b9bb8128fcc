//! The export in ICAR ADE JSON, held against the schemas of the standard (tests/ade, Apache-2.0, a subset of 2024-02), and
//! stricter where these are lax: times in UTC with Z, every event with its time, source and place.

use jsonschema::{Registry, Validator};
use serde_json::Value;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use tests::program::{fourplate, invented_herd};

const BASE: &str = "https://ade.invalid/";

fn schemas() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("ade")
}

fn read(file: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap()
}

/// The schema of a resource, with all that it refers to.
fn schema(name: &str) -> Validator {
    let mut all = Registry::new();
    for folder in ["resources", "types", "enums"] {
        for entry in std::fs::read_dir(schemas().join(folder)).unwrap() {
            let file = entry.unwrap().path();
            let at = format!("{BASE}{folder}/{}", file.file_name().unwrap().to_str().unwrap());
            all = all.add(at, read(&file)).unwrap();
        }
    }
    let registry = all.prepare().unwrap();
    let whole = serde_json::json!({ "$ref": format!("{BASE}resources/{name}.json") });
    jsonschema::options().with_registry(&registry).build(&whole).unwrap()
}

/// Every time in a value ends with Z and is none of local time.
fn times(value: &Value, found: &mut usize) {
    match value {
        Value::Object(map) => {
            for (name, value) in map {
                if name.ends_with("DateTime") || name == "endDate" || name == "modified" {
                    let text = value.as_str().unwrap();
                    assert!(text.ends_with('Z') && text.parse::<jiff::Timestamp>().is_ok(), "{name}: {text}");
                    *found += 1;
                }
                times(value, found);
            }
        }
        Value::Array(all) => all.iter().for_each(|value| times(value, found)),
        _ => {}
    }
}

#[test]
fn what_is_exported_is_valid_and_says_when_where_and_from_whom() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("store");
    assert_eq!(fourplate(&store, &["farm", "time_zone=Europe/Dublin", "name=Hill farm"]).code, 0);
    invented_herd(folder.path(), &store, 60);
    let cow = "999000000000401";
    let case =
        ["case", "add", cow, "RR", "outer", "SU", "--zone", "4", "--severity", "2", "--block-claw", "inner"];
    let medicine = [
        "--milk-withdrawal-end",
        "2025-03-10",
        "--meat-withdrawal-end",
        "2025-03-20",
        "--date",
        "2025-03-01",
    ];
    let ran = fourplate(&store, &[&case[..], &medicine[..], &["--yes"]].concat());
    assert_eq!(ran.code, 0, "{}", ran.err);
    let mut all = HashMap::new();
    for (kind, resource, least) in [
        ("animals", "icarAnimalCoreResource", 60),
        ("weights", "icarWeightEventResource", 1000),
        ("attention-events", "icarAttentionEventResource", 3),
        ("diagnoses", "icarDiagnosisEventResource", 2),
        ("treatments", "icarTreatmentEventResource", 2),
    ] {
        let ran = fourplate(&store, &["export", "ade", kind]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        let found: Vec<Value> = serde_json::from_str(&ran.out).unwrap();
        assert!(found.len() >= least, "{kind}: {}", found.len());
        let schema = schema(resource);
        for one in &found {
            assert_eq!(one["resourceType"], resource);
            let wrong: Vec<String> = schema.iter_errors(one).map(|error| error.to_string()).collect();
            assert!(wrong.is_empty(), "{one}: {wrong:?}");
            assert_eq!(one["location"]["id"], "Hill farm");
            if kind != "animals" {
                let mut count = 0;
                times(one, &mut count);
                assert!(count >= 2, "{one}");
                assert!(
                    one["meta"]["sourceId"] == one["id"] && one["animal"]["scheme"] == "std.iso.11785",
                    "{one}"
                );
            }
        }
        all.insert(kind, found);
    }
    // Findings and work come back as one case each, with all that the standard has a place for; what has none is listed in
    // host/README.md.
    let feet = fourplate(&store, &["export", "ade", "feet"]);
    let back = folder.path().join("back");
    let file = folder.path().join("feet.json");
    std::fs::write(&file, &feet.out).unwrap();
    assert_eq!(fourplate(&back, &["farm", "time_zone=Europe/Dublin"]).code, 0);
    let ran = fourplate(&back, &["import", "ade", file.to_str().unwrap()]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let carried = |store: &Path| {
        let cases: Vec<Value> =
            serde_json::from_str(&fourplate(store, &["export", "cases", "--format", "json"]).out).unwrap();
        let fields = [
            "date",
            "animal_id",
            "leg",
            "claw",
            "lesion",
            "zone",
            "treatment",
            "block_claw",
            "note",
            "dd_stage",
            "severity",
            "milk_withdrawal_end",
            "meat_withdrawal_end",
            "who",
        ];
        let mut rows: Vec<String> =
            cases.iter().map(|case| fields.map(|field| case[field].to_string()).join(" ")).collect();
        rows.sort();
        rows
    };
    assert!(carried(&store).len() >= 2 && carried(&store) == carried(&back), "{:?}", carried(&back));
    // Weights come back with their lane and moment, flags of ours are no news, and a device stays as it was described.
    let exported = |store: &Path, kind: &str| -> Vec<Value> {
        serde_json::from_str(&fourplate(store, &["export", "ade", kind]).out).unwrap()
    };
    let described =
        serde_json::json!({ "resourceType": "icarDeviceResource", "id": "d-1", "name": "collar" });
    for (kind, more) in [("weights", None), ("attention-events", None), ("devices", Some(described.clone()))]
    {
        let mut resources = exported(&store, kind);
        resources.extend(more);
        std::fs::write(&file, serde_json::to_string(&resources).unwrap()).unwrap();
        let ran = fourplate(&back, &["import", "ade", file.to_str().unwrap(), "--format", "json"]);
        assert_eq!(ran.code, 0, "{kind} {}{}", ran.out, ran.err);
        let again = fourplate(&back, &["import", "ade", file.to_str().unwrap(), "--format", "json"]);
        let said: Value = serde_json::from_str(&again.out).unwrap();
        assert_eq!(said[0]["added"].as_u64(), Some(0), "{kind} {}", again.out);
    }
    let named = |all: Vec<Value>| {
        let mut all: Vec<String> = all
            .into_iter()
            .map(|mut one| {
                one["location"] = Value::Null;
                one.to_string()
            })
            .collect();
        all.sort();
        all
    };
    assert!(named(exported(&back, "weights")) == named(exported(&store, "weights")));
    let devices = exported(&back, "devices");
    assert_eq!(devices.last(), Some(&described));
    let valid = schema("icarDeviceResource");
    assert!(devices.iter().all(|device| valid.is_valid(device)));
    let ran = fourplate(&store, &["import", "ade", file.to_str().unwrap()]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    std::fs::write(&file, &feet.out).unwrap();
    // In the store that they came from nothing is new.
    let ran = fourplate(&store, &["import", "ade", file.to_str().unwrap(), "--format", "json"]);
    let said: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((ran.code, said[0]["added"].as_u64()), (0, Some(0)), "{}", ran.out);
    // Animals come back as they went, where the calvings and marks have no place in the standard.
    let (other, file) = (folder.path().join("other"), folder.path().join("animals.json"));
    std::fs::write(&file, serde_json::to_string(&all["animals"]).unwrap()).unwrap();
    let ran = fourplate(&other, &["farm", "name=Hill farm"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let ran = fourplate(&other, &["import", "ade", file.to_str().unwrap()]);
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    let again: Vec<Value> =
        serde_json::from_str(&fourplate(&other, &["export", "ade", "animals"]).out).unwrap();
    assert_eq!(again, all["animals"]);
    let hers = |kind: &str| {
        all[kind]
            .iter()
            .rev()
            .find(|one| one["animal"]["id"] == cow)
            .unwrap_or_else(|| panic!("{kind}"))
            .clone()
    };
    let found = &hers("diagnoses")["diagnoses"][0];
    assert_eq!(found["diagnosisCode"]["id"], "SU");
    assert_eq!(found["site"], "RR outer claw, zone 4");
    assert_eq!((&found["severity"], &found["severityScore"]), (&"Moderate".into(), &2.into()));
    assert_eq!(found["positions"][0]["position"], "LegsRearRight");
    let work = all["treatments"]
        .iter()
        .find(|one| one["animal"]["id"] == cow && one["withdrawals"].is_array())
        .unwrap();
    // The last second of a day in Dublin, in winter.
    assert_eq!(
        work["withdrawals"][0],
        serde_json::json!({ "productType": "Milk", "endDate": "2025-03-10T23:59:59Z" })
    );
    assert!(!work.to_string().contains("dose"));
    // The schemas would notice: a wrong unit, no animal.
    let mut wrong = all["weights"][0].clone();
    wrong["weight"]["units"] = "kg".into();
    assert!(!schema("icarWeightEventResource").is_valid(&wrong));
    wrong.as_object_mut().unwrap().remove("animal");
    assert!(!schema("icarWeightEventResource").is_valid(&wrong));
}

#[test]
fn the_calendar_names_a_day_the_same_way_each_time() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("store");
    let passages = folder.path().join("passages.csv");
    let text = "time,animal_id,kind,body_weight_kg,lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct\n\
                2026-03-02T06:00:00Z,999000000000412,stance,600,27,27,23,23\n";
    std::fs::write(&passages, text).unwrap();
    assert_eq!(fourplate(&store, &["import", "passages", passages.to_str().unwrap()]).code, 0);
    let case = [
        "case",
        "add",
        "412",
        "LR",
        "outer",
        "SU",
        "--date",
        "2026-03-02",
        "--milk-withdrawal-end",
        "2026-03-09",
    ];
    assert_eq!(
        fourplate(&store, &[&case[..], &["--meat-withdrawal-end", "2026-03-30", "--yes"]].concat()).code,
        0
    );
    let calendar = || fourplate(&store, &["export", "calendar"]).out;
    let lines = |text: String| -> Vec<String> {
        text.lines()
            .filter(|line| !line.starts_with("DTSTAMP"))
            .map(|line| line.trim_end().to_owned())
            .collect()
    };
    let (first, again) = (lines(calendar()), lines(calendar()));
    assert_eq!(first, again);
    assert_eq!(first[0], "BEGIN:VCALENDAR");
    assert_eq!(first.iter().filter(|line| *line == "BEGIN:VEVENT").count(), 3);
    // Five weeks after the work (the farm's setting), and the withdrawals as entered.
    for day in ["20260406", "20260309", "20260330"] {
        assert!(first.contains(&format!("DTSTART;VALUE=DATE:{day}")), "{first:?}");
    }
}
