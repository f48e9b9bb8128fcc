use super::*;
use crate::record::{AnimalId, HerdEntry, MobilityScore};
use crate::report::invented;
use crate::store::NewPassage;
use ::parquet::record::RowAccessor;
use jiff::civil::date;

/// Two cows on days of two months.
fn store(code: &str) -> Store {
    let store = Store::in_memory().unwrap();
    store.set_setting("farm_code", code).unwrap();
    store.set_setting("shares_with", "Other, Hill vets").unwrap();
    for (animal, day) in [("1", date(2026, 3, 31)), ("2", date(2026, 3, 31)), ("1", date(2026, 4, 1))] {
        add(&store, animal, day);
    }
    store
        .put_herd_entry(&HerdEntry { animal: AnimalId("1".into()), parity: Some(2), calving_date: None })
        .unwrap();
    let score = MobilityScore { date: date(2026, 4, 1), animal: AnimalId("1".into()), score: 3 };
    store.put_mobility_score(&score).unwrap();
    store
}

fn add(store: &Store, animal: &str, day: Date) {
    let passage = invented::passage(animal, day);
    let source = store.begin_source("passages", animal, passage.time).unwrap();
    let new = NewPassage {
        lane: format!("lane {animal}"),
        time: passage.time,
        animal: passage.animal,
        evidence: "tag".into(),
        summary: passage.summary,
        trace: None,
    };
    store.insert_listed(&new, source).unwrap();
}

fn rows(path: &Path) -> Vec<::parquet::record::Row> {
    let reader = SerializedFileReader::new(File::open(path).unwrap()).unwrap();
    reader.get_row_iter(None).unwrap().map(Result::unwrap).collect()
}

fn of(root: &Path, what: &str) -> PathBuf {
    root.join(what.replace("FARM", "farm=hill"))
}

const MARCH: &str = "passages/FARM/month=2026-03/passages.parquet";
const APRIL: &str = "passages/FARM/month=2026-04/passages.parquet";
const OWN: &str = "farms/FARM/farms.parquet";

#[test]
fn a_farm_is_written_by_month_and_again_only_where_it_changed() {
    let folder = tempfile::tempdir().unwrap();
    let (root, store) = (folder.path(), store("hill"));
    let done = write(&store, root, Some("Hill vets")).unwrap();
    assert_eq!((done.passages, done.files_written, done.files_kept), (3, 7, 0));
    let march = rows(&of(root, MARCH));
    assert_eq!((march.len(), rows(&of(root, APRIL)).len()), (2, 1));
    assert_eq!(march[0].get_string(1).unwrap(), "1");
    assert_eq!(march[0].get_float(7).unwrap(), 640.0);
    assert_eq!(rows(&of(root, "scores/FARM/scores.parquet"))[0].get_int(3).unwrap(), 3);
    let own = rows(&of(root, OWN));
    assert_eq!((own[0].get_string(1).unwrap().as_str(), own[0].get_long(5).unwrap()), ("UTC", 3));
    let content = own[0].get_string(6).unwrap().clone();

    let again = write(&store, root, None).unwrap();
    assert_eq!((again.files_written, again.files_kept), (0, 7));
    // A new passage touches its month and the farm's own row.
    add(&store, "3", date(2026, 4, 1));
    let more = write(&store, root, None).unwrap();
    assert_eq!((more.passages, more.files_written, more.files_kept), (4, 2, 5));
    let more = rows(&of(root, OWN))[0].get_string(6).unwrap().clone();
    assert_ne!(more, content);
    // So does what the farm has set.
    store.set_setting("needless_looks", "2").unwrap();
    assert_eq!(write(&store, root, None).unwrap().files_written, 1);
    assert_ne!(rows(&of(root, OWN))[0].get_string(6).unwrap(), &more);
}

#[test]
fn what_was_broken_off_is_no_whole_farm_until_it_is_written_again() {
    let folder = tempfile::tempdir().unwrap();
    let (root, store) = (folder.path(), store("hill"));
    write(&store, root, Some("Hill vets")).unwrap();
    // A folder where a month's file should lie: the export ends there.
    std::fs::remove_dir_all(of(root, "passages/FARM/month=2026-04")).unwrap();
    std::fs::create_dir_all(of(root, APRIL)).unwrap();
    assert!(matches!(write(&store, root, None), Err(DatasetError::File { .. })));
    assert!(!of(root, OWN).exists());
    std::fs::remove_dir_all(of(root, APRIL)).unwrap();
    assert_eq!(write(&store, root, None).unwrap().files_written, 2);
    assert_eq!(rows(&of(root, OWN)).len(), 1);
}

