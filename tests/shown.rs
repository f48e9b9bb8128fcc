//! What the README shows, and what the demo is said to print, is what the program prints.
//!
//! After a change that is meant: `UPDATE_SHOWN=1 cargo test -p tests --test shown`, and read the difference.

use std::{fs, path::Path, process::Command};

#[test]
fn the_demo_prints_what_is_shown() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the repository");
    let test = std::env::current_exe().expect("this test's path");
    let program = test.parent().and_then(Path::parent).expect("the target folder").join("fourplate");
    assert!(program.exists(), "{} is not built: cargo build --workspace first", program.display());
    let ran =
        Command::new("bash").arg(root.join("demo/run")).env("FOURPLATE", program).output().expect("bash");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let printed = String::from_utf8(ran.stdout).expect("UTF-8");
    assert!(printed.lines().all(|line| line.chars().count() <= 80), "a line is wider than 80 columns");

    let shown = root.join("demo/recorded/printed.txt");
    if std::env::var_os("UPDATE_SHOWN").is_some() {
        fs::write(&shown, &printed).expect("the file can be written");
    }
    let wanted = fs::read_to_string(&shown).expect("printed.txt");
    for (line, (is, was)) in printed.lines().zip(wanted.lines()).enumerate() {
        assert_eq!(is, was, "line {} of {}", line + 1, shown.display());
    }
    assert_eq!(printed.lines().count(), wanted.lines().count());

    let readme = fs::read_to_string(root.join("README.md")).expect("README");
    let block = readme.split("```text\n").nth(1).and_then(|rest| rest.split("```").next());
    let block = block.expect("the README shows the list");
    assert!(printed.contains(block), "the README's list is not what is printed:\n{printed}");
}
