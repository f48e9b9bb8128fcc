//! Gross faults of the plates: named with their size from a day of 40 cows, and no cow scored by them.

use super::*;
use crate::record::LaneCause;
use crate::record::finding::{LaneRemark, Swap};
use shared::plate::Plate;

/// The loads of passages from a day on, kg by plate, as a fault changes them; peaks too.
fn through(passages: &mut [Passage], from: i64, fault: impl Fn([f32; 4]) -> [f32; 4]) {
    for passage in passages.iter_mut().filter(|passage| passage.date >= date(from)) {
        let Some(weight) = &mut passage.summary.body_weight else { continue };
        let before = weight.value;
        let loads = passage.summary.standing.map_or([25.0; 4], |standing| standing.share_pct.0);
        let kg = fault(loads.map(|share| share * before / 100.0));
        let after: f32 = kg.iter().sum();
        weight.value = after;
        if let Some(standing) = &mut passage.summary.standing {
            standing.share_pct.0 = kg.map(|kg| 100.0 * kg / after);
        }
        let peaks = Leg::ALL.map(|leg| passage.summary.walking[leg].peak_pct * before / 100.0);
        for (leg, kg) in Leg::ALL.into_iter().zip(fault(peaks)) {
            passage.summary.walking[leg].peak_pct = 100.0 * kg / after;
        }
    }
}

const FAULT: i64 = 12;

/// A fault for which no cow is scored.
fn gross(remark: &LaneRemark) -> bool {
    matches!(
        remark,
        LaneRemark::PlateWrong { .. }
            | LaneRemark::PlatesWrong { .. }
            | LaneRemark::PlatesSwapped { .. }
            | LaneRemark::PlateClips { .. }
            | LaneRemark::PlateNoisy { .. }
    )
}

fn forty(seed: u64) -> Scenario {
    Scenario { seed, cows: 40, days: FAULT + 4, ..Scenario::default() }
}

fn remarks(run: &ScoreRun) -> Vec<(i64, Option<LaneRemark>)> {
    run.lanes.iter().map(|lane| (i64::from((lane.date - START).get_days()), lane.remark.clone())).collect()
}

/// What is said on the first day of a fault, for three herds; no cow has news from that day on.
fn said(scenario: &Scenario, fault: impl Fn([f32; 4]) -> [f32; 4]) -> Vec<LaneRemark> {
    let of = |seed: u64| {
        let mut made = herd(&Scenario { seed, ..scenario.clone() });
        through(&mut made.passages, FAULT, &fault);
        let run = score(&made.passages, &made.register, &[]);
        let before = run.lanes.iter().filter(|lane| lane.date < date(FAULT));
        assert!(before.clone().count() > 0);
        assert!(!before.flat_map(|lane| &lane.remark).any(gross), "{:?}", remarks(&run));
        for day in FAULT..FAULT + 4 {
            let lane = run.lanes.iter().find(|lane| lane.date == date(day)).expect("a lane's day");
            assert_eq!(lane.cause, LaneCause::Plate, "seed {seed}: {lane:?}");
            assert!(lane.remark.as_ref().is_some_and(gross), "{lane:?}");
            let seen: std::collections::HashSet<_> = made
                .passages
                .iter()
                .filter(|of| of.date == date(day))
                .filter_map(|of| of.animal.as_ref())
                .collect();
            assert_eq!(lane.cows as usize, seen.len());
            assert!(run.days.iter().filter(|row| row.date == date(day)).all(|row| row.passages == 0));
        }
        run.lanes.iter().find(|lane| lane.date == date(FAULT)).and_then(|lane| lane.remark.clone()).unwrap()
    };
    (1..=3).map(of).collect()
}

#[test]
fn a_plate_that_reads_another_part_is_named_with_its_size() {
    let walked = Scenario { walked: 1.0, ..forty(1) };
    for (scenario, plate, gain) in [
        (forty(1), Plate::RR, 0.5),
        (forty(1), Plate::RR, 0.9),
        (forty(1), Plate::RR, 2.0),
        (forty(1), Plate::LF, 1.15),
        (walked, Plate::RR, 0.5),
    ] {
        let truth = 100.0 * f64::from(gain - 1.0);
        for remark in said(&scenario, |mut kg| {
            kg[plate as usize] *= gain;
            kg
        }) {
            let LaneRemark::PlateWrong { plate: named, error_pct } = remark else {
                panic!("{gain}: {remark:?}")
            };
            assert_eq!(named, plate);
            assert!((error_pct - truth).abs() < 0.15 * truth.abs() + 0.5, "{error_pct} for {truth}");
        }
    }
}

