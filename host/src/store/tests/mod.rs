use crate::record::{AnimalId, HerdEntry, MobilityScore};
use crate::store::*;
use jiff::{Timestamp, civil::date};
use shared::analysis::{PassageKind, PassageSummary, Quality, Reason};
use shared::plate::PerLeg;
use shared::units::{Estimate, Milliseconds};

fn summary(start_ms: u64, duration_ms: u64, reasons: &[Reason]) -> PassageSummary {
    let mut quality = Quality::default();
    reasons.iter().for_each(|&reason| quality.add(reason));
    PassageSummary {
        start: Milliseconds(start_ms),
        duration: Milliseconds(duration_ms),
        kind: PassageKind::WalkThrough,
        quality,
        readings: 400,
        lost_readings: 0,
        body_weight: Some(Estimate { value: 640.0, se: 2.5 }),
        standing: None,
        walking: PerLeg::default(),
    }
}

fn passage(start_ms: u64, duration_ms: u64, reasons: &[Reason]) -> NewPassage {
    NewPassage {
        lane: "lane".into(),
        time: Timestamp::from_millisecond(start_ms.cast_signed()).unwrap(),
        animal: None,
        evidence: "no tag".into(),
        summary: summary(start_ms, duration_ms, reasons),
        trace: Some(vec![7; 1000]),
    }
}

fn store() -> (Store, SourceId) {
    let store = Store::in_memory().unwrap();
    let source = store.begin_source("readings", "test.csv", Timestamp::UNIX_EPOCH).unwrap();
    (store, source)
}

fn all(store: &Store) -> Vec<crate::record::Passage> {
    store.passages(&PassageFilter::default()).unwrap()
}

#[test]
fn a_passage_comes_back_as_it_went_in() {
    let (store, source) = store();
    let new = passage(1_767_225_600_123, 4_000, &[Reason::Ringing]);
    assert_eq!(store.insert_measured(&new, source).unwrap(), Insert::Added);
    let stored = all(&store);
    assert_eq!(stored.len(), 1);
    assert_eq!(stored[0].summary, new.summary);
    assert_eq!(stored[0].time, new.time);
    assert_eq!(stored[0].date, date(2026, 1, 1));
    assert_eq!(store.trace(stored[0].id).unwrap(), new.trace);
}

#[test]
fn days_follow_the_farm() {
    let (store, source) = store();
    // 23:30 UTC on 31 December is the first of January in Amsterdam.
    store.insert_measured(&passage(1_767_223_800_000, 4_000, &[]), source).unwrap();
    assert_eq!(all(&store)[0].date, date(2025, 12, 31));
    store.set_setting("time_zone", "Europe/Amsterdam").unwrap();
    assert_eq!(all(&store)[0].date, date(2026, 1, 1));
    let day = |day| PassageFilter { from: Some(day), to: Some(day), ..PassageFilter::default() };
    assert_eq!(store.passages(&day(date(2026, 1, 1))).unwrap().len(), 1);
    assert_eq!(store.passages(&day(date(2025, 12, 31))).unwrap().len(), 0);
}

#[test]
fn what_overlaps_in_the_same_lane_is_the_same() {
    let (store, source) = store();
    store.insert_measured(&passage(10_000, 4_000, &[]), source).unwrap();
    assert_eq!(store.insert_measured(&passage(12_000, 4_000, &[]), source).unwrap(), Insert::Already);
    assert_eq!(store.insert_measured(&passage(14_001, 4_000, &[]), source).unwrap(), Insert::Added);
    let other = NewPassage { lane: "other".into(), ..passage(10_000, 4_000, &[]) };
    assert_eq!(store.insert_measured(&other, source).unwrap(), Insert::Added);
    assert_eq!(store.passage_count().unwrap(), 3);
}

#[test]
fn the_whole_passage_takes_the_place_of_its_pieces() {
    let (store, source) = store();
    store.insert_measured(&passage(10_000, 1_000, &[Reason::CutOff]), source).unwrap();
    store.insert_measured(&passage(11_010, 2_000, &[Reason::CutOff]), source).unwrap();
    let whole = passage(10_000, 3_010, &[]);
    assert_eq!(store.insert_measured(&whole, source).unwrap(), Insert::Completed);
    assert_eq!(store.insert_measured(&whole, source).unwrap(), Insert::Already);
    let stored = all(&store);
    assert_eq!(stored.len(), 1);
    assert_eq!(stored[0].summary, whole.summary);
}

