//! Messages that wait to be told, and how the telling goes.

use crate::record::message::{Matter, Message, MessageKind};
use crate::store::{Store, StoreError};
use rusqlite::{OptionalExtension, params};

/// What comes back within this time is the same matter and not told again, ms. Our choice: half a day.
const SAME_MS: i64 = 12 * 60 * 60 * 1_000;

/// How the telling goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Telling {
    /// Failures in a row.
    pub tries: u32,
    /// Nothing is tried before, UTC, ms since the Unix epoch.
    pub next_ms: i64,
    /// A program is at it since.
    pub busy_ms: Option<i64>,
    /// The farm's day of the count.
    pub day: String,
    /// How often something was told on that day.
    pub times: u32,
}

impl Store {
    /// Notes what is so now: what is new waits to be told, what is no longer so is over.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn note_matters(&self, matters: &[Matter], now_ms: i64) -> Result<(), StoreError> {
        self.batch(|store| {
            let mut open = store
                .connection()
                .prepare_cached("SELECT id, kind, subject FROM messages WHERE over_ms IS NULL")?;
            let open: Vec<(i64, String, String)> = open
                .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?
                .collect::<Result<_, _>>()?;
            for (id, kind, subject) in &open {
                let still = |matter: &Matter| matter.kind.name() == kind && matter.subject == *subject;
                if !matters.iter().any(still) {
                    let connection = store.connection();
                    connection.execute("UPDATE messages SET over_ms = ?2 WHERE id = ?1", [*id, now_ms])?;
                }
            }
            for matter in matters {
                let (kind, subject) = (matter.kind.name(), &matter.subject);
                if open.iter().any(|(_, k, s)| k == kind && s == subject) {
                    continue;
                }
                let again = store.connection().execute(
                    "UPDATE messages SET over_ms = NULL WHERE id = (
                         SELECT id FROM messages WHERE kind = ?1 AND subject = ?2 AND over_ms > ?3
                         ORDER BY id DESC LIMIT 1)",
                    params![kind, subject, now_ms - SAME_MS],
                )?;
                if again == 0 {
                    store.connection().execute(
                        "INSERT INTO messages (kind, subject, text, made_ms) VALUES (?1, ?2, ?3, ?4)",
                        params![kind, subject, matter.text, now_ms],
                    )?;
                }
            }
            Ok(())
        })
    }

    /// The messages that wait, the oldest first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn waiting_messages(&self) -> Result<Vec<Message>, StoreError> {
        let mut statement = self.connection().prepare_cached(
            "SELECT id, kind, subject, text, over_ms IS NULL FROM messages WHERE told_ms IS NULL ORDER BY id",
        )?;
        let rows = statement.query_map([], |row| {
            let (kind, still): (String, bool) = (row.get(1)?, row.get(4)?);
            let kind = MessageKind::from_name(&kind).filter(|kind| still || kind.told_when_over());
            let (id, subject, text) = (row.get(0)?, row.get(2)?, row.get(3)?);
            Ok(kind.map(|kind| Message { id, kind, subject, text }))
        })?;
        Ok(rows.filter_map(Result::transpose).collect::<Result<_, _>>()?)
    }

    /// How the telling goes.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn telling(&self) -> Result<Telling, StoreError> {
        let row = self
            .connection()
            .prepare_cached("SELECT tries, next_ms, busy_ms, day, times FROM telling")?
            .query_row([], |row| {
                let (tries, next_ms, busy_ms) = (row.get(0)?, row.get(1)?, row.get(2)?);
                Ok(Telling { tries, next_ms, busy_ms, day: row.get(3)?, times: row.get(4)? })
            })
            .optional()?;
        Ok(row.unwrap_or(Telling { tries: 0, next_ms: 0, busy_ms: None, day: String::new(), times: 0 }))
    }

    /// Takes the telling for this program; false where another is at it since after `busy_since_ms`.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn begin_telling(&self, now_ms: i64, busy_since_ms: i64) -> Result<bool, StoreError> {
        let taken = self.connection().execute(
            "UPDATE telling SET busy_ms = ?1 WHERE busy_ms IS NULL OR busy_ms <= ?2",
            [now_ms, busy_since_ms],
        )?;
        Ok(taken > 0)
    }

    /// Notes that messages were told, and lets the telling go.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn told(&self, messages: &[Message], day: &str, now_ms: i64) -> Result<(), StoreError> {
        self.durable_batch(|store| {
            for message in messages {
                store
                    .connection()
                    .prepare_cached("UPDATE messages SET told_ms = ?2 WHERE id = ?1")?
                    .execute([message.id, now_ms])?;
            }
            store.connection().execute(
                "UPDATE telling SET tries = 0, next_ms = 0, busy_ms = NULL,
                     times = CASE WHEN day = ?1 THEN times + 1 ELSE 1 END, day = ?1",
                [day],
            )?;
            Ok(())
        })
    }

    /// Notes that it failed, and when it may be tried again.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn not_told(&self, next_ms: i64) -> Result<(), StoreError> {
        self.connection()
            .execute("UPDATE telling SET tries = tries + 1, next_ms = ?1, busy_ms = NULL", [next_ms])?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn matter(kind: MessageKind, subject: &str) -> Matter {
        Matter { kind, subject: subject.into(), text: format!("{subject} in words") }
    }

    fn waiting(store: &Store) -> Vec<String> {
        store.waiting_messages().unwrap().into_iter().map(|message| message.subject).collect()
    }

    #[test]
    fn what_stays_so_is_told_once_and_anew_when_it_comes_back_after_half_a_day() {
        let store = Store::in_memory().unwrap();
        let cow = [matter(MessageKind::Urgent, "412")];
        store.note_matters(&cow, 1_000).unwrap();
        store.note_matters(&cow, 2_000).unwrap();
        assert_eq!(waiting(&store), ["412"]);
        store.told(&store.waiting_messages().unwrap(), "2026-03-01", 3_000).unwrap();
        store.note_matters(&cow, 4_000).unwrap();
        assert_eq!(waiting(&store), [""; 0]);
        store.note_matters(&[], 5_000).unwrap();
        store.note_matters(&cow, 5_000 + SAME_MS - 1).unwrap();
        assert_eq!(waiting(&store), [""; 0], "the same matter");
        store.note_matters(&[], 6_000 + SAME_MS).unwrap();
        store.note_matters(&cow, 6_000 + 2 * SAME_MS).unwrap();
        assert_eq!(waiting(&store), ["412"], "anew");
    }

    #[test]
    fn a_lane_that_is_well_again_is_not_told_of_and_a_cow_is() {
        let store = Store::in_memory().unwrap();
        let all = MessageKind::ALL.map(|kind| matter(kind, kind.name()));
        store.note_matters(&all, 1_000).unwrap();
        assert_eq!(waiting(&store), ["urgent", "lane", "withdrawal_over"]);
        store.note_matters(&[], 2_000).unwrap();
        assert_eq!(waiting(&store), ["urgent", "withdrawal_over"]);
    }

    #[test]
    fn one_program_tells_at_a_time_and_failures_and_times_are_counted() {
        let store = Store::in_memory().unwrap();
        assert!(store.begin_telling(10_000, 5_000).unwrap());
        assert!(!store.begin_telling(11_000, 9_999).unwrap(), "another is at it");
        assert!(store.begin_telling(12_000, 10_000).unwrap(), "it never came back");
        store.not_told(20_000).unwrap();
        store.not_told(30_000).unwrap();
        let now = store.telling().unwrap();
        assert_eq!((now.tries, now.next_ms, now.busy_ms), (2, 30_000, None));
        for (day, times) in [("2026-03-01", 1), ("2026-03-01", 2), ("2026-03-02", 1)] {
            store.told(&[], day, 40_000).unwrap();
            let now = store.telling().unwrap();
            assert_eq!((now.tries, now.next_ms, now.times, now.day.as_str()), (0, 0, times, day));
        }
    }
}
