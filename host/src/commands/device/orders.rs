//! What paired devices are to know of gate and cows, made anew now and then beside the sessions.

use crate::link::orders::{Told, Wanted, WantedList};
use crate::report::gate::GateDay;
use crate::score::kept::lane_tables;
use crate::store::Store;
use anyhow::bail;
use jiff::{Timestamp, civil::Date};
use std::{
    collections::HashMap,
    path::Path,
    sync::{
        Arc, Mutex,
        atomic::{AtomicBool, Ordering},
    },
    time::{Duration, Instant},
};

/// How often it is looked whether anybody waits; our choice.
const LOOK: Duration = Duration::from_millis(200);
/// How often the list is made; our choice: a cow who has just become urgent is held at the same milking.
const LIST_EVERY: Duration = Duration::from_secs(30);
/// How often the tables are; our choice: work on feet is entered by day, and a new day begins.
const TABLES_EVERY: Duration = Duration::from_secs(600);

/// What was made last, by lane.
#[derive(Default)]
pub struct OrdersMade {
    made: Mutex<HashMap<String, Arc<Wanted>>>,
    /// Whether a sealed session asks.
    asked: AtomicBool,
    /// What went wrong last, so that it is said once.
    trouble: Mutex<String>,
}

impl OrdersMade {
    /// What the device of a lane is to know.
    pub fn of(&self, lane: &str) -> Arc<Wanted> {
        self.asked.store(true, Ordering::Relaxed);
        let made = self.made.lock().ok().and_then(|made| made.get(lane).cloned());
        made.unwrap_or_default()
    }

    /// Makes it anew for as long as the program runs, while somebody asks. What cannot be made now is told to `say` and made
    /// later; a list that cannot be made is none, and the gates come to rest.
    pub fn make(&self, store: &Path, say: impl Fn(&str)) {
        let (mut list_at, mut tables_at) = (None, None);
        let mut tables = HashMap::new();
        let due = |at: Option<Instant>, every: Duration| at.is_none_or(|at| at.elapsed() >= every);
        loop {
            std::thread::sleep(LOOK);
            if !self.asked.load(Ordering::Relaxed) || !due(list_at, LIST_EVERY) {
                continue;
            }
            list_at = Some(Instant::now());
            let made = Store::open(store).map_err(anyhow::Error::from).and_then(|store| {
                let now = Timestamp::now();
                if due(tables_at, TABLES_EVERY) {
                    let today = store.time_zone()?.to_datetime(now).date();
                    tables = tables_of(&store, today)?;
                    tables_at = Some(Instant::now());
                }
                list(&store, now)
            });
            let (list, trouble) = match made {
                Ok(list) => (list, String::new()),
                Err(error) => (None, format!("{error:#}")),
            };
            self.tell(&trouble, &say);
            self.keep(list.as_ref(), &tables);
        }
    }

    fn keep(&self, list: Option<&WantedList>, tables: &HashMap<String, Wanted>) {
        let Ok(mut made) = self.made.lock() else { return };
        *made = tables
            .iter()
            .map(|(lane, table)| (lane.clone(), Arc::new(Wanted { list: list.cloned(), ..table.clone() })))
            .collect();
    }

    fn tell(&self, trouble: &str, say: impl Fn(&str)) {
        let Ok(mut last) = self.trouble.lock() else { return };
        if !trouble.is_empty() && *last != trouble {
            say(&format!("nobody is held back at a gate: {trouble}"));
        }
        trouble.clone_into(&mut last);
    }
}

/// The tables, and an empty one for each lane without.
fn tables_of(store: &Store, today: Date) -> anyhow::Result<HashMap<String, Wanted>> {
    let mut all: HashMap<String, Wanted> =
        store.devices()?.into_iter().map(|device| (device.lane(), Wanted::default())).collect();
    for (lane, table) in lane_tables(store, today)? {
        all.insert(lane, Wanted::default().with_table(table.head, table.rows));
    }
    Ok(all)
}

/// Whom to hold back now.
fn list(store: &Store, now: Timestamp) -> anyhow::Result<Option<WantedList>> {
    if store.setting("gate_hours")?.is_none_or(|hours| hours.is_empty()) {
        return Ok(None);
    }
    let day = GateDay::of(store, now)?;
    let Some(window) = day.window.filter(|_| day.is_on(now)) else { return Ok(None) };
    // A clock that went back by days would hold the cows of another day.
    if let Some(last) = store.last_day(None)?.filter(|last| *last > day.date) {
        bail!("this computer's clock says {}, but a cow passed on {last}: set the clock", day.date);
    }
    let (codes, most) = day.codes();
    Ok(Some(WantedList { codes, most, until_ms: window.until.as_millisecond() }))
}

/// What a device was told, in words for the one who listens.
#[must_use]
pub fn told(told: &Told) -> String {
    match told {
        Told::InForce { listed } => format!("a list of {listed} cows to hold back is in force at its gate"),
        Told::Table { rows } => format!("it judges {rows} cows as they leave"),
        Told::Refused(why) => format!("the device does not take it: {why}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use crate::record::gate::Hold;
    use crate::report::invented::passage;
    use crate::store::NewPassage;
    use jiff::civil::date;

    /// Cow 41 wears a tag and is wanted; another has none.
    fn store(hours: &str) -> Store {
        let store = Store::in_memory().unwrap();
        store.set_setting("gate_hours", hours).unwrap();
        store.put_ear_tag("999000000000041", None, &AnimalId("41".into())).unwrap();
        for animal in ["41", "42"] {
            let (animal, until) = (AnimalId(animal.into()), date(2026, 3, 2));
            store.put_hold(&Hold { animal, until, why: String::new(), who: String::new() }).unwrap();
        }
        store
    }

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    #[test]
    fn a_list_is_made_in_the_farms_hours_alone() {
        let in_hours = at("2026-03-01T06:00:00Z");
        assert_eq!(list(&store(""), in_hours).unwrap(), None);
        let store = store("05:00-09:00");
        assert_eq!(list(&store, at("2026-03-01T04:59:59Z")).unwrap(), None);
        assert_eq!(list(&store, at("2026-03-01T09:00:00Z")).unwrap(), None);
        let made = list(&store, in_hours).unwrap().unwrap();
        assert_eq!(made.codes.iter().map(ToString::to_string).collect::<Vec<_>>(), ["999000000000041"]);
        assert_eq!((made.most, made.until_ms), (6, at("2026-03-01T09:00:00Z").as_millisecond()));
        assert!(
            list(&store, at("2026-03-03T06:00:00Z")).unwrap().unwrap().codes.is_empty(),
            "wanted no longer"
        );
    }

    #[test]
    fn a_clock_behind_the_last_cow_makes_no_list() {
        let store = store("05:00-09:00");
        let source = store.begin_source("test", "test", Timestamp::UNIX_EPOCH).unwrap();
        let seen = passage("41", date(2026, 3, 1));
        let new = NewPassage {
            lane: seen.lane,
            time: seen.time,
            animal: seen.animal,
            evidence: "tag".into(),
            summary: seen.summary,
            trace: None,
        };
        store.insert_delivered(&new, source).unwrap();
        assert!(list(&store, at("2026-03-01T06:00:00Z")).unwrap().is_some());
        let error = list(&store, at("2016-03-01T06:00:00Z")).unwrap_err().to_string();
        assert!(error.contains("a cow passed on 2026-03-01: set the clock"), "{error}");
    }
}
