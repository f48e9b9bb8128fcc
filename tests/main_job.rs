//! The main job against the demo's truth: plate readings in, passages out, held against what the herd really did.
//!
//! `cargo test -p tests --test main_job -- --show-output` prints the figures.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use std::{collections::HashMap, fs, path::Path, process::Command};

type Row = HashMap<String, String>;

fn run(program: &str, arguments: &[&str]) {
    let folder = std::env::current_exe().expect("this test's path");
    let folder = folder.parent().and_then(Path::parent).expect("the target folder");
    let program = folder.join(program);
    assert!(program.exists(), "{} is not built: cargo build --workspace first", program.display());
    let done = Command::new(program).args(arguments).output().expect("the program starts");
    assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
}

fn table(path: &Path) -> Vec<Row> {
    let text = fs::read_to_string(path).expect("table");
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().expect("header").split(',').collect();
    let row =
        |line: &str| header.iter().map(|&h| h.to_owned()).zip(line.split(',').map(str::to_owned)).collect();
    lines.map(row).collect()
}

fn number(row: &Row, column: &str) -> Option<f64> {
    row[column].parse().ok()
}

fn millis(time: &str) -> i64 {
    time.parse::<jiff::Timestamp>().expect("RFC 3339").as_millisecond()
}

/// Median and 95th percentile of the absolute values.
fn spread(mut errors: Vec<f64>) -> (f64, f64) {
    errors.iter_mut().for_each(|e| *e = e.abs());
    errors.sort_by(f64::total_cmp);
    (errors[errors.len() / 2], errors[errors.len() * 95 / 100])
}

#[test]
fn passages_weights_shares_and_names_agree_with_the_truth() {
    let folder = tempfile::tempdir().expect("temporary folder");
    let path = |name: &str| folder.path().join(name).display().to_string();
    let herd = path("herd");
    run("demo", &["herd", "--out", &herd, "--cows", "30", "--days", "6", "--seed", "4", "--rate", "100"]);
    let store = path("store.sqlite");
    for kind in ["readings", "tags"] {
        run("fourplate", &["import", kind, &format!("{herd}/{kind}.csv"), "--store", &store]);
    }
    run("fourplate", &["export", "passages", "-o", &path("passages.csv"), "--store", &store]);

    let found = table(&folder.path().join("passages.csv"));
    let truth = table(&Path::new(&herd).join("truth_passages.csv"));
    let (mut clean, mut hit, mut named, mut misnamed) = (0, 0, 0, 0);
    let (mut weight, mut share) = (Vec::new(), Vec::new());
    let (mut spoilt, mut trusted_spoilt, mut on_edge) = (0, 0, 0);
    for real in &truth {
        let (start, end) = (millis(&real["start"]), millis(&real["end"]));
        let passage = found.iter().find(|p| {
            let from = millis(&p["time"]);
            let length = 1000.0 * number(p, "duration_s").expect("duration");
            from < end && from + length as i64 > start
        });
        match real["problem"].as_str() {
            "" if real["kind"] == "unclear" => {
                on_edge += 1;
                continue;
            }
            "" => {}
            "two_cows" | "foot_across" | "saturated" | "stuck_plate" | "calf" | "person" | "backed_out" => {
                spoilt += 1;
                trusted_spoilt += i32::from(passage.is_some_and(|p| p["quality"] != "unusable"));
                continue;
            }
            _ => continue,
        }
        clean += 1;
        let Some(passage) = passage.filter(|p| p["quality"] != "unusable") else { continue };
        hit += i32::from(passage["kind"] == real["kind"]);
        named += i32::from(passage["animal_id"] == real["animal_id"]);
        misnamed += i32::from(!passage["animal_id"].is_empty() && passage["animal_id"] != real["animal_id"]);
        weight.extend(
            number(passage, "body_weight_kg").zip(number(real, "body_weight_kg")).map(|(a, b)| a - b),
        );
        for leg in ["lf", "rf", "lr", "rr"] {
            let column = format!("{leg}_share_pct");
            share.extend(number(passage, &column).zip(number(real, &column)).map(|(a, b)| a - b));
        }
    }
    let bytes = fs::metadata(&store).expect("store").len();
    let (weight_median, weight_high) = spread(weight);
    let (share_median, share_high) = spread(share);
    println!("sound passages {clean}, found with the right kind {hit}; all found {}", found.len());
    println!("walked with a print across plates, or without one for each leg: {on_edge}, not judged here");
    println!("named {named}, wrongly named {misnamed}; spoilt {spoilt}, of them trusted {trusted_spoilt}");
    println!("body weight error, kg: median {weight_median:.2}, 95 % below {weight_high:.2}");
    println!("leg share error, points of body weight: median {share_median:.2}, 95 % below {share_high:.2}");
    println!("store, bytes a passage with its trace at 100 Hz: {}", bytes / found.len() as u64);

    assert!(clean > 250, "too few passages to tell");
    assert!(hit * 100 >= clean * 98, "{hit} of {clean} sound passages found");
    assert_eq!(misnamed, 0);
    assert!(named * 100 >= clean * 95, "{named} of {clean} named");
    assert!(trusted_spoilt * 10 <= spoilt, "{trusted_spoilt} of {spoilt} spoilt passages were trusted");
    assert!(weight_median < 1.0 && weight_high < 6.0, "body weight: {weight_median} and {weight_high} kg");
    assert!(share_median < 0.5 && share_high < 2.5, "leg share: {share_median} and {share_high} points");
    assert!(bytes / (found.len() as u64) < 12_000);
}
