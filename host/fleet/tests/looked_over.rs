//! Bad data sets: each farm that cannot be used is left aside with its reason, and the others go on.

mod support;

use fleet::dataset::{Aside, Dataset};
use fleet::place::Place;
use host::report::exchange::dataset::parquet::file;
use host::report::exchange::dataset::{MARKER, SCHEMA, tables};
use std::fs;
use std::path::Path;
use support::{ORGANISATION, export, farm};

async fn open(root: &Path) -> anyhow::Result<Dataset> {
    Dataset::open(Place::of(root.to_str().unwrap()).unwrap()).await
}

fn codes(dataset: &Dataset) -> Vec<&str> {
    dataset.farms.iter().map(|farm| farm.code.as_str()).collect()
}

/// A file of the table as somebody else would write it.
fn written(schema: u32, store: &str, organisation: &str) -> Vec<u8> {
    let notes = [
        ("fourplate:schema", schema.to_string()),
        ("fourplate:store", store.to_owned()),
        ("fourplate:organisation", organisation.to_owned()),
    ];
    file("scores", &tables::SCORES, &[], &notes).unwrap()
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target)
        } else {
            fs::copy(entry.path(), target).map(|_| ()).unwrap()
        }
    }
}

#[tokio::test]
async fn what_cannot_be_used_is_left_aside_with_its_reason() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    assert!(open(root).await.is_err());
    for (code, seed) in [("a", 1), ("b", 2)] {
        export(&farm(code, seed, 4, 35), root);
    }
    let dataset = open(root).await.unwrap();
    assert_eq!((codes(&dataset), dataset.aside.len()), (vec!["a", "b"], 0));
    let store = dataset.farms[0].store.clone();
    let (scores, own) = (root.join("scores/farm=a/scores.parquet"), root.join("farms/farm=a/farms.parquet"));
    let good = fs::read(&scores).unwrap();

    let aside = async |bytes: &[u8]| {
        fs::write(&scores, bytes).unwrap();
        let dataset = open(root).await.unwrap();
        assert_eq!(codes(&dataset), ["b"]);
        dataset.aside[0].1.clone()
    };
    let torn = Aside::Torn("scores/farm=a/scores.parquet".into());
    for cut in [0, 1, 7, good.len() / 2, good.len() - 1] {
        assert_eq!(aside(&good[..cut]).await, torn, "{cut}");
    }
    assert_eq!(aside(&written(SCHEMA + 1, &store, ORGANISATION)).await, Aside::Newer(SCHEMA + 1));
    assert_eq!(aside(&written(SCHEMA, "another", ORGANISATION)).await, Aside::TwoStores);
    assert_eq!(aside(&written(SCHEMA, &store, "Others")).await, Aside::OtherOrganisation("Others".into()));
    fs::remove_file(&scores).unwrap();
    assert_eq!(open(root).await.unwrap().aside[0].1, Aside::NotWhole);
    fs::write(&scores, &good).unwrap();

    // A month that is missing, and the farm's own row.
    let month = root.join("passages/farm=a/month=2024-03/passages.parquet");
    let passages = fs::read(&month).unwrap();
    fs::remove_file(&month).unwrap();
    assert_eq!(open(root).await.unwrap().aside[0].1, Aside::NotWhole);
    fs::write(&month, passages).unwrap();
    let row = fs::read(&own).unwrap();
    fs::remove_file(&own).unwrap();
    assert_eq!(open(root).await.unwrap().aside[0].1, Aside::NotWhole);
    fs::write(&own, row).unwrap();
    assert_eq!(codes(&open(root).await.unwrap()), ["a", "b"]);

    // One farm twice, under another code.
    for table in ["animals", "cases", "farms", "passages", "scores", "work"] {
        copy(&root.join(table).join("farm=a"), &root.join(table).join("farm=z"));
    }
    let dataset = open(root).await.unwrap();
    assert_eq!(codes(&dataset), ["b"]);
    assert_eq!(
        dataset.aside,
        [("a".into(), Aside::Twice("z".into())), ("z".into(), Aside::Twice("a".into()))]
    );
}

#[tokio::test]
async fn a_farm_of_another_organisation_is_not_taken_in() {
    let folder = tempfile::tempdir().unwrap();
    let (ours, theirs) = (folder.path().join("ours"), folder.path().join("theirs"));
    export(&farm("a", 1, 4, 30), &ours);
    // Their data set, with a farm copied out of ours.
    copy(&ours, &theirs);
    fs::write(theirs.join(MARKER), format!(r#"{{"schema":{SCHEMA},"organisation":"Others"}}"#)).unwrap();
    let dataset = open(&theirs).await.unwrap();
    assert_eq!(dataset.aside, [("a".into(), Aside::OtherOrganisation(ORGANISATION.into()))]);
    assert!(dataset.farms.is_empty());
    fs::write(theirs.join(MARKER), format!(r#"{{"schema":{},"organisation":"Others"}}"#, SCHEMA + 1))
        .unwrap();
    assert!(open(&theirs).await.unwrap_err().to_string().contains("newer"));
}
