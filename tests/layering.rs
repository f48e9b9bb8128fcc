//! Who may know whom: the arrows of the design hold, between the parts and inside `shared` and `demo`.

use std::{collections::BTreeMap, fs, path::Path, process::Command};

/// Local dependencies that each part may have, development ones included.
const ALLOWED: [(&str, &[&str]); 5] = [
    ("shared", &[]),
    ("firmware", &["shared"]),
    ("host", &["shared"]),
    // The demo's lane plays into the device's own program.
    ("demo", &["shared", "firmware"]),
    ("tests", &["shared", "firmware", "host", "demo"]),
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the tests folder has a parent")
}

fn sources(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("folder of sources").flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found
}

/// Fails where a file under `folder` names one of `banned`.
fn never_names(folder: &str, banned: &[&str]) {
    let files = sources(&root().join(folder));
    assert!(!files.is_empty(), "no sources under {folder}");
    for path in files {
        let text = fs::read_to_string(&path).expect("source is text");
        for word in banned {
            assert!(!text.contains(word), "{} names {word}", path.display());
        }
    }
}

#[test]
fn parts_depend_only_downwards() {
    let done = Command::new(env!("CARGO"))
        .args(["metadata", "--no-deps", "--format-version", "1", "--locked", "--offline"])
        .current_dir(root())
        .output()
        .expect("cargo metadata runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&done.stdout).expect("metadata is JSON");
    let allowed: BTreeMap<_, _> = ALLOWED.into_iter().collect();
    let packages = metadata["packages"].as_array().expect("packages");
    assert_eq!(packages.len(), ALLOWED.len(), "a part is missing from the list above");
    for package in packages {
        let name = package["name"].as_str().expect("name");
        for dependency in package["dependencies"].as_array().expect("dependencies") {
            let other = dependency["name"].as_str().expect("name");
            if other != name && allowed.contains_key(other) && dependency["path"].is_string() {
                assert!(allowed[name].contains(&other), "{name} must not depend on {other}");
            }
        }
    }
}

#[test]
fn the_analysis_does_not_know_the_wire() {
    never_names("shared/src/analysis", &["crate::wire"]);
    never_names("shared/src/identity", &["crate::wire", "crate::analysis"]);
}

#[test]
fn the_demo_makes_its_truth_without_the_analysis() {
    let analysis =
        ["Analyser", "analysis::segmentation", "analysis::feet", "analysis::stance", "analysis::contact"];
    for path in sources(&root().join("demo/src")) {
        let text = fs::read_to_string(&path).expect("source is text");
        for name in analysis {
            assert!(!text.contains(name), "{} names {name}", path.display());
        }
    }
}

#[test]
fn shared_needs_no_standard_library() {
    let lib = fs::read_to_string(root().join("shared/src/lib.rs")).expect("lib.rs");
    assert!(lib.contains("#![no_std]"));
    never_names("shared/src", &["extern crate alloc", "std::time", "std::fs", "std::net"]);
}

#[test]
fn every_part_has_a_readme_and_no_file_is_too_long() {
    for part in ["shared", "firmware", "host", "tests", "demo"] {
        assert!(root().join(part).join("README.md").exists(), "{part} has no README.md");
        for path in sources(&root().join(part)) {
            let lines = fs::read_to_string(&path).expect("source is text").lines().count();
            assert!(lines <= 600, "{} has {lines} lines", path.display());
        }
    }
}
