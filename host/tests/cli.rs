//! Runs the program: bad input, repeated and killed imports, refused stores, width and colour.

use assert_cmd::Command;
use std::{
    fmt::Write as _,
    fs,
    path::{Path, PathBuf},
};

const DONE: i32 = 0;
const USAGE: i32 = 2;
const BAD_INPUT: i32 = 3;
const STORE: i32 = 4;
const NOT_FOUND: i32 = 5;

struct Farm {
    folder: tempfile::TempDir,
}

struct Ran {
    code: i32,
    out: String,
    err: String,
}

impl Farm {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        fs::write(self.path(name), bytes).unwrap();
        self.path(name)
    }

    fn run_in(&self, store: &Path, words: &[&str], files: &[&Path]) -> Ran {
        let mut command = Command::cargo_bin("fourplate").unwrap();
        command.arg("--store").arg(store).args(words).args(files);
        let output = command.output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        Ran { code: output.status.code().unwrap(), out: text(output.stdout), err: text(output.stderr) }
    }

    fn run(&self, words: &[&str], files: &[&Path]) -> Ran {
        self.run_in(&self.path("store.sqlite"), words, files)
    }
}

/// Readings at 50 Hz: cows of 600 kg that stand four seconds every twenty.
fn readings(cows: usize) -> String {
    let mut text = "time,lf,rf,lr,rr\n".to_owned();
    for row in 0..cows * 1000 + 500 {
        let on = (500..700).contains(&(row % 1000)) && row / 1000 < cows;
        let wave = if row % 2 == 0 { 0.2 } else { -0.2 };
        let [lf, rf, lr, rr] = if on { [160.0, 155.0, 145.0, 140.0] } else { [0.0; 4] };
        let time = 1_769_839_200.0 + row as f64 / 50.0;
        writeln!(text, "{time:.2},{:.1},{:.1},{:.1},{:.1}", lf + wave, rf - wave, lr + wave, rr).unwrap();
    }
    text
}

#[test]
fn every_bad_file_is_said_and_its_good_part_kept() {
    let farm = Farm::new();
    let good = "2026-01-31T06:00:00Z,412\n";
    let cases: [(&str, Vec<u8>, &[&str]); 11] = [
        ("missing.csv", b"time\n".to_vec(), &["line 1", "column animal_id"]),
        ("misspelt.csv", format!("time,animalid\n{good}").into_bytes(), &["line 1", "is it `animalid`"]),
        ("empty.csv", Vec::new(), &["empty"]),
        ("packed.csv", b"PK\x03\x04".to_vec(), &["spreadsheet"]),
        ("cut.csv", format!("time,animal_id\n{good}2026-01-31T06").into_bytes(), &["line 3", "middle"]),
        (
            "zero.csv",
            format!("time,animal_id\n{good}2026-01-31T06:00:01Z,000000000000001\n").into_bytes(),
            &["line 3, column animal_id", "country 000"],
        ),
        (
            "large.csv",
            format!("time,animal_id\n{good}2026-01-31T06:00:01Z,276274877906944\n").into_bytes(),
            &["line 3, column animal_id", "274877906943"],
        ),
        (
            "word.csv",
            format!("time,animal_id\n{good}noon,7\n").into_bytes(),
            &["line 3, column time", "no time"],
        ),
        ("nan.csv", format!("time,animal_id\n{good}nan,7\n").into_bytes(), &["line 3, column time"]),
        ("semi.csv", b"time;animal\n".to_vec(), &["column animal_id", "the header lacks it"]),
        (
            "mixed.csv",
            format!("\u{feff}time,animal_id\r\n{good}x,1\r").into_bytes(),
            &["line 3, column time"],
        ),
    ];
    for (name, bytes, said) in cases {
        let path = farm.file(name, bytes);
        let ran = farm.run(&["import", "tags"], &[&path]);
        assert_eq!(ran.code, BAD_INPUT, "{name}: {}", ran.err);
        for words in said.iter().chain([&name]) {
            assert!(ran.err.contains(words), "{name}: `{words}` is not in {}", ran.err);
        }
    }
    let again = farm.file("good.csv", format!("time,animal_id\n{good}"));
    let ran = farm.run(&["import", "tags"], &[&again]);
    assert!(ran.out.contains("0 tag reads added, 1 already"), "{}", ran.out);
    assert_eq!(ran.code, DONE);
    let ran = farm.run(&["import", "tags"], &[&farm.path("nowhere.csv")]);
    assert_eq!(ran.code, BAD_INPUT);
}

