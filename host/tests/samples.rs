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
    assert_eq!(kinds, ["herd", "readings", "tags", "scores", "trims", "follow-ups", "passages"]);
}
