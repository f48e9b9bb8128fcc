//! The program that tells: run by the system's shell, given the text on its standard input and the title in `FOURPLATE_TITLE`.

use std::io::{Read, Write};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// It may take this long. Our choice: a slow mail server, and well below the time after which it is taken for dead.
const MAY_TAKE: Duration = Duration::from_secs(120);
/// How often it is looked at.
const LOOK_AGAIN: Duration = Duration::from_millis(50);
/// Of what it says when it fails, the last so many bytes are kept.
const SAID: usize = 300;

/// How it went.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Told {
    Done,
    Failed(String),
}

fn shell(command: &str) -> Command {
    let (shell, flag) = if cfg!(windows) { ("cmd", "/C") } else { ("sh", "-c") };
    let mut shell = Command::new(shell);
    shell.arg(flag).arg(command);
    shell
}

/// Runs it; done where it ends with 0.
pub(super) fn tell(command: &str, title: &str, text: &str) -> Told {
    let child = shell(command)
        .env("FOURPLATE_TITLE", title)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn();
    match child {
        Ok(child) => finish(child, text),
        Err(error) => Told::Failed(error.to_string()),
    }
}

fn finish(mut child: Child, text: &str) -> Told {
    if let Some(mut input) = child.stdin.take() {
        // A program that reads nothing of it may have its reasons: its end says whether it told.
        let _ = input.write_all(text.as_bytes());
    }
    let errors = child.stderr.take();
    let reader = std::thread::spawn(move || {
        let mut said = Vec::new();
        let _ = errors.map(|mut errors| errors.read_to_end(&mut said));
        String::from_utf8_lossy(&said[said.len().saturating_sub(SAID)..]).trim().to_owned()
    });
    let end = Instant::now() + MAY_TAKE;
    let status = loop {
        match child.try_wait() {
            Ok(Some(status)) => break status,
            Ok(None) if Instant::now() < end => std::thread::sleep(LOOK_AGAIN),
            Ok(None) => {
                let _ = child.kill();
                let _ = child.wait();
                return Told::Failed(format!("it took longer than {} s", MAY_TAKE.as_secs()));
            }
            Err(error) => return Told::Failed(error.to_string()),
        }
    };
    if status.success() {
        return Told::Done;
    }
    let said = reader.join().unwrap_or_default();
    Told::Failed(if said.is_empty() { status.to_string() } else { said })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[cfg(unix)]
    fn it_is_given_title_and_text_and_its_end_says_how_it_went() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("told").display().to_string();
        let told = tell(&format!("(echo \"$FOURPLATE_TITLE\"; cat) > '{file}'"), "title", "text\n");
        assert_eq!(told, Told::Done);
        assert_eq!(std::fs::read_to_string(file).unwrap(), "title\ntext\n");
        assert_eq!(tell("echo no route >&2; exit 7", "title", "text"), Told::Failed("no route".to_owned()));
        assert_eq!(tell("exit 0", "title", &"long\n".repeat(100_000)), Told::Done, "reads nothing");
        assert!(matches!(tell("exit 3", "", ""), Told::Failed(said) if said.contains('3')));
    }
}
