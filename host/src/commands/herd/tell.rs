//! What cannot wait is told to people.

use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::record::message::Message;
use crate::report::text;
use crate::report::words::Words;
use crate::tell::{Round, Why, round};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::json;
use std::fmt::Write;

/// Whether to tell, or only to say what waits.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Run it every few minutes, by a timer of the system. It hands its text to the
program set with `fourplate farm tell_by='...'`: a mail program, a publisher of
a message queue, curl. Each matter is told once; where the program fails it is
tried again, however long that takes. `host/FARMER.md` has lines that work.")]
pub struct TellArgs {
    /// Say what waits and tell nobody
    #[arg(long)]
    dry_run: bool,
}

#[derive(Serialize)]
struct Row<'a> {
    state: &'static str,
    kind: &'static str,
    subject: &'a str,
    text: &'a str,
}

impl<'a> Row<'a> {
    fn of(state: &'static str, message: &'a Message) -> Self {
        Self { state, kind: message.kind.name(), subject: &message.subject, text: &message.text }
    }
}

/// Tells what waits, where it may be told now.
///
/// # Errors
/// When the store cannot be used or the output cannot be written.
pub fn run(args: &TellArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let words = common.words(&store)?;
    let done = round(&store, &words, Timestamp::now(), args.dry_run)?;
    let rows = done
        .told
        .iter()
        .map(|message| Row::of("told", message))
        .chain(done.waiting.iter().map(|message| Row::of("waits", message)));
    common.format.print(&done, |table| table.rows(rows), || Ok(in_words(&done, &words)))?;
    Ok(if matches!(done.why, Some(Why::Failed { .. })) { ExitCode::Failed } else { ExitCode::Done })
}

fn in_words(done: &Round, words: &Words) -> String {
    let mut out = String::new();
    let mut list = |title: &str, messages: &[Message]| {
        if !messages.is_empty() {
            let _ = writeln!(out, "{}", text::wrap(title, 0));
            for message in messages {
                let _ = writeln!(out, "{}", text::wrap(&format!("  - {}", message.text), 4));
            }
        }
    };
    list(&words.text("tell-told"), &done.told);
    let said = match &done.why {
        Some(Why::Failed { said }) => said.as_str(),
        _ => "",
    };
    let why = done.why.as_ref().map(|why| serde_json::to_value(why).unwrap_or_default()["why"].clone());
    list(&words.say("tell-waits", json!({ "why": why, "said": said })), &done.waiting);
    if done.told.is_empty() && done.waiting.is_empty() {
        let _ = writeln!(out, "{}", words.text("tell-nothing"));
    }
    out
}
