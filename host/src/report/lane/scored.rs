//! What the score found of the plates: what every cow shows at once is the lane. The device cannot know it.

use crate::record::finding::LaneFault;
use crate::record::{LaneCause, LaneDay};
use crate::report::lane::{LaneReport, Remark, Urgency, since};
use jiff::{Timestamp, tz::TimeZone};

/// A day's estimate says nothing of a lane that no cow has crossed for longer, days; our choice.
const STALE_DAYS: i32 = 7;

impl LaneReport {
    /// What the last days of the score say of this lane.
    pub(super) fn scored(&self, now: Timestamp, zone: &TimeZone, remarks: &mut Vec<Remark>) {
        let Some(latest) = self.days.last() else { return };
        let today = now.to_zoned_datetime(zone.clone()).date();
        if (today - latest.date).get_days() > STALE_DAYS {
            return;
        }
        let plate_is_sure = latest.cause == LaneCause::Plate;
        if let (Some(plate), Some(error_pct)) = (latest.plate, latest.plate_error_pct) {
            let since = since(self.since_ms(latest, zone), now, zone);
            remarks.push(if plate_is_sure {
                Urgency::Soon.of(LaneFault::PlateOff { plate, error_pct, since })
            } else {
                Urgency::Note.of(LaneFault::PlateOrHerd { plate, error_pct, since })
            });
        } else if let Some(remark) = &latest.remark {
            let level = if plate_is_sure { Urgency::Soon } else { Urgency::Note };
            remarks.push(level.of(LaneFault::Herd { remark: remark.clone() }));
        }
    }

    /// Since when the same has been said of the same plate without a day between, UTC, ms since the Unix epoch.
    fn since_ms(&self, latest: &LaneDay, zone: &TimeZone) -> i64 {
        let same = |day: &&LaneDay| {
            day.plate == latest.plate
                && day.plate_error_pct.map(f64::is_sign_negative)
                    == latest.plate_error_pct.map(f64::is_sign_negative)
        };
        let first = self.days.iter().rev().take_while(same).last().unwrap_or(latest);
        first.date.to_zoned_datetime(zone.clone()).map_or(0, |start| start.timestamp().as_millisecond())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::fake_device::hello;
    use crate::report::invented::lane_day;
    use crate::report::lane::lanes;
    use crate::report::lane::tests::lane;
    use crate::report::words::{Language, Words};
    use crate::simulated_herd::{START, Scenario, herd, listed};
    use crate::store::Store;
    use jiff::{ToSpan, civil::date};
    use shared::plate::Plate;
    use shared::wire::DeviceId;

    fn day(day: i8, plate: Option<Plate>, error: f64) -> LaneDay {
        LaneDay {
            cause: if plate.is_some() { LaneCause::Plate } else { LaneCause::Steady },
            plate,
            plate_error_pct: plate.map(|_| error),
            ..lane_day("East", date(2026, 1, day))
        }
    }

    /// The remarks of Thursday 8 January 2026, noon.
    fn said(days: Vec<LaneDay>) -> Vec<(Urgency, String)> {
        let lane = LaneReport { days, ..lane(|_, _| {}) };
        let now = Timestamp::from_millisecond(1_767_873_600_000).unwrap();
        let words = Words::new(Language::English);
        lane.remarks(now, &TimeZone::UTC)
            .into_iter()
            .map(|remark| (remark.level, words.lane_fault(&remark.fault)))
            .collect()
    }

    #[test]
    fn a_light_plate_is_said_with_its_day_and_what_to_do() {
        let days = vec![
            day(4, Some(Plate::RR), -1.6),
            day(5, None, 0.0),
            day(6, Some(Plate::RR), -2.2),
            day(7, Some(Plate::RR), -3.04),
        ];
        assert_eq!(
            said(days),
            [(
                Urgency::Soon,
                "plate RR reads 3.0 % less than it should since 6 Jan: clean under it or calibrate; the scores allow for it"
                    .to_owned()
            )]
        );
    }

    #[test]
    fn the_other_way_is_another_trouble() {
        let days = vec![day(6, Some(Plate::LF), -2.0), day(7, Some(Plate::LF), 2.0)];
        assert!(said(days)[0].1.starts_with("plate LF reads 2.0 % more than it should since 7 Jan"));
    }

    #[test]
    fn a_plate_that_is_right_again_and_a_lane_not_used_are_not_spoken_of() {
        assert_eq!(said(vec![day(6, Some(Plate::LF), -2.0), day(7, None, 0.0)]), []);
        let old = LaneDay { date: date(2025, 12, 20), ..day(1, Some(Plate::LF), -2.0) };
        assert_eq!(said(vec![old]), []);
    }

    #[test]
    fn where_other_lanes_show_the_same_it_is_only_noted() {
        let unsure = LaneDay { cause: LaneCause::CannotTell, ..day(7, Some(Plate::LR), -2.0) };
        let said = said(vec![unsure]);
        assert_eq!(said[0].0, Urgency::Note);
        assert!(said[0].1.contains("and so do other lanes"), "{said:?}");
    }

    #[test]
    fn a_plate_that_drifts_by_4_percent_reaches_the_words_from_the_passages() {
        let drift = Some((3, 20, 8, -0.04));
        let made = herd(&Scenario { cows: 60, days: 40, onset: 0.0, drift, ..Scenario::default() });
        let store = Store::in_memory().unwrap();
        let source = store.begin_source("passages", "invented", Timestamp::UNIX_EPOCH).unwrap();
        for passage in &made.passages {
            store.insert_listed(&listed(passage), source).unwrap();
        }
        let now = START.saturating_add(40.days()).to_zoned_datetime(TimeZone::UTC).unwrap().timestamp();
        store.meet_device(&hello(DeviceId(1), &made.passages[0].lane), now.as_millisecond()).unwrap();
        let lanes = lanes(&store, now).unwrap();
        let remarks = lanes[0].remarks(now, &TimeZone::UTC);
        let light = |remark: &Remark| matches!(remark.fault, LaneFault::PlateOff { plate: Plate::RR, error_pct, .. } if error_pct < 0.0);
        assert!(remarks.iter().any(light), "{remarks:?}");
    }
}