#[test]
fn twice_adds_nothing_and_the_table_comes_back_to_the_byte() {
    let farm = Farm::new();
    let file = farm.file("readings.csv", readings(4));
    let first = farm.run(&["import", "readings"], &[&file]);
    assert!(first.out.contains("4 passages added, 0 already"), "{}{}", first.out, first.err);
    let tags = farm.file("tags.csv", "time,animal_id\n1769839209.2,412\n");
    assert_eq!(farm.run(&["import", "tags"], &[&tags]).code, DONE);
    let second = farm.run(&["import", "readings"], &[&file]);
    assert!(second.out.contains("0 passages added, 4 already"), "{}", second.out);

    let table = farm.run(&["export", "passages"], &[]).out;
    assert!(table.contains("tag read 0.8 s before first foot"), "{table}");
    let exported = farm.file("passages.csv", &table);
    let other = farm.path("other.sqlite");
    assert_eq!(farm.run_in(&other, &["import", "passages"], &[&exported]).code, DONE);
    assert_eq!(farm.run_in(&other, &["export", "passages"], &[]).out, table);
    let again = farm.run_in(&other, &["import", "passages"], &[&exported]);
    assert!(again.out.contains("0 passages added, 4 already"), "{}", again.out);
    let json = farm.run(&["export", "passages", "--format", "json"], &[]).out;
    let rows: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(rows.as_array().unwrap().len(), 4);
    assert!(rows[0]["body_weight_kg"].as_f64().is_some_and(|kg| (kg - 600.0).abs() < 5.0), "{rows}");
}

