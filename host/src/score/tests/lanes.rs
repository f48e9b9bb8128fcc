//! What the whole herd shows at once: a plate, a floor, or nothing for a year.

use super::{date, flagged, score};
use crate::record::LaneDay;
use crate::record::finding::LaneRemark;
use crate::simulated_herd::{Scenario, SimulatedHerd, herd};
use shared::plate::Plate;

#[test]
fn a_drifting_plate_is_said_and_flags_nobody() {
    let drift = Some((3, 30, 10, -0.04));
    let made = herd(&Scenario { cows: 60, days: 60, onset: 0.0, drift, ..Scenario::default() });
    let run = score(&made.passages, &made.register, &[]);
    assert!(!run.days.iter().any(|d| flagged(d.flag)));
    let last = run.lanes.last().expect("a lane day");
    assert!(
        matches!(last.remark, Some(LaneRemark::PlateOff { plate: Plate::RR, error_pct }) if error_pct < 0.0),
        "{last:?}"
    );
    assert!((last.plate_error_pct.unwrap() + 4.0).abs() < 1.5, "{last:?}");
    let before = &run.lanes[25];
    assert_eq!(before.remark, None, "{before:?}");
}

fn year(seed: u64) -> SimulatedHerd {
    herd(&Scenario { seed, cows: 60, days: 365, ..Scenario::default() })
}

#[test]
fn a_herd_that_does_not_change_reads_steady_for_a_year() {
    for seed in [11, 12] {
        let made = year(seed);
        let lanes = score(&made.passages, &made.register, &[]).lanes;
        let told: Vec<_> = lanes.iter().filter_map(|lane| lane.remark.as_ref()).collect();
        assert!(told.len() * 100 <= 3 * lanes.len(), "seed {seed}: {told:?}");
        let last = lanes.last().expect("a day");
        assert!(last.sway_pct.abs() < 5.0 && last.stance_time_pct.abs() < 5.0, "seed {seed}: {last:?}");
    }
}

#[test]
fn a_slippery_floor_is_told_of_within_ten_days_and_for_months() {
    let mut made = year(11);
    for passage in made.passages.iter_mut().filter(|passage| passage.date >= date(200)) {
        passage.summary.walking.0.iter_mut().for_each(|contacts| contacts.stance_s *= 1.10);
        if let Some(standing) = &mut passage.summary.standing {
            standing.share_sd_pct.0.iter_mut().for_each(|sd| *sd *= 1.3);
        }
    }
    let lanes = score(&made.passages, &made.register, &[]).lanes;
    let told = |lane: &&LaneDay| matches!(lane.remark, Some(LaneRemark::HerdMoves { .. }));
    let before = lanes.iter().filter(|lane| lane.date < date(200)).filter(told).count();
    assert_eq!(before, 0);
    let first = lanes.iter().filter(|lane| lane.date >= date(200)).find(told).expect("told").date;
    assert!(first <= date(210), "{first}");
    let later = lanes.iter().filter(|lane| lane.date >= date(210) && lane.date < date(300));
    assert!(later.clone().filter(told).count() * 10 >= 9 * later.count());
}
