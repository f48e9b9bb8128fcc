//! Taking an import back: what it alone brought goes, and the passages near its tag reads are named anew.

use crate::identity;
use crate::store::{SourceId, Store, StoreError, TakenBack};
use jiff::Timestamp;

/// Takes an import back; `None` for one that does not exist, or is taken back already.
///
/// # Errors
/// When the store cannot be written; then nothing is taken back.
pub fn undo(store: &Store, source: SourceId, now: Timestamp) -> Result<Option<TakenBack>, StoreError> {
    store.batch(|store| {
        let Some(done) = store.take_back(source, now)? else { return Ok(None) };
        for (lane, from, to) in &done.lanes {
            identity::rematch(store, lane, *from, *to)?;
        }
        Ok(Some(done))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::import::records::{herd, registers, trims};
    use crate::import::{Input, passages};
    use crate::store::PassageFilter;

    const NOW: Timestamp = Timestamp::UNIX_EPOCH;

    fn file(text: &'static str) -> Input {
        Input::of("a file", Box::new(text.as_bytes()), None)
    }

    /// Everything that can be told from outside.
    fn told(store: &Store) -> String {
        let passages = store.passages(&PassageFilter::default()).unwrap();
        let named: Vec<_> = passages.iter().map(|p| (p.time, p.animal.clone())).collect();
        format!(
            "{named:?} {:?} {:?} {:?}",
            store.herd().unwrap(),
            store.mobility_scores().unwrap(),
            store.cases(None).unwrap()
        )
    }

    const PASSAGES: &str = "animal_id,time,lf_share_pct,rf_share_pct,lr_share_pct,rr_share_pct\n\
        ,2026-03-01T06:00:00Z,27,27,23,23\n,2026-03-01T06:01:00Z,27,27,23,23\n";

    fn base() -> Store {
        let store = Store::in_memory().unwrap();
        assert_eq!(passages::passages(&store, file(PASSAGES), "exit").unwrap().added, 2);
        registers::tags(&store, file("time,animal_id\n2026-03-01T06:00:01Z,101\n"), "exit").unwrap();
        herd::herd(&store, file("animal_id,parity,calving_date\n101,2,2026-01-01\n")).unwrap();
        registers::scores(&store, file("date,animal_id,score\n2026-03-01,101,1\n")).unwrap();
        trims::import(&store, file("date,animal_id,leg,lesion\n2026-03-02,101,RR,SU\n")).unwrap();
        store
    }

    #[test]
    fn each_import_goes_whole_and_nothing_else_moves() {
        let store = base();
        let before = told(&store);
        registers::tags(
            &store,
            file("time,animal_id\n2026-03-01T06:01:01Z,102\n2026-03-01T06:00:01Z,101\n"),
            "exit",
        )
        .unwrap();
        herd::herd(&store, file("animal_id,parity,calving_date\n101,3,2026-01-01\n102,1,2026-02-01\n"))
            .unwrap();
        registers::scores(&store, file("date,animal_id,score\n2026-03-01,101,3\n2026-03-01,102,0\n"))
            .unwrap();
        trims::import(
            &store,
            file("date,animal_id,leg,lesion\n2026-03-02,101,RR,SU\n2026-03-03,102,LR,WL\n"),
        )
        .unwrap();
        passages::passages(
            &store,
            file("time,animal_id,body_weight_kg\n2026-03-02T06:00:00Z,102,610\n"),
            "exit",
        )
        .unwrap();
        assert_ne!(told(&store), before);
        assert!(told(&store).contains("102"));
        for source in (6..=10).rev() {
            let done = undo(&store, SourceId(source), NOW).unwrap().expect("there is such an import");
            assert!(done.rows > 0, "{source}");
        }
        assert_eq!(told(&store), before);
        assert_eq!(undo(&store, SourceId(10), NOW).unwrap(), None, "taken back once");
        assert_eq!(undo(&store, SourceId(99), NOW).unwrap(), None);
        assert!(store.sources().unwrap()[9].undone.is_some());
    }

    #[test]
    fn the_same_file_can_come_again() {
        let store = base();
        let before = told(&store);
        undo(&store, SourceId(2), NOW).unwrap();
        assert!(store.passages(&PassageFilter::default()).unwrap().iter().all(|p| p.animal.is_none()));
        registers::tags(&store, file("time,animal_id\n2026-03-01T06:00:01Z,101\n"), "exit").unwrap();
        assert_eq!(told(&store), before);
    }

    #[test]
    fn a_case_that_people_worked_on_since_is_withdrawn_and_kept() {
        use crate::record::case::{BlockSeen, FollowUp};
        let store = base();
        let look = FollowUp {
            date: jiff::civil::date(2026, 3, 20),
            block: Some(BlockSeen::On),
            height_mm: None,
            course: None,
            note: None,
            who: None,
        };
        store.add_follow_up(1, &look, NOW).unwrap();
        let done = undo(&store, SourceId(5), NOW).unwrap().unwrap();
        assert_eq!((done.rows, done.withdrawn), (0, 1));
        let kept = store.cases(None).unwrap();
        assert!(kept[0].withdrawn.is_some() && kept[0].follow_ups.len() == 1);
    }
}
