//! The folders of `host` know each other only downwards, stay small, and the checksum of kept scores covers what the
//! score is computed from.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use tests::imports::Imports;

/// Each folder, and those it may know. A folder that is not named here fails the test.
const LAYERS: [(&str, &[&str]); 14] = [
    ("arithmetic", &[]),
    ("progress", &[]),
    ("record", &["arithmetic"]),
    ("store", &["arithmetic", "record"]),
    ("identity", &["arithmetic", "record", "store"]),
    ("score", &["arithmetic", "record", "store"]),
    ("case", &["arithmetic", "record", "store"]),
    ("evaluate", &["arithmetic", "record", "store"]),
    ("link", &["arithmetic", "record", "store", "identity"]),
    ("import", &["progress", "arithmetic", "record", "store", "identity", "link"]),
    (
        "report",
        &[
            "progress",
            "arithmetic",
            "record",
            "store",
            "identity",
            "score",
            "case",
            "evaluate",
            "link",
            "import",
        ],
    ),
    ("serve", &["arithmetic", "record", "store", "report"]),
    ("tell", &["record", "store", "report"]),
    (
        "commands",
        &[
            "progress",
            "arithmetic",
            "record",
            "store",
            "identity",
            "score",
            "case",
            "evaluate",
            "link",
            "import",
            "report",
            "serve",
            "tell",
        ],
    ),
];
/// Files in a folder at most, and lines in a file.
const MOST_FILES: usize = 12;
const MOST_LINES: usize = 500;

fn src() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("a workspace").join("host/src")
}

fn top(file: &str) -> Option<&str> {
    file.split_once('/').map(|(folder, _)| folder).or_else(|| {
        let stem = file.strip_suffix(".rs")?;
        (!matches!(stem, "lib" | "main")).then_some(stem)
    })
}

#[test]
fn folders_know_each_other_only_downwards() {
    let imports = Imports::read(&src());
    let layers: BTreeMap<_, _> = LAYERS.into_iter().collect();
    let mut wrong = BTreeSet::new();
    for (file, used) in imports.uses() {
        let Some(folder) = top(file) else { continue };
        let allowed = layers.get(folder).unwrap_or_else(|| panic!("`{folder}` has no layer"));
        for other in used.iter().filter_map(|other| top(other).map(|folder| (folder, other))) {
            if other.0 != folder && !allowed.contains(&other.0) {
                wrong.insert(format!("{file} knows {}", other.1));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The folder of a file, for files in the same folder know each other freely.
fn folder(file: &str) -> &str {
    file.rsplit_once('/').map_or("", |(folder, _)| folder)
}

#[test]
fn folders_have_no_import_cycles() {
    let imports = Imports::read(&src());
    let mut arrows: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (file, used) in imports.uses() {
        let others = used.iter().map(|other| folder(other));
        // A folder's own `mod.rs` stands for what is below it.
        let apart = others.filter(|other| {
            let (a, b) = (folder(file), *other);
            a != b && !a.starts_with(&format!("{b}/")) && !b.starts_with(&format!("{a}/")) && !a.is_empty()
        });
        arrows.entry(folder(file)).or_default().extend(apart);
    }
    for start in arrows.keys().copied() {
        let mut seen = BTreeSet::new();
        let mut open: Vec<&str> = arrows[start].iter().copied().collect();
        while let Some(at) = open.pop() {
            assert_ne!(at, start, "`{start}` knows itself through others: {seen:?}");
            if seen.insert(at) {
                open.extend(arrows.get(at).into_iter().flatten());
            }
        }
    }
}

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    let entries: Vec<_> = std::fs::read_dir(folder).expect("a folder").flatten().map(|e| e.path()).collect();
    let here = entries.iter().filter(|path| path.is_file()).count();
    assert!(here <= MOST_FILES, "{} holds {here} files", folder.display());
    for path in entries {
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|kind| kind == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn folders_and_files_stay_small() {
    let mut files = Vec::new();
    rust_files(&src(), &mut files);
    let mut lines: Vec<usize> = Vec::new();
    for file in files {
        let count = std::fs::read_to_string(&file).expect("text").lines().count();
        assert!(count <= MOST_LINES, "{} has {count} lines", file.display());
        lines.push(count);
    }
    lines.sort_unstable();
    assert!(lines[lines.len() / 2] <= 150, "the median file has {} lines", lines[lines.len() / 2]);
}

/// Where what the score rests on is made: the engine, and the versions of a case that foot work is read from.
const ROOTS: [&str; 2] = ["score/kept.rs", "record/case/versions.rs"];

#[test]
fn the_checksum_covers_what_the_score_is_computed_from() {
    let imports = Imports::read(&src());
    let within = |file: &str| matches!(top(file), Some("score" | "record" | "arithmetic"));
    let made_of: BTreeSet<&str> = ROOTS.iter().flat_map(|root| imports.closure(root, within)).collect();
    let text = std::fs::read_to_string(src().join("score/checksum.rs")).expect("text");
    let listed: BTreeSet<&str> =
        text.lines().filter_map(|line| line.trim().strip_prefix("(\"")?.split('"').next()).collect();
    let shared = |file: &&str| !file.starts_with("shared/");
    let listed: BTreeSet<&str> = listed.into_iter().filter(shared).collect();
    let own: BTreeSet<&str> = made_of.into_iter().filter(|file| *file != "score/checksum.rs").collect();
    assert_eq!(listed, own, "list in score/checksum.rs and imports differ");
}
