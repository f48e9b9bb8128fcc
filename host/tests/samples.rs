//! The rows that host/README.md shows of each file come in as they stand.

use assert_cmd::Command;
use std::path::Path;

#[test]
fn every_sample_of_a_file_comes_in() {
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let text = std::fs::read_to_string(readme).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut kinds = Vec::new();
    for block in text.split("```csv ").skip(1) {
        let (kind, rest) = block.split_once('\n').unwrap();
        let rows = rest.split("```").next().unwrap();
        assert_eq!(rows.lines().count(), 4, "{kind}: a header and three rows");
        let file = folder.path().join(format!("{kind}.csv"));
        std::fs::write(&file, rows).unwrap();
        let mut command = Command::cargo_bin("fourplate").unwrap();
        command.arg("--store").arg(folder.path().join("store.sqlite")).args(["import", kind]);
        if ["readings", "tags", "passages"].contains(&kind) {
            command.args(["--lane", "exit"]);
        }
        let done = command.arg(&file).output().unwrap();
        let said =
            [done.stdout, done.stderr].map(|said| String::from_utf8_lossy(&said).into_owned()).concat();
        assert!(done.status.success() && !said.contains("line 2"), "{kind}: {said}");
        assert!(kind == "readings" || said.contains('3'), "{kind}: {said}");
        kinds.push(kind.to_owned());
    }
    assert_eq!(kinds, ["herd", "readings", "tags", "scores", "trims", "follow-ups", "marks", "passages"]);
}

#[test]
fn what_is_exported_comes_in_again_and_is_exported_alike() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let run = |store: &str, args: &[&str]| {
        let mut command = Command::cargo_bin("fourplate").unwrap();
        let done = command.args(["--store", &at(store)]).args(args).output().unwrap();
        assert!(done.status.success(), "{args:?}: {}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).unwrap()
    };
    let herd = "animal_id,number,name,tag,tag_from,state,state_date,parity,calving_date\n\
                372000000000001,98,Berta,,,,,2,2025-01-01\n\
                372000000000001,98,Berta,372000000000009,2025-02-01,,,,\n\
                372000000000002,,,,,dry,2025-03-01,,\n";
    std::fs::write(at("herd.csv"), herd).unwrap();
    std::fs::write(
        at("marks.csv"),
        "date,animal_id,mark,who\n2025-03-02,98,booked,anna\n2025-03-03,98,told,\n",
    )
    .unwrap();
    std::fs::write(at("scores.csv"), "date,animal_id,score\n2025-03-02,98,2\n").unwrap();
    for kind in ["herd", "marks", "scores"] {
        run("one", &["import", kind, &at(&format!("{kind}.csv"))]);
    }
    for (kind, rows) in [("herd", 5), ("marks", 4), ("scores", 2)] {
        let out = run("one", &["export", kind]);
        assert_eq!(out.lines().count(), rows, "{out}");
        std::fs::write(at("again.csv"), &out).unwrap();
        run("other", &["import", kind, &at("again.csv")]);
        assert_eq!(run("other", &["export", kind]), out);
    }
    let out = run("one", &["export", "herd"]);
    assert!(out.contains("372000000000001,,,98,Berta,372000000000009,2025-02-01"), "{out}");
    assert!(out.contains("372000000000001,2,2025-01-01,98,Berta,,"), "{out}");
    // A mark that is none is refused with its column.
    std::fs::write(at("bad.csv"), "date,animal_id,mark\n2025-03-02,98,cured\n").unwrap();
    let mut command = Command::cargo_bin("fourplate").unwrap();
    let done = command.args(["--store", &at("one"), "import", "marks", &at("bad.csv")]).output().unwrap();
    let said = [done.stdout, done.stderr].map(|said| String::from_utf8_lossy(&said).into_owned()).concat();
    assert!(done.status.code() == Some(3) && said.contains("cured") && said.contains("told"), "{said}");
}
