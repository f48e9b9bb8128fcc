//! What runs on a farm's machines: the units of the Debian package, and the program for a small arm board.

use std::path::{Path, PathBuf};
use std::process::Command;
use tests::program::path;

/// Most exposure that a unit may have, in tenths; systemd calls 2.0 the end of what is safe.
const MOST_EXPOSURE: &str = "20";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

#[test]
fn the_units_are_whole_and_hold_the_program_in() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in ["fourplate-listen.service", "fourplate-serve.service", "fourplate-tell.service"] {
        let unit = std::fs::read_to_string(root().join("host/packaging").join(name)).expect("a unit");
        assert!(unit.contains("/usr/bin/fourplate --store /var/lib/fourplate/"), "{unit}");
        let at = folder.path().join(name);
        let here = path("fourplate").display().to_string();
        std::fs::write(&at, unit.replace("/usr/bin/fourplate", &here)).expect("written");
        let run = |words: &[&str]| {
            let output =
                Command::new("systemd-analyze").args(words).arg(&at).output().expect("tests/setup was run");
            let said = String::from_utf8_lossy(&output.stderr).into_owned();
            let mine: Vec<&str> = said.lines().filter(|line| line.contains("fourplate")).collect();
            assert!(output.status.success() && mine.is_empty(), "{words:?}: {said}");
        };
        run(&["verify", "--man=no"]);
        run(&["security", "--no-pager", "--offline=yes", "--threshold", MOST_EXPOSURE]);
    }
}

/// Everything that the two programs say of the recorded herd.
fn answers(program: &[&str], store: &Path) -> String {
    let recorded = root().join("demo/recorded");
    let run = |words: &[&str]| {
        let output = Command::new(program[0])
            .args(&program[1..])
            .arg("--store")
            .arg(store)
            .args(words)
            .current_dir(&recorded)
            .output()
            .expect("starts");
        assert!(output.status.success(), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).expect("text")
    };
    for words in [
        &["import", "herd", "herd.csv"][..],
        &["import", "trims", "trims.csv"],
        &["import", "scores", "scores.csv"],
        &["import", "capture", "lane.capture"],
        &["import", "tags", "--lane", "exit", "tags.csv"],
        &["import", "readings", "--lane", "exit", "readings.csv"],
    ] {
        run(words);
    }
    let asked = [
        &["export", "passages"][..],
        &["export", "days"],
        &["--format", "json", "compare", "415", "--at", "2025-01-10"],
        &["list", "--date", "2025-01-19"],
    ];
    asked.into_iter().map(run).collect()
}

/// The program that `host/packaging/release aarch64-linux` builds, under qemu's emulation of the processor.
#[test]
fn the_program_for_arm_gives_the_same_bytes() {
    let arm = root().join("target/release-files/fourplate-aarch64-linux");
    assert!(arm.exists(), "host/packaging/release aarch64-linux builds it");
    let folder = tempfile::tempdir().expect("a folder");
    let arm = arm.display().to_string();
    let emulated = ["qemu-aarch64", "-L", "/usr/aarch64-linux-gnu", &arm];
    let here = path("fourplate").display().to_string();
    let (theirs, ours) =
        (answers(&emulated, &folder.path().join("arm")), answers(&[&here], &folder.path().join("here")));
    assert!(ours.lines().count() > 200, "{ours}");
    assert!(ours == theirs, "the program for arm says otherwise");
}