#[test]
fn a_killed_import_is_completed_by_running_it_again() {
    let farm = Farm::new();
    let text = readings(300);
    let file = farm.file("readings.csv", &text);
    let whole = farm.path("whole.sqlite");
    assert_eq!(farm.run_in(&whole, &["import", "readings"], &[&file]).code, DONE);

    // The child is killed while it waits for more of a file of which it has read and stored the first part.
    let store = farm.path("store.sqlite");
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_fourplate"))
        .arg("--store")
        .arg(&store)
        .args(["import", "readings", "-"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    std::io::Write::write_all(&mut pipe, &text.as_bytes()[..text.len() * 3 / 4]).unwrap();
    child.kill().unwrap();
    child.wait().unwrap();
    drop(pipe);

    let table = |store: &Path| farm.run_in(store, &["export", "passages"], &[]).out;
    let rows = table(&store).lines().count();
    assert!((2..300).contains(&rows), "{rows} rows before the import was run again");
    assert_eq!(farm.run(&["import", "readings"], &[&file]).code, DONE);
    assert_eq!(table(&whole).lines().count(), 301);
    assert_eq!(table(&store), table(&whole));
}

#[test]
fn stores_that_cannot_be_used_are_said() {
    let farm = Farm::new();
    let text = farm.file("text", "x".repeat(5000));
    let ran = farm.run_in(&text, &["farm"], &[]);
    assert_eq!(ran.code, STORE);
    assert!(ran.err.contains("not a fourplate store"), "{}", ran.err);
    let below = text.join("store.sqlite");
    let ran = farm.run_in(&below, &["farm"], &[]);
    assert_eq!(ran.code, STORE);
    assert!(ran.err.contains("cannot be opened"), "{}", ran.err);
}

#[test]
fn a_full_disk_keeps_what_was_stored_and_the_same_command_completes_it() {
    let farm = Farm::new();
    let file = farm.file("readings.csv", readings(900));
    let store = farm.path("store.sqlite");
    // The largest file the child may write, in blocks of the shell; the signal that comes with it is ignored, so that
    // the write fails as on a full disk.
    let limited = "trap '' XFSZ; ulimit -f 512; exec \"$0\" \"$@\"";
    let output = std::process::Command::new("sh")
        .args(["-c", limited, env!("CARGO_BIN_EXE_fourplate"), "--store"])
        .arg(&store)
        .args(["import", "readings"])
        .arg(&file)
        .output()
        .unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(STORE), "{said}");
    assert!(said.contains("full") && said.contains("run the same command again"), "{said}");

    let rows = || farm.run(&["export", "passages"], &[]).out.lines().count();
    assert!((2..901).contains(&rows()), "{} rows", rows());
    assert_eq!(farm.run(&["import", "readings"], &[&file]).code, DONE);
    assert_eq!(rows(), 901);
}

/// A few bytes are still on their way when all is written: their loss is told too.
#[test]
#[cfg(target_os = "linux")]
fn no_export_to_a_full_disk_ends_well() {
    let farm = Farm::new();
    let table = "animal_id,time,body_weight_kg,lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct,standing_s\n\
        1,2026-03-01T06:00:00Z,640,27,27,23,23,9\n2,2026-03-01T06:01:00Z,640,27,27,23,23,9\n";
    let file = farm.file("passages.csv", table);
    assert_eq!(farm.run(&["import", "passages"], &[&file]).code, DONE);
    let kinds = ["passages", "cases", "follow-ups", "days", "history", "calendar"];
    let kinds = kinds.map(|kind| vec![kind]).into_iter().chain([vec!["ade", "weights"]]);
    for kind in kinds {
        for format in ["csv", "json"] {
            let words = [&["export"], &kind[..], &["--format", format, "-o", "/dev/full"]].concat();
            let ran = farm.run(&words, &[]);
            assert_eq!(ran.code, 1, "{words:?}: {}", ran.err);
            assert!(ran.err.contains("No space left"), "{words:?}: {}", ran.err);
        }
    }
}

#[test]
fn a_store_of_a_later_fourplate_is_left_alone() {
    let farm = Farm::new();
    assert_eq!(farm.run(&["farm"], &[]).code, DONE);
    let store = farm.path("store.sqlite");
    rusqlite::Connection::open(&store).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let before = fs::read(&store).unwrap();
    let ran = farm.run(&["farm", "time_zone=Europe/Amsterdam"], &[]);
    assert_eq!(ran.code, STORE);
    assert!(ran.err.contains("schema 99") && ran.err.contains("update fourplate"), "{}", ran.err);
    assert_eq!(fs::read(&store).unwrap(), before);
}

#[test]
fn settings_are_checked_and_everything_fits() {
    let farm = Farm::new();
    let ran = farm.run(&["farm", "time_zone=Europe/Amsterdam"], &[]);
    assert_eq!(ran.code, DONE);
    assert!(ran.out.contains("Europe/Amsterdam"));
    assert!(!ran.out.contains('\u{1b}'), "colour where there is no terminal");
    assert!(ran.out.lines().all(|line| line.chars().count() <= 80), "{}", ran.out);
    let ran = farm.run(&["farm", "time_zone=Mars"], &[]);
    assert_eq!(ran.code, USAGE);
    assert!(ran.err.contains("IANA"), "{}", ran.err);
}

#[test]
fn a_store_that_is_not_there_is_told_and_none_is_made() {
    let farm = Farm::new();
    for words in [
        &["list"][..],
        &["recheck"],
        &["outcomes"],
        &["export", "cases"],
        &["case", "list"],
        &["import", "list"],
    ] {
        let ran = farm.run(words, &[]);
        assert_eq!(ran.code, NOT_FOUND, "{words:?}: {}", ran.err);
        assert!(ran.err.contains("there is no store at"), "{words:?}: {}", ran.err);
    }
    assert!(!farm.path("store.sqlite").exists());
}

#[test]
fn a_backup_is_put_back_only_where_that_was_said() {
    let farm = Farm::new();
    let copy = farm.path("copy.sqlite");
    let name = |value: &str| assert_eq!(farm.run(&["farm", &format!("name={value}")], &[]).code, DONE);
    name("before");
    let backup = farm.run(&["backup"], &[&copy]);
    assert_eq!(backup.code, DONE, "{}", backup.err);
    assert_eq!(farm.run(&["backup"], &[&copy]).code, STORE, "no backup is written over");
    name("after");
    assert_eq!(farm.run(&["restore"], &[&copy]).code, USAGE);
    let restored = farm.run(&["restore", "--replace"], &[&copy]);
    assert!(restored.code == DONE && restored.out.contains("kept as"), "{}{}", restored.out, restored.err);
    assert!(farm.run(&["farm"], &[]).out.contains("before"));
    assert_eq!(farm.run(&["restore", "--replace"], &[&farm.file("no.sqlite", "no store")]).code, STORE);
    assert!(farm.run(&["farm"], &[]).out.contains("before"), "nothing moved");
}
