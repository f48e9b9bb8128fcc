//! Lanes that came in by file: no device of theirs was ever heard, but their passages say how they are.

use crate::record::finding::{LaneRemark, codes};
use crate::report::farm::readers;
use crate::report::lane::LaneReport;
use crate::report::list::marks::Marks;
use crate::report::list::seen::seen;
use crate::score::kept;
use crate::store::{KeptRows, PassageFilter, Store};
use jiff::{civil::Date, tz::TimeZone};
use serde::Serialize;

/// What is known of such a lane.
#[derive(Clone, Debug, Serialize)]
pub struct FileLane {
    /// Its name.
    pub lane: String,
    /// Its last day with a passage.
    pub last_day: Date,
    /// Passages of that day.
    pub passages: usize,
    /// Those of them that cannot be scored.
    pub unusable: usize,
    /// Those of them whose cow is not known.
    pub unidentified: usize,
    /// What is said of it on that day.
    #[serde(serialize_with = "codes")]
    pub remarks: Vec<LaneRemark>,
}

/// The lanes of the store that no device of `heard` is at.
///
/// # Errors
/// When the store cannot be read.
pub fn file_lanes(store: &Store, heard: &[LaneReport], zone: &TimeZone) -> anyhow::Result<Vec<FileLane>> {
    let scored = kept::rows(store, None, KeptRows::Day)?.map(|(_, rows)| rows.lanes).unwrap_or_default();
    let mut found = Vec::new();
    for (lane, last) in store.lanes_seen()? {
        if heard.iter().any(|other| other.device.lane() == lane) {
            continue;
        }
        let last_day = zone.to_datetime(last).date();
        let day = PassageFilter { from: Some(last_day), to: Some(last_day), animal: None };
        let mut passages = store.passages(&day)?;
        passages.retain(|passage| passage.lane == lane);
        let seen = seen(&passages, &[], &Marks::default(), last_day);
        let said = scored.iter().find(|day| day.lane == lane && day.date == last_day);
        let reader = readers(store, last_day)?.get(&lane).copied();
        found.push(FileLane {
            last_day,
            passages: seen.passages,
            unusable: seen.unusable,
            unidentified: seen.unidentified,
            remarks: said
                .and_then(|day| day.remark.clone())
                .into_iter()
                .chain(reader.map(crate::store::ReaderOffset::remark))
                .collect(),
            lane,
        });
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arithmetic::dates::day_number;
    use crate::import::{Input, passages};
    use crate::record::LaneDay;
    use crate::report::invented::lane_day;
    use crate::score::checksum::checksum;
    use crate::store::NewRows;
    use jiff::civil::date;

    #[test]
    fn a_lane_that_came_by_file_is_told_of() {
        let store = Store::in_memory().unwrap();
        let table = "animal_id,time,body_weight_kg,quality\n1,2026-03-01T06:00:00Z,640,good\n\
            2,2026-03-02T06:00:00Z,640,good\n,2026-03-02T06:01:00Z,640,unusable\n";
        passages::passages(&store, Input::of("a file", Box::new(table.as_bytes()), None), "exit").unwrap();
        let lanes = file_lanes(&store, &[], &TimeZone::UTC).unwrap();
        assert_eq!(lanes.len(), 1);
        let lane = &lanes[0];
        assert_eq!((lane.lane.as_str(), lane.last_day), ("exit", date(2026, 3, 2)));
        assert_eq!((lane.passages, lane.unusable, lane.unidentified), (2, 1, 1));
    }

    #[test]
    fn each_lane_has_its_own_remark_and_not_that_of_the_other() {
        let store = Store::in_memory().expect("a store");
        let table = "animal_id,time,body_weight_kg,quality\n1,2026-03-02T06:00:00Z,640,good\n";
        for lane in ["entry", "exit"] {
            let input = Input::of("a file", Box::new(table.as_bytes()), None);
            passages::passages(&store, input, lane).expect("read");
        }
        let day = date(2026, 3, 2);
        let moved = |change_pct| LaneRemark::FrontShareMoved { change_pct };
        let kept = [("entry", 2.0), ("exit", -3.0)]
            .map(|(lane, by)| LaneDay { remark: Some(moved(by)), ..lane_day(lane, day) });
        let rows = NewRows {
            after: i64::MIN,
            to: day_number(day),
            cows: Vec::new(),
            lanes: kept.iter().map(|lane| (day_number(day), lane)).collect(),
            checkpoints: &[],
            wanted: &[],
        };
        let seen = store.kept_scores().expect("a state").change;
        assert!(store.keep_scores(seen, checksum(), &rows).expect("kept"));
        let mut lanes = file_lanes(&store, &[], &TimeZone::UTC).expect("lanes");
        lanes.sort_by(|a, b| a.lane.cmp(&b.lane));
        let said: Vec<_> = lanes.into_iter().map(|lane| (lane.lane, lane.remarks)).collect();
        assert_eq!(said, [("entry".to_owned(), vec![moved(2.0)]), ("exit".to_owned(), vec![moved(-3.0)])]);
    }
}
