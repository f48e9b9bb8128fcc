//! What is said of the last backup.

use crate::report::words::Words;
use serde_json::json;

/// A backup older than this is told of, days. Our choice: a week of entries is what one can write down again.
const BACKUP_DAYS: i64 = 7;

/// That the last backup is old, or that there is none.
pub(super) fn backup(days: Option<i64>, words: &Words) -> Option<String> {
    match days {
        None => Some(words.text("page-backup-none")),
        Some(days) => (days > BACKUP_DAYS).then(|| words.say("page-backup-old", json!({ "days": days }))),
    }
}
