//! Told without looking: a cow that has become urgent, a lane that is silent or faulty, a withdrawal that is over. Each is
//! told once, by a program of the farm's choice that is given the text: a mail, a message queue and an address on the web
//! have such programs on every system, which know how to prove who they are and when to encrypt.

mod matters;
mod program;
mod when;

pub use matters::matters;

use crate::record::message::Message;
use crate::report::words::Words;
use crate::store::Store;
use jiff::Timestamp;
use program::Told;
use serde::Serialize;
use serde_json::json;

/// A telling that has been at it this long has died, ms: longer than the program may take.
const DEAD_MS: i64 = 5 * 60 * 1_000;

/// How a round went.
#[derive(Debug, PartialEq, Eq, Serialize)]
pub struct Round {
    /// What was told now.
    pub told: Vec<Message>,
    /// What waits.
    pub waiting: Vec<Message>,
    /// Why it waits; nothing where nothing does.
    pub why: Option<Why>,
}

/// Why messages wait.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "why", rename_all = "snake_case")]
pub enum Why {
    /// Only asked what waits.
    OnlyAsked,
    /// No program is set.
    NoProgram,
    /// The quiet hours.
    Quiet,
    /// Enough was told today.
    Enough,
    /// It failed and is tried again later.
    Later,
    /// Another fourplate is at it.
    Busy,
    /// The program failed now.
    Failed {
        /// What it said.
        said: String,
    },
}

/// Notes what is so, and tells what waits where it may be told now.
///
/// # Errors
/// When the store cannot be read or written.
pub fn round(store: &Store, words: &Words, now: Timestamp, only_ask: bool) -> anyhow::Result<Round> {
    let now_ms = now.as_millisecond();
    store.note_matters(&matters(store, words, now)?, now_ms)?;
    let waiting = store.waiting_messages()?;
    let waits = |waiting, why| Ok(Round { told: Vec::new(), waiting, why: Some(why) });
    if waiting.is_empty() {
        return Ok(Round { told: Vec::new(), waiting, why: None });
    }
    if only_ask {
        return waits(waiting, Why::OnlyAsked);
    }
    let by = store.setting("tell_by")?.unwrap_or_default();
    if by.is_empty() {
        return waits(waiting, Why::NoProgram);
    }
    let local = store.time_zone()?.to_datetime(now);
    let telling = store.telling()?;
    if let Some(why) = when::wait(&telling, local, now_ms, &when::Limits::of(store)?) {
        return waits(waiting, why);
    }
    if !store.begin_telling(now_ms, now_ms - DEAD_MS)? {
        return waits(waiting, Why::Busy);
    }
    let farm = store.setting("name")?.filter(|name| !name.is_empty());
    let title = words.say("tell-title", json!({ "farm": farm, "count": waiting.len() }));
    let lines: Vec<&str> = waiting.iter().map(|message| message.text.as_str()).collect();
    let text = format!("{title}\n\n- {}\n\n{}\n", lines.join("\n- "), words.text("caution-vet"));
    match program::tell(&by, &title, &text) {
        Told::Done => {
            store.told(&waiting, &local.date().to_string(), now_ms)?;
            Ok(Round { told: waiting, waiting: Vec::new(), why: None })
        }
        Told::Failed(said) => {
            store.not_told(now_ms + when::pause_ms(telling.tries))?;
            waits(waiting, Why::Failed { said })
        }
    }
}

#[cfg(test)]
mod tests;
