//! The list of a herd, scored anew and from kept rows. `YEARS=5` before the command: as many years.

use divan::Bencher;
use host::{
    report::farm::{Farm, Part},
    store::{Store, StoreError},
};
use std::{path::Path, sync::LazyLock};
use tempfile::TempDir;
use tests::simulated_herd::{Scenario, herd, listed};

/// The herd.
const COWS: usize = 200;
const NAME: &str = "herd.sqlite";

/// A store with the herd's passages that nobody has asked for a list.
static UNASKED: LazyLock<TempDir> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a folder");
    let years = std::env::var("YEARS").map_or(1, |years| years.parse().expect("a number of years"));
    let made =
        herd(&Scenario { cows: COWS, days: 365 * years, missed: 0.0, onset: 0.003, ..Scenario::default() });
    let store = Store::open(&folder.path().join(NAME)).expect("a store");
    store
        .batch(|store| {
            for entry in &made.register {
                store.put_herd_entry(entry)?;
            }
            let source = store.begin_source("passages", "herd", jiff::Timestamp::UNIX_EPOCH)?;
            for passage in &made.passages {
                store.insert_listed(&listed(passage), source)?;
            }
            Ok::<_, StoreError>(())
        })
        .expect("stored");
    folder
});

fn copied(to: &Path) -> Store {
    let to = to.join(NAME);
    std::fs::copy(UNASKED.path().join(NAME), &to).expect("copied");
    Store::open(&to).expect("a store")
}

fn list(store: &Store) -> usize {
    let farm = Farm::load_part(store, None, Part::List).expect("read").expect("passages");
    farm.morning(None).cows.len()
}

/// Everything read, scored and kept.
#[divan::bench(sample_count = 3, sample_size = 1)]
fn first(bencher: Bencher<'_, '_>) {
    let folder = tempfile::tempdir().expect("a folder");
    bencher.with_inputs(|| copied(folder.path())).bench_local_refs(|store| list(store));
}

/// From what was kept.
#[divan::bench(sample_count = 20)]
fn later(bencher: Bencher<'_, '_>) {
    let folder = tempfile::tempdir().expect("a folder");
    let store = copied(folder.path());
    list(&store);
    bencher.bench_local(|| list(&store));
}
