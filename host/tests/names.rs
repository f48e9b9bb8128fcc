//! Runs the program on the recorded herd: cows by number, marks and what they change on the list.

use assert_cmd::Command;
use std::path::Path;

struct Farm(tempfile::TempDir);

impl Farm {
    fn recorded() -> Self {
        let farm = Self(tempfile::tempdir().unwrap());
        let recorded = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/recorded");
        for what in ["herd", "trims", "scores"] {
            assert_eq!(farm.run(&["import", what, &file(&recorded, &format!("{what}.csv"))]).0, 0);
        }
        assert_eq!(farm.run(&["import", "capture", &file(&recorded, "lane.capture")]).0, 0);
        for what in ["tags", "readings"] {
            let path = file(&recorded, &format!("{what}.csv"));
            assert_eq!(farm.run(&["import", what, "--lane", "exit", &path]).0, 0);
        }
        farm
    }

    /// Exit code, what was printed, what was said beside it.
    fn run(&self, words: &[&str]) -> (i32, String, String) {
        let mut command = Command::cargo_bin("fourplate").unwrap();
        let output =
            command.arg("--store").arg(self.0.path().join("store.sqlite")).args(words).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
    }

    fn list(&self) -> String {
        self.run(&["list", "--date", "2025-01-19"]).1
    }

    fn mark(&self, words: &[&str]) -> (i32, String, String) {
        self.run(&[&["mark"][..], words, &["--date", "2025-01-19"]].concat())
    }
}

fn file(folder: &Path, name: &str) -> String {
    folder.join(name).display().to_string()
}

#[test]
fn a_lane_tells_what_it_can_see() {
    let farm = Farm::recorded();
    let (code, text, _) = farm.run(&["lane", "check", "--until", "2025-01-19", "--days", "14"]);
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("of 8 known cows") && text.contains("hind leg standing, %"), "{text}");
    assert_eq!(farm.run(&["lane", "check", "--until", "2024-01-01"]).0, 5);
    assert_eq!(farm.run(&["lane", "check", "--lane", "another"]).0, 5);
    let (code, csv, _) = farm.run(&["--format", "csv", "lane", "check", "--by-month"]);
    assert_eq!((code, csv.lines().filter(|line| line.contains("body_weight")).count()), (0, 1), "{csv}");
}

#[test]
fn marks_move_cows_on_the_list() {
    let farm = Farm::recorded();
    // Eight cows at the usual price are a needless look in three months: 413 would only be watched.
    assert_eq!(farm.run(&["farm", "needless_looks=10"]).0, 0);
    assert!(farm.list().contains("To check today: 2"));
    assert_eq!(farm.mark(&["413", "looked"]).1, "413 (999000000000413): Looked, nothing, 2025-01-19.\n");
    assert_eq!(farm.mark(&["412", "looked"]).0, 0);
    let list = farm.list();
    assert!(list.contains("To check today: 1") && list.contains("412             URGENT"), "{list}");
    assert!(list.contains("left alone until they get worse: 413 LR"), "{list}");
    assert_eq!(farm.mark(&["413", "looked", "--undo"]).0, 0);
    assert!(farm.list().contains("To check today: 2"));
    assert_eq!(farm.mark(&["413", "booked"]).0, 0);
    assert_eq!(farm.mark(&["416", "dry"]).0, 0);
    assert_eq!(farm.mark(&["414", "sold"]).0, 0);
    let list = farm.list();
    assert!(list.contains("Booked for the trimmer: 413 LR") && list.contains("Dry: 416"), "{list}");
    assert!(!list.contains("414"), "a cow that is sold is on no list:\n{list}");
    assert!(list.contains("of 6 cows"), "{list}");
}

