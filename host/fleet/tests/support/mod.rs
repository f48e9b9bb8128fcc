//! Farms with stores of their own, exported into one data set.
#![allow(dead_code, reason = "each test uses a part")]

#[path = "../../../../tests/support/simulated_herd.rs"]
#[allow(dead_code, missing_docs, reason = "made for other tests too")]
pub mod simulated_herd;

use host::record::case::Case;
use host::record::mark::{Mark, Marked};
use host::record::{AnimalId, MobilityScore};
use host::report::exchange::dataset;
use host::store::Store;
use jiff::{Timestamp, ToSpan};
use simulated_herd::{START, Scenario, herd, listed, name};
use std::path::Path;

pub const ORGANISATION: &str = "Hill vets";

/// A farm's store with passages and a register alone.
pub fn bare(code: &str, seed: u64, cows: usize, days: i64) -> Store {
    watched(code, seed, cows, days).0
}

fn watched(code: &str, seed: u64, cows: usize, days: i64) -> (Store, simulated_herd::SimulatedHerd) {
    let store = Store::in_memory().unwrap();
    store.set_setting("farm_code", code).unwrap();
    store.set_setting("shares_with", ORGANISATION).unwrap();
    store.set_setting("time_zone", "Europe/Dublin").unwrap();
    let herd = herd(&Scenario { seed, cows, days, ..Scenario::default() });
    store
        .batch(|store| {
            let source = store.begin_source("passages", code, Timestamp::UNIX_EPOCH)?;
            for passage in &herd.passages {
                store.insert_listed(&listed(passage), source)?;
            }
            for entry in &herd.register {
                store.put_herd_entry(entry)?;
            }
            Ok::<_, host::store::StoreError>(())
        })
        .unwrap();
    (store, herd)
}

/// A farm's store: a simulated herd, scored by a person each week, some feet treated, a cow looked at.
pub fn farm(code: &str, seed: u64, cows: usize, days: i64) -> Store {
    let (store, herd) = watched(code, seed, cows, days);
    for (cow, truth) in herd.truth.iter().enumerate() {
        for day in truth.iter().filter(|day| day.day % 7 == 3) {
            let date = START.checked_add(day.day.days()).unwrap();
            store.put_mobility_score(&MobilityScore { date, animal: name(cow), score: day.score }).unwrap();
        }
        if let Some(day) = truth.iter().find(|day| day.score >= 2) {
            treat(&store, name(cow), START.checked_add((day.day + 2).days()).unwrap(), cow % 2 == 0);
        }
    }
    let mark = Marked {
        date: START.checked_add(20.days()).unwrap(),
        animal: name(0),
        mark: Mark::Looked,
        who: "A".into(),
    };
    store.put_mark(&mark, Timestamp::UNIX_EPOCH).unwrap();
    store
}

fn treat(store: &Store, animal: AnimalId, date: jiff::civil::Date, block: bool) {
    let mut case = Case::new(animal, date);
    let fields = [("leg", "RR"), ("claw", "outer"), ("lesion", "WL"), ("who", "A"), ("block_claw", "inner")];
    for (field, value) in fields.into_iter().take(if block { 5 } else { 4 }) {
        case.set_field(field, value).unwrap();
    }
    store.add_case(&case, Timestamp::UNIX_EPOCH).unwrap();
}

/// Brings the farm's part of the data set up to date.
pub fn export(store: &Store, root: &Path) {
    dataset::write(store, root, Some(ORGANISATION)).unwrap();
}