#[test]
fn a_month_that_holds_nothing_any_more_goes() {
    let folder = tempfile::tempdir().unwrap();
    let (root, store) = (folder.path(), store("hill"));
    write(&store, root, Some("Hill vets")).unwrap();
    let april =
        store.passages(&PassageFilter { from: Some(date(2026, 4, 1)), ..PassageFilter::default() }).unwrap();
    assert_eq!(april.len(), 1);
    store.connection().execute("DELETE FROM passages WHERE id = ?1", [april[0].id]).unwrap();
    let done = write(&store, root, None).unwrap();
    assert_eq!((done.passages, done.files_removed, of(root, APRIL).exists()), (2, 1, false));
}

#[test]
fn nothing_leaves_a_farm_that_does_not_share() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("data");
    let store = store("hill");
    store.set_setting("shares_with", "Other").unwrap();
    assert!(matches!(write(&store, &root, Some("Hill vets")), Err(DatasetError::NotShared(_))));
    assert!(!root.exists());
    // Nor to a data set that says only in its marker whose it is.
    assert!(matches!(write(&store, &root, None), Err(DatasetError::NoDataset(_))));
    marker(&root, Some("Hill vets")).unwrap();
    assert!(matches!(write(&store, &root, None), Err(DatasetError::NotShared(_))));
    assert_eq!(std::fs::read_dir(&root).unwrap().count(), 1);
    store.set_setting("shares_with", "Hill vets").unwrap();
    store.set_setting("farm_code", "").unwrap();
    assert!(matches!(write(&store, &root, None), Err(DatasetError::NoCode)));
}

#[test]
fn a_data_set_is_of_one_organisation_and_of_a_schema_that_is_known() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("data");
    assert_eq!(marker(&root, Some("A")).unwrap(), Marker { schema: SCHEMA, organisation: "A".into() });
    assert_eq!(marker(&root, None).unwrap().organisation, "A");
    assert!(matches!(marker(&root, Some("B")), Err(DatasetError::Organisation { .. })));
    std::fs::write(root.join(MARKER), r#"{"schema":2,"organisation":"A"}"#).unwrap();
    assert!(matches!(marker(&root, None), Err(DatasetError::Newer(2))));
    // A folder with other things in it does not become one.
    assert!(matches!(marker(folder.path(), Some("A")), Err(DatasetError::NoDataset(_))));
}

#[test]
fn two_stores_cannot_be_one_farm() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    let (one, other) = (store("hill"), store("hill"));
    write(&one, root, Some("Hill vets")).unwrap();
    assert!(matches!(write(&other, root, None), Err(DatasetError::Twice(_))));
    assert!(matches!(leave(&other, root), Err(DatasetError::Twice(_))));
    // Even while the one is broken off.
    std::fs::remove_file(of(root, OWN)).unwrap();
    assert!(matches!(write(&other, root, None), Err(DatasetError::Twice(_))));
    assert_eq!(leave(&one, root).unwrap().files_removed, 6);
    assert_eq!(write(&other, root, None).unwrap().passages, 3);
}

#[test]
fn units_and_meaning_stand_in_the_file() {
    let columns = passages::columns();
    let reader =
        SerializedFileReader::new(bytes::Bytes::from(file("x", &columns, &[], &[]).unwrap())).unwrap();
    let notes = reader.metadata().file_metadata().key_value_metadata().unwrap().clone();
    let note = |key: &str| notes.iter().find(|note| note.key == key).and_then(|note| note.value.clone());
    assert_eq!(note("unit:lf_share_se_pct").unwrap(), "percentage points");
    assert!(note("about:rear_lwr").unwrap().contains("lighter by heavier"));
    assert_eq!(columns.len(), 59);
    assert!(columns.iter().all(|column| note(&format!("about:{}", column.name)).is_some()));
}

#[test]
fn a_cell_of_another_kind_is_an_error() {
    let columns = [Column::new("x", parquet::Kind::Day, "", "")];
    assert!(file("x", &columns, &[vec![Cell::Text("today".into())]], &[]).is_err());
    assert!(file("x", &columns, &[vec![Cell::Empty], vec![Cell::Day(date(1970, 1, 2))]], &[]).is_ok());
}
