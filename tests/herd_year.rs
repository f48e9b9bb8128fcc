//! One herd-year through the store and the score, with seconds: figures for the methods page, not a test of time.
//!
//! `cargo test --release -p tests --test herd_year -- --ignored --nocapture`; `YEARS=5` before it: as many years.

use host::record::{AnimalId, Passage};
use host::report::farm::{Farm, Part};
use host::report::pages::{Pages, Viewer};
use host::report::words::{Language, Words};
use host::score::{ScoreSettings, run_on};
use host::store::{PassageFilter, Store, StoreError};
use jiff::ToSpan;
use std::io::Write;
use std::time::Instant;
use tests::simulated_herd::{START, Scenario, herd, listed, name};

/// The herd: 1,000 cows, two milkings a day.
const COWS: usize = 1000;

/// Days of the years that are asked for; one where none are.
fn days() -> i64 {
    365 * std::env::var("YEARS").map_or(1, |years| years.parse().expect("a number of years"))
}

fn put<'a>(store: &Store, passages: impl Iterator<Item = &'a Passage>) {
    store
        .batch(|store| {
            let source = store.begin_source("passages", "herd-year", jiff::Timestamp::UNIX_EPOCH)?;
            for passage in passages {
                store.insert_listed(&listed(passage), source)?;
            }
            Ok::<_, StoreError>(())
        })
        .expect("stored");
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

/// Each page as made by the server from the store, and from what it holds ready, beside the store's own reading of one
/// cow's passages.
fn pages(store: &Store, cow: &AnimalId, out: &mut impl Write) {
    let pages = Pages::new(Words::new(Language::English)).expect("templates");
    let view = pages.view(Viewer::default());
    let filter = PassageFilter { animal: Some(cow.clone()), ..PassageFilter::default() };
    let begun = Instant::now();
    let read = store.passages(&filter).expect("passages").len();
    let query = begun.elapsed().as_secs_f64();
    writeln!(out, "one cow's {read} passages read: {:.1} ms", 1000.0 * query).expect("standard output");
    let hers = |page: &str| format!("{page}{cow}");
    for (url, part) in [
        ("/".to_owned(), Part::List),
        ("/rechecks".to_owned(), Part::List),
        ("/lane".to_owned(), Part::List),
        ("/herd".to_owned(), Part::Days),
        (hers("/crush?id="), Part::Cow(cow)),
        (hers("/cow/"), Part::Cow(cow)),
    ] {
        let begun = Instant::now();
        let farm = Farm::load_part(store, None, part).expect("read");
        let loaded = begun.elapsed().as_secs_f64();
        let page = view.answer(&url, farm.as_ref(), store);
        let took = begun.elapsed().as_secs_f64();
        assert_eq!(page.status, 200, "{url}");
        let size = page.body.len() as f64 / 1000.0;
        writeln!(
            out,
            "page {url}: {:.0} ms, {:.0} times that; held ready {:.0} ms; {size:.0} kB",
            1000.0 * took,
            took / query,
            1000.0 * (took - loaded)
        )
        .expect("standard output");
    }
}

#[test]
#[ignore = "prints seconds for a herd-year; a minute or two in release"]
fn a_herd_year() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("herd-year.db");
    let store = Store::open(&path).expect("a store");
    // A day more than the year comes in at the end.
    let days = days();
    let made =
        herd(&Scenario { cows: COWS, days: days + 1, missed: 0.0, onset: 0.003, ..Scenario::default() });
    let end = START.saturating_add(days.days());
    made.register.iter().for_each(|entry| assert!(store.put_herd_entry(entry).expect("stored")));
    put(&store, made.passages.iter().filter(|p| p.date < end));
    let mut out = std::io::stdout();
    let say = |what: &str, begun: (Instant, f64)| {
        let (wall, busy) = (begun.0.elapsed().as_secs_f64(), cpu_seconds() - begun.1);
        writeln!(std::io::stdout(), "{what}: {wall:.2} s, processors busy for {busy:.2} s")
            .expect("standard output");
    };
    let begun = now();
    let passages = store.passages(&PassageFilter::default()).expect("passages");
    say("read all", begun);
    assert_eq!(passages.len() as i64, 2 * COWS as i64 * days);
    let begun = now();
    let run = run_on(&passages, &made.register, &[], &[], &ScoreSettings::default());
    say("score all", begun);
    assert_eq!(run.days.len() as i64, COWS as i64 * days);
    drop((passages, run));
    let list = || Farm::load_part(&store, None, Part::List).expect("read").expect("passages").morning(None);
    let begun = now();
    list();
    say("first list: read, score, keep", begun);
    let begun = now();
    let again = list();
    say("list again", begun);
    let cow = again.cows.first().map_or_else(|| name(0), |cow| cow.animal_id.clone());
    let begun = now();
    let farm = Farm::load_part(&store, None, Part::Cow(&cow)).expect("read").expect("passages");
    assert!(farm.card(&cow, None).is_some());
    say("one cow", begun);
    pages(&store, &cow, &mut out);
    put(&store, made.passages.iter().filter(|p| p.date >= end));
    let begun = now();
    list();
    say("list after a new day", begun);
    let bytes = path.metadata().map_or(0, |data| data.len());
    writeln!(out, "store: {} MB", bytes / 1_000_000).expect("standard output");
}
