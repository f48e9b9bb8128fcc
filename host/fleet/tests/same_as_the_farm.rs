//! What comes out over many farms is what each farm's own program says, to the digit; and only of farms that share.

mod support;

use datafusion::arrow::array::{Array, RecordBatch, StructArray};
use fleet::dataset::Dataset;
use fleet::place::Place;
use fleet::rows::batch;
use fleet::score::{Scored, current, score};
use fleet::session::session;
use host::report::exchange::dataset::{self, tables};
use host::score::kept;
use host::store::{KeptRows, Store};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use std::path::Path;
use support::{export, farm};

/// Scores what has changed, in this process.
async fn scored(root: &Path, results: &Path) -> Scored {
    let session = session(None).await.unwrap();
    let dataset = Dataset::open(Place::of(root.to_str().unwrap()).unwrap()).await.unwrap();
    let to = Place::made(results.to_str().unwrap()).unwrap();
    let found = score(&session, &dataset, &to, |_, _| {}).await.unwrap();
    assert_eq!(current(&dataset, &to).await.unwrap().1.len(), 0);
    found
}

/// The days that were kept of a farm.
fn kept_days(results: &Path, code: &str) -> StructArray {
    let path = results.join(format!("days/farm={code}/days.parquet"));
    let reader = ParquetRecordBatchReaderBuilder::try_new(std::fs::File::open(path).unwrap()).unwrap();
    let batches: Vec<RecordBatch> =
        reader.with_batch_size(1_000_000).build().unwrap().map(Result::unwrap).collect();
    assert_eq!(batches.len(), 1);
    StructArray::from(batches[0].clone())
}

/// The days as the farm's own program has them.
fn own_days(store: &Store) -> StructArray {
    let rows = kept::rows(store, None, |_| KeptRows::All).unwrap().unwrap().1;
    batch(&tables::DAYS, &tables::days(&rows.days)).unwrap()
}

#[tokio::test]
async fn each_farms_days_are_its_own_to_the_digit() {
    let folder = tempfile::tempdir().unwrap();
    let (root, results) = (folder.path().join("data"), folder.path().join("results"));
    let farms = [("a", 1, 20, 60), ("b", 2, 12, 75), ("c", 3, 30, 40)];
    let stores = farms.map(|(code, seed, cows, days)| (code, farm(code, seed, cows, days)));
    // What bears on a farm's score goes with its data.
    stores[1].1.set_setting("needless_looks", "4").unwrap();
    stores[2].1.set_setting("model_prior", "-0.4 0.3").unwrap();
    stores.iter().for_each(|(_, store)| export(store, &root));
    let first = scored(&root, &results).await;
    assert_eq!((first.scored, first.as_they_were, first.aside), (3, 0, 0));
    for (code, store) in &stores {
        let (kept, own) = (kept_days(&results, code), own_days(store));
        assert!(own.len() > 400 && kept == own, "{code}: {} {}", kept.len(), own.len());
    }
    // Both settings moved something: without them the rows are others.
    for at in [1, 2] {
        let (code, store) = &stores[at];
        store.set_setting("needless_looks", "1").unwrap();
        store.set_setting("model_prior", "").unwrap();
        assert!(kept_days(&results, code) != own_days(store), "{code}");
    }

    // Only what has changed is scored again.
    export(&stores[1].1, &root);
    let again = scored(&root, &results).await;
    assert_eq!((again.scored, again.as_they_were), (1, 2));
    assert!(kept_days(&results, "b") == own_days(&stores[1].1));

    // A farm that leaves takes its rows along.
    stores[0].1.set_setting("shares_with", "").unwrap();
    assert!(dataset::write(&stores[0].1, &root, None).is_err());
    dataset::leave(&stores[0].1, &root).unwrap();
    let left = scored(&root, &results).await;
    assert_eq!((left.scored, left.as_they_were, left.taken_away), (0, 2, 1));
    assert!(!results.join("days/farm=a/days.parquet").exists());
    assert!(!results.join("observers/farm=a/observers.parquet").exists());
}