#[test]
fn a_cow_is_found_by_number_and_asked_about_where_two_fit() {
    let farm = Farm::recorded();
    let (code, text, _) = farm.run(&["cow", "412"]);
    assert!(code == 0 && text.starts_with("Cow 412 (999000000000412)"), "{text}");
    let (code, _, said) = farm.run(&["cow", "41"]);
    assert_eq!((code, said.as_str()), (5, "fourplate: nothing is known of an animal 41\n"));
    assert_eq!(farm.mark(&["41", "looked"]).0, 5);
    let two = farm.0.path().join("two.csv");
    std::fs::write(&two, "animal_id,number\n999000000000901,1412\n999000000000902,2412\n").unwrap();
    assert_eq!(farm.run(&["import", "herd", &two.display().to_string()]).0, 0);
    assert_eq!(farm.run(&["cow", "412"]).0, 0, "her own number comes before last digits");
    let two = farm.0.path().join("more.csv");
    std::fs::write(&two, "animal_id,number\n999000000000903,98\n999000000000904,98\n").unwrap();
    assert_eq!(farm.run(&["import", "herd", &two.display().to_string()]).0, 0);
    let (code, _, said) = farm.run(&["cow", "98"]);
    assert_eq!(code, 3);
    assert_eq!(said, "fourplate: 98 may be 98 (999000000000903), or 98 (999000000000904); say which\n");
}

#[test]
fn a_follow_up_finds_her_open_foot() {
    let farm = Farm::recorded();
    let (code, text, said) =
        farm.run(&["case", "follow", "415", "--course", "healed", "--date", "2025-01-17"]);
    assert_eq!((code, text.as_str()), (0, "Case 1, cow 415: look of 2025-01-17 entered.\n"), "{said}");
    assert_eq!(farm.run(&["case", "follow", "#9", "--course", "healed"]).0, 5);
    assert_eq!(farm.run(&["case", "follow", "416", "--course", "healed"]).0, 5, "she has no case");
}

#[test]
fn a_score_of_a_cow_that_nobody_knows_makes_no_animal() {
    let farm = Farm::recorded();
    let scores = farm.0.path().join("more.csv");
    std::fs::write(&scores, "date,animal_id,score\n2025-01-18,777,3\n").unwrap();
    let (code, _, said) = farm.run(&["import", "scores", &scores.display().to_string()]);
    assert!(code == 0 && said.contains("nobody here is called 777"), "{said}");
    let list = farm.list();
    assert!(list.contains("of 8 cows") && list.contains("Nobody here is called 777"), "{list}");
    let herd = farm.0.path().join("named.csv");
    std::fs::write(&herd, "animal_id,number\n999000000000416,777\n").unwrap();
    assert_eq!(farm.run(&["import", "herd", &herd.display().to_string()]).0, 0);
    assert!(!farm.list().contains("Nobody here"));
    assert!(farm.run(&["cow", "777", "--to", "2025-01-19"]).1.contains("scored 3"));
}

/// The middle of her clear days and nine in ten of them, worked out again from the days that the card prints.
#[test]
fn her_usual_shares_are_those_of_her_clear_days() {
    let farm = Farm::recorded();
    let (_, text, _) = farm.run(&["--format", "json", "cow", "417", "--to", "2025-01-19"]);
    let card: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mut clear: Vec<f64> = card["days"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|day| day["flag"] == "clear")
        .filter_map(|day| day["rr_share_pct"].as_f64())
        .collect();
    clear.sort_by(f64::total_cmp);
    assert_eq!((clear.len(), card["usual_days"].as_u64()), (11, Some(11)));
    // Eleven days: places 0.5, 5 and 9.5 from the lowest.
    for (name, value) in [
        ("usual_low_pct", 0.5 * (clear[0] + clear[1])),
        ("usual_share_pct", clear[5]),
        ("usual_high_pct", 0.5 * (clear[9] + clear[10])),
    ] {
        assert!((card[name]["rr"].as_f64().unwrap() - value).abs() < 1e-9, "{name}: {value} {}", card[name]);
    }
}

#[test]
fn a_day_that_is_still_to_come_is_refused() {
    let farm = Farm::recorded();
    for words in [&["list", "--date", "2125-01-01"][..], &["cow", "412", "--to", "2125-01-01"]] {
        let (code, _, said) = farm.run(words);
        assert_eq!((code, said.contains("2125-01-01 is still to come")), (2, true), "{words:?}: {said}");
    }
    assert_eq!(farm.run(&["list", "--date", "tomorrow"]).0, 0);
}
