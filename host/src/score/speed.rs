//! One herd-year through the store and the score, with seconds: figures for the methods page, not a test of time.
//!
//! `cargo test --release -p host --lib score::speed -- --ignored --nocapture`

use super::simulate::{Scenario, herd};
use super::{ScoreSettings, run_on};
use crate::store::{NewPassage, PassageFilter, Store, StoreError};
use std::io::Write;
use std::time::Instant;

/// The herd-year: 1,000 cows, 365 days, two milkings a day.
const HERD_YEAR: usize = 730_000;

/// A store with a year of a large herd.
fn filled(path: &std::path::Path) -> Store {
    let made = herd(&Scenario { cows: 1000, days: 365, missed: 0.0, onset: 0.003, ..Scenario::default() });
    let store = Store::open(path).expect("a store");
    store
        .batch(|store| {
            let source = store.begin_source("passages", "herd-year", jiff::Timestamp::UNIX_EPOCH)?;
            for entry in &made.register {
                store.put_herd_entry(entry)?;
            }
            for passage in made.passages {
                let new = NewPassage {
                    lane: passage.lane,
                    time: passage.time,
                    animal: passage.animal,
                    evidence: "listed".to_owned(),
                    summary: passage.summary,
                    trace: None,
                };
                store.insert_listed(&new, source)?;
            }
            Ok::<_, StoreError>(())
        })
        .expect("stored");
    store
}

/// Seconds that processors were busy with this process; 0 where the system does not tell. On a machine with other work
/// it is steadier than the time on the wall.
fn cpu_seconds() -> f64 {
    const TICKS_A_SECOND: f64 = 100.0;
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    after_name.split_whitespace().skip(11).take(2).filter_map(|t| t.parse::<f64>().ok()).sum::<f64>()
        / TICKS_A_SECOND
}

fn now() -> (Instant, f64) {
    (Instant::now(), cpu_seconds())
}

#[test]
#[ignore = "prints seconds for a herd-year; a minute in release"]
fn a_herd_year() {
    let folder = tempfile::tempdir().expect("a folder");
    let store = filled(&folder.path().join("herd-year.db"));
    let mut out = std::io::stdout().lock();
    let mut say = |what: &str, begun: (Instant, f64)| {
        let (wall, busy) = (begun.0.elapsed().as_secs_f64(), cpu_seconds() - begun.1);
        writeln!(out, "{what}: {wall:.2} s, processors busy for {busy:.2} s").expect("standard output");
    };
    let begun = now();
    let passages = store.passages(&PassageFilter::default()).expect("passages");
    say("read", begun);
    assert_eq!(passages.len(), HERD_YEAR);
    let register = store.herd().expect("herd");
    let begun = now();
    let run = run_on(&passages, &register, &[], &[], &ScoreSettings::default());
    say("score", begun);
    assert_eq!(run.days.len(), 365_000);
}