#[test]
fn plates_that_stand_for_one_another_are_named() {
    for (swapped, order) in [
        (Swap::LeftAndRight, [1, 0, 3, 2]),
        (Swap::FrontPlates, [1, 0, 2, 3]),
        (Swap::RearPlates, [0, 1, 3, 2]),
        (Swap::FrontAndRear, [2, 3, 0, 1]),
    ] {
        for remark in said(&forty(1), |kg| order.map(|place: usize| kg[place])) {
            assert_eq!(remark, LaneRemark::PlatesSwapped { swapped });
        }
    }
}

#[test]
fn a_plate_that_reads_no_more_than_a_limit_is_named_with_it() {
    for remark in said(&forty(1), |[lf, rf, lr, rr]| [lf, rf, lr, rr.min(120.0)]) {
        let LaneRemark::PlateClips { plate, at_kg } = remark else { panic!("{remark:?}") };
        assert_eq!(plate, Plate::RR);
        assert!((at_kg - 120.0).abs() < 3.0, "{at_kg}");
    }
}

#[test]
fn several_plates_at_once_are_named_with_theirs() {
    for remark in said(&forty(1), |[lf, rf, lr, rr]| [lf, 0.7 * rf, lr, 0.6 * rr]) {
        let LaneRemark::PlatesWrong { rf_pct, rr_pct, .. } = remark else { panic!("{remark:?}") };
        assert!((rf_pct + 30.0).abs() < 3.0 && (rr_pct + 40.0).abs() < 3.0, "{rf_pct} {rr_pct}");
    }
}

#[test]
fn a_lane_that_is_put_right_is_scored_again_and_settled_plates_are_taken_as_they_are() {
    let mut made = herd(&Scenario { days: 24, ..forty(1) });
    through(&mut made.passages, FAULT, |[lf, rf, lr, rr]| [lf, rf, lr, 0.5 * rr]);
    let scored =
        |run: &ScoreRun, day: i64| run.days.iter().any(|row| row.date == date(day) && row.passages > 0);
    let run = score(&made.passages, &made.register, &[]);
    assert!(scored(&run, FAULT - 1) && !scored(&run, FAULT) && !scored(&run, 23));
    let settings = ScoreSettings { plates_settled: Some(date(16)), ..ScoreSettings::default() };
    let run = run_on(&made.passages, &made.register, &[], &[], &settings);
    assert!(!scored(&run, 15) && scored(&run, 16) && scored(&run, 23));
    // Twice as much from day 18 on: what it was before.
    through(&mut made.passages, 18, |[lf, rf, lr, rr]| [lf, rf, lr, 2.0 * rr]);
    let run = score(&made.passages, &made.register, &[]);
    assert!(!scored(&run, 17) && scored(&run, 18));
}

#[test]
fn a_herd_that_nobody_knows_has_left_and_right_alike() {
    for wrong in Plate::ALL {
        let mut made = herd(&forty(1));
        through(&mut made.passages, 0, |mut kg| {
            kg[wrong as usize] *= 0.5;
            kg
        });
        let first = remarks(&score(&made.passages, &made.register, &[]))[0].1.clone();
        let Some(LaneRemark::PlateWrong { plate, error_pct }) = first else { panic!("{first:?}") };
        assert_eq!(plate, wrong);
        assert!((error_pct + 50.0).abs() < 7.5, "{error_pct}");
    }
}

#[test]
fn lanes_without_a_fault_are_never_said_to_have_one() {
    for seed in 11..21 {
        for walked in [0.0, 0.3, 1.0] {
            let made =
                herd(&Scenario { seed, walked, cows: 30, days: 40, onset: 0.01, ..Scenario::default() });
            let run = score(&made.passages, &made.register, &[]);
            let said: Vec<_> =
                remarks(&run).into_iter().filter(|(_, said)| said.as_ref().is_some_and(gross)).collect();
            assert!(said.is_empty(), "seed {seed}, walked {walked}: {said:?}");
        }
    }
}

#[test]
fn a_plate_that_trembles_twice_as_much_as_it_used_to_is_named() {
    let with = |times: f32| {
        let mut made = herd(&forty(1));
        for passage in made.passages.iter_mut().filter(|passage| passage.date >= date(FAULT)) {
            if let Some(standing) = &mut passage.summary.standing {
                standing.share_sd_pct[Leg::LR] *= times;
            }
        }
        let said = remarks(&score(&made.passages, &made.register, &[]));
        said.into_iter().find(|(day, _)| *day == FAULT).and_then(|(_, remark)| remark).filter(gross)
    };
    let found = with(3.0);
    let Some(LaneRemark::PlateNoisy { plate: Plate::LR, times }) = found else { panic!("{found:?}") };
    assert!((2.5..3.5).contains(&times), "{times}");
    assert_eq!(with(1.6), None);
}
