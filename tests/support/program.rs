//! The program, run as a user runs it.

use std::{
    io::{BufRead, BufReader},
    path::{Path, PathBuf},
    process::{Child, ChildStderr, Command, Stdio},
};

/// Where the programs of this build are.
///
/// # Panics
/// Where they have not been built.
#[must_use]
pub fn path(name: &str) -> PathBuf {
    let folder = std::env::current_exe().expect("this test's path");
    let folder = folder.parent().and_then(Path::parent).expect("the target folder");
    let program = folder.join(name);
    assert!(program.exists(), "{} is not built: cargo build --workspace first", program.display());
    program
}

/// What a run gave.
pub struct Ran {
    /// The exit code.
    pub code: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

/// Runs fourplate on a store.
///
/// # Panics
/// Where it does not start.
#[must_use]
pub fn fourplate(store: &Path, words: &[&str]) -> Ran {
    let output =
        Command::new(path("fourplate")).arg("--store").arg(store).args(words).output().expect("starts");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
    Ran {
        code: output.status.code().expect("not killed"),
        out: text(output.stdout),
        err: text(output.stderr),
    }
}

/// Brings sixty days of an invented herd into a store: register, passages, trims. Its files go into `folder`.
///
/// # Panics
/// Where it cannot be made or is not taken.
pub fn invented_herd(folder: &Path, store: &Path, cows: u32) {
    let at = folder.join("herd");
    let made = Command::new(path("demo"))
        .args(["herd", "--days", "60", "--level", "passages", "--seed", "5", "--cows", &cows.to_string()])
        .arg("--out")
        .arg(&at)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    assert!(made.expect("starts").success());
    for kind in ["herd", "passages", "trims"] {
        let ran = fourplate(store, &["import", kind, &at.join(format!("{kind}.csv")).to_string_lossy()]);
        assert_eq!(ran.code, 0, "{}", ran.err);
    }
}

/// Starts the pages of a store; the run, and the address that it answers at.
///
/// # Panics
/// Where it does not start.
#[must_use]
pub fn serve(store: &Path, address: &str) -> (Running, String) {
    let mut running = Running::start(store, &["serve", "--addr", address]);
    let said = running.says("look at http://");
    let said = said.split("http://").nth(1).and_then(|rest| rest.split('/').next());
    (running, said.expect("an address").to_owned())
}

/// A run that goes on, and what it says.
pub struct Running {
    /// The process.
    pub child: Child,
    said: BufReader<ChildStderr>,
}

impl Running {
    /// Starts fourplate on a store.
    ///
    /// # Panics
    /// Where it does not start.
    #[must_use]
    pub fn start(store: &Path, words: &[&str]) -> Self {
        let mut child = Command::new(path("fourplate"))
            .arg("--store")
            .arg(store)
            .args(words)
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        let said = BufReader::new(child.stderr.take().expect("piped"));
        Self { child, said }
    }

    /// Waits for a line with `words` in it.
    ///
    /// # Panics
    /// Where the program ends without having said it.
    #[must_use]
    pub fn says(&mut self, words: &str) -> String {
        let (mut line, mut all) = (String::new(), String::new());
        while self.said.read_line(&mut line).expect("text") > 0 {
            if line.contains(words) {
                return line;
            }
            all.push_str(&line);
            line.clear();
        }
        panic!("it never said {words:?} but: {all}");
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