#[test]
fn listed_passages_are_told_apart_by_animal() {
    let (store, source) = store();
    let of = |animal: Option<&str>, weight: f32| {
        let mut new = passage(10_000, 1_000, &[]);
        new.summary.body_weight = Some(Estimate { value: weight, se: 1.0 });
        NewPassage { animal: animal.map(|id| AnimalId(id.into())), evidence: "passage table".into(), ..new }
    };
    assert_eq!(store.insert_listed(&of(Some("1"), 600.0), source).unwrap(), Insert::Added);
    assert_eq!(store.insert_listed(&of(Some("2"), 610.0), source).unwrap(), Insert::Added);
    assert_eq!(store.insert_listed(&of(Some("2"), 610.0), source).unwrap(), Insert::Already);
    let (store, source) = self::store();
    store.insert_listed(&of(None, 600.0), source).unwrap();
    assert_eq!(store.insert_listed(&of(Some("1"), 600.0), source).unwrap(), Insert::Completed);
    assert_eq!(all(&store)[0].animal, Some(AnimalId("1".into())));
    // Another that begins before the first is over is another passage, whose name may be missing.
    let later = NewPassage { time: Timestamp::from_millisecond(10_500).unwrap(), ..of(None, 640.0) };
    assert_eq!(store.insert_listed(&later, source).unwrap(), Insert::Added);
    assert_eq!(store.insert_listed(&later, source).unwrap(), Insert::Already);
}

#[test]
fn the_register_keeps_each_calving_and_takes_corrections() {
    let store = Store::in_memory().unwrap();
    let entry = |parity, calving_date| HerdEntry { animal: AnimalId("412".into()), parity, calving_date };
    assert!(store.put_herd_entry(&entry(Some(2), Some(date(2025, 3, 1)))).unwrap());
    assert!(!store.put_herd_entry(&entry(Some(2), Some(date(2025, 3, 1)))).unwrap());
    assert!(!store.put_herd_entry(&entry(None, Some(date(2025, 3, 1)))).unwrap());
    assert!(store.put_herd_entry(&entry(Some(3), Some(date(2025, 3, 1)))).unwrap());
    assert!(store.put_herd_entry(&entry(Some(4), Some(date(2026, 4, 1)))).unwrap());
    assert_eq!(
        store.herd().unwrap(),
        [entry(Some(3), Some(date(2025, 3, 1))), entry(Some(4), Some(date(2026, 4, 1)))]
    );
    let score = |score| MobilityScore { date: date(2026, 1, 1), animal: AnimalId("412".into()), score };
    assert!(store.put_mobility_score(&score(1)).unwrap());
    assert!(!store.put_mobility_score(&score(1)).unwrap());
    assert!(store.put_mobility_score(&score(2)).unwrap());
    assert_eq!(store.mobility_scores().unwrap(), [score(2)]);
}

#[test]
fn settings_have_defaults_and_are_checked() {
    let store = Store::in_memory().unwrap();
    assert_eq!(store.setting("time_zone").unwrap().as_deref(), Some("UTC"));
    assert_eq!(store.setting("nonsense").unwrap(), None);
    for (key, value) in [("nonsense", "1"), ("time_zone", "Mars/Olympus"), ("capacity_a_day", "0")] {
        assert!(matches!(store.set_setting(key, value), Err(StoreError::Setting { .. })), "{key}");
    }
    for setting in SETTINGS {
        assert_eq!((setting.check)(setting.default), Ok(()), "{}", setting.key);
    }
}

#[test]
fn a_failed_batch_leaves_nothing() {
    let (store, source) = store();
    let result: Result<(), StoreError> = store.batch(|store| {
        store.insert_measured(&passage(10_000, 1_000, &[]), source)?;
        Err(StoreError::Locked)
    });
    assert!(result.is_err());
    assert_eq!(store.passage_count().unwrap(), 0);
}

#[test]
fn a_newer_store_and_a_foreign_file_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("deep/er/store.sqlite");
    Store::open(&path).unwrap().connection.pragma_update(None, "user_version", 9_999).unwrap();
    assert!(matches!(Store::open(&path), Err(StoreError::Newer { found: 9_999, .. })));

    let foreign = folder.path().join("foreign.sqlite");
    Connection::open(&foreign).unwrap().execute_batch("CREATE TABLE t (x)").unwrap();
    assert!(matches!(Store::open(&foreign), Err(StoreError::NotAStore)));
    let text = folder.path().join("text");
    std::fs::write(&text, "time,lf,rf,lr,rr\n".repeat(100)).unwrap();
    assert!(matches!(Store::open(&text), Err(StoreError::NotAStore)));
}

#[test]
fn a_full_disk_is_said_and_keeps_what_was_there() {
    let (store, source) = store();
    store.insert_measured(&passage(0, 1_000, &[]), source).unwrap();
    let pages: i64 = store.connection.pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
    store.connection.pragma_update_and_check(None, "max_page_count", pages + 2, |_| Ok(())).unwrap();
    let mut kept = 1;
    let error = loop {
        match store.batch(|store| store.insert_measured(&passage(kept * 10_000, 1_000, &[]), source)) {
            Ok(_) => kept += 1,
            Err(error) => break error,
        }
    };
    assert!(matches!(error, StoreError::Full), "{error}");
    assert_eq!(store.passage_count().unwrap(), kept);
}

#[test]
fn a_locked_store_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("store.sqlite");
    let first = Store::open(&path).unwrap();
    let second = Store::open(&path).unwrap();
    second.connection.busy_timeout(Duration::ZERO).unwrap();
    let inner: Result<(), StoreError> = first.batch(|_| {
        let refused = second.batch(|_| Ok::<_, StoreError>(()));
        assert!(matches!(refused, Err(StoreError::Locked)));
        Ok(())
    });
    inner.unwrap();
}

#[test]
fn a_store_that_cannot_be_written_is_read_all_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a store.sqlite");
    assert!(Store::open_to_read(&path).is_err(), "none is made");
    let store = Store::open(&path).unwrap();
    store.can_be_written().unwrap();
    store.set_setting("name", "Hill End").unwrap();
    let name = |store: &Store| store.setting("name").unwrap().unwrap();
    assert_eq!(name(&Store::open_to_read(&path).unwrap()), "Hill End", "while another has it open");
    drop(store);
    let read = Store::open_to_read(&path).unwrap();
    assert_eq!(name(&read), "Hill End");
    assert!(matches!(read.can_be_written(), Err(StoreError::ReadOnly)));
    assert!(matches!(read.set_setting("name", "Low End"), Err(StoreError::ReadOnly)));
    rusqlite::Connection::open(&path).unwrap().pragma_update(None, "user_version", 1).unwrap();
    assert!(
        matches!(Store::open_to_read(&path), Err(StoreError::ReadOnly)),
        "an old schema must be brought up first"
    );
}

#[test]
fn traces_of_any_kind_and_length_come_back_whole() {
    let (store, source) = store();
    // Nothing repeats in the first, so that deflating cannot make it smaller.
    let mut state = 1_u32;
    let noise = std::iter::repeat_with(|| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        state.to_be_bytes()[0]
    });
    let traces = [noise.take(300_000).collect(), vec![0; 300_000], Vec::new(), vec![1]];
    for (trace, start_ms) in traces.into_iter().zip((0..).step_by(60_000)) {
        let new = NewPassage { trace: Some(trace), ..passage(start_ms, 4_000, &[]) };
        store.insert_measured(&new, source).unwrap();
        let stored = store.passages(&PassageFilter::default()).unwrap();
        assert_eq!(store.trace(stored.last().unwrap().id).unwrap(), new.trace);
    }
}

#[test]
fn what_a_word_means_is_the_same_asked_once_or_for_each_row() {
    let (store, _) = store();
    let sql = "INSERT INTO animals VALUES ('animal-1', '412', ''), ('animal-2', '7', ''), ('7', '9', '');
        INSERT INTO ear_tags VALUES ('tag', '2026-01-10', 'animal-1'), ('tag', '2026-02-01', 'animal-2');";
    store.connection.execute_batch(sql).unwrap();
    let mut known = Meanings::default();
    for called in ["tag", "412", "7", "9", "nobody"] {
        for day in
            [date(2025, 12, 31), date(2026, 1, 10), date(2026, 1, 31), date(2026, 2, 1), date(2026, 3, 1)]
        {
            let once = store.animal_meant(&mut known, called, day).unwrap();
            assert_eq!(once, store.animal_called(called, &day.to_string()).unwrap(), "{called} on {day}");
        }
    }
    assert_eq!(store.animal_meant(&mut known, "tag", date(2026, 1, 31)).unwrap(), "animal-1");
    assert_eq!(store.animal_meant(&mut known, "412", date(2026, 1, 31)).unwrap(), "animal-1");
    assert_eq!(store.animal_meant(&mut known, "7", date(2026, 1, 31)).unwrap(), "7", "an animal's id");
}
