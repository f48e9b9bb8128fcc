//! Whole passages of every kind.

use crate::support::{Cow, SOUND, STANDS, START_MS, Trace, analysed, one, sways};
use shared::{
    analysis::{PassageKind, PassageSummary, Reason},
    plate::Leg,
};

fn assert_trusted(passage: &PassageSummary, kind: PassageKind) {
    assert_eq!(passage.kind, kind, "{passage:#?}");
    assert!(passage.quality.trusted(), "{:?} {passage:#?}", passage.quality.reasons().collect::<Vec<_>>());
}

fn assert_weight(passage: &PassageSummary, kilograms: f32, tolerance: f32) {
    let weight = passage.body_weight.expect("a weight").value;
    assert!((weight - kilograms).abs() <= tolerance, "{weight} kg instead of {kilograms}");
}

fn assert_span(passage: &PassageSummary, (on, off): (f32, f32), rate: f32) {
    let tolerance = 0.06 + 1.0 / rate;
    let start = (passage.start.0 - START_MS) as f32 / 1000.0;
    let end = start + passage.duration.seconds();
    assert!((start - on).abs() <= tolerance, "first foot on {start}, truth {on}");
    assert!((end - off).abs() <= tolerance, "last foot off {end}, truth {off}");
}

#[test]
fn ramps_onto_all_plates_are_a_stance() {
    let loads = [160.0, 150.0, 140.0, 150.0];
    for rate in [20.0, 50.0, 100.0, 320.0, 1000.0] {
        for seconds in [2.0, 10.0, 60.0] {
            let trace = Trace::new(rate)
                .empty(2.0)
                .ramp(0.5, loads)
                .hold(seconds, loads)
                .ramp(0.5, [0.0; 4])
                .empty(2.0)
                .noisy(0.5, 1);
            let passage = one(&trace);
            assert_trusted(&passage, PassageKind::Stance);
            assert_weight(&passage, 600.0, 2.0);
            assert_span(&passage, (2.0, 3.0 + seconds), rate);
            let standing = passage.standing.unwrap();
            assert!(standing.seconds > seconds - 1.1, "{standing:?}");
            for (leg, load) in Leg::ALL.into_iter().zip(loads) {
                assert!((standing.share_pct[leg] - load / 6.0).abs() < 0.3, "{standing:?}");
            }
            assert_eq!(standing.lifts.0, [0; 4]);
        }
    }
}

#[test]
fn a_cow_that_stops() {
    for rate in [20.0, 50.0, 100.0, 250.0, 1000.0] {
        for stand in [2.0, 6.0, 60.0] {
            let cow = Cow { stand, ..SOUND };
            let passage = one(&cow.crosses(rate).noisy(0.5, 2));
            assert_trusted(&passage, PassageKind::Stance);
            assert_weight(&passage, 600.0, 3.0);
            assert_span(&passage, cow.true_span(), rate);
            let standing = passage.standing.unwrap();
            for (leg, share) in Leg::ALL.into_iter().zip(cow.shares) {
                let found = standing.share_pct[leg];
                assert!((found - share).abs() < 0.5, "{rate} Hz, {stand} s: {} {found}", leg.name());
            }
            assert_eq!(standing.lifts.0, [0; 4], "{rate} Hz, {stand} s");
            assert_eq!((standing.front_shifts, standing.rear_shifts), (0, 0), "{rate} Hz, {stand} s");
        }
    }
}

#[test]
fn a_cow_that_walks_through() {
    for rate in [20.0, 50.0, 100.0, 250.0, 1000.0] {
        for stride in [1.1, 1.26, 1.48, 1.8] {
            let cow = Cow { stride, ..SOUND };
            let passage = one(&cow.crosses(rate).noisy(0.5, 3));
            assert_trusted(&passage, PassageKind::WalkThrough);
            assert!(passage.quality.has(Reason::NoStance) && passage.standing.is_none());
            assert_weight(&passage, 600.0, 12.0);
            assert_span(&passage, cow.true_span(), rate);
            let tolerance = 0.03 + 1.0 / rate;
            for leg in Leg::ALL {
                let walked = passage.walking[leg];
                assert_eq!(walked.count, 2, "{rate} Hz, stride {stride}: {}", leg.name());
                assert!((walked.stance_s - cow.duty * stride).abs() < tolerance, "{rate} Hz: {walked:?}");
                assert!((walked.step_s - 0.5 * stride).abs() < tolerance, "{rate} Hz: {walked:?}");
            }
        }
    }
}

#[test]
fn walking_contacts_around_a_stance_are_measured() {
    let passage = one(&STANDS.crosses(100.0).noisy(0.5, 4));
    for leg in Leg::ALL {
        assert_eq!(passage.walking[leg].count, 1, "{}", leg.name());
    }
}

#[test]
fn a_fore_foot_straight_on_the_front_plate() {
    // The left fore foot never touches the rear plate.
    let whole = STANDS.crosses(100.0);
    let landing = 2.0 + 1.25 * STANDS.stride;
    let trace = whole
        .map(|t, loads| {
            if t >= landing && t < landing + STANDS.duty * STANDS.stride {
                loads[2] = 0.0;
            }
        })
        .noisy(0.5, 5);
    let passage = one(&trace);
    assert_trusted(&passage, PassageKind::Stance);
    assert_weight(&passage, 600.0, 3.0);
}

#[test]
fn cows_three_seconds_apart_stay_apart() {
    let mut trace = Trace::new(100.0).empty(2.0);
    for seed in 0..5 {
        trace = trace.then(&sways(100.0, 6.0, [27.0, 27.0, 23.0, 23.0], 1.0, 1.0, seed));
    }
    let passages = analysed(&trace);
    assert_eq!(passages.len(), 5);
    for passage in &passages {
        assert_trusted(passage, PassageKind::Stance);
        assert_eq!(passage.quality.reasons().count(), 0, "{passage:?}");
    }
}

#[test]
fn leg_lifts_and_shifts_are_counted() {
    let even = [165.0, 165.0, 135.0, 135.0];
    let left = [165.0, 165.0, 190.0, 80.0];
    let right = [165.0, 165.0, 80.0, 190.0];
    let lifted = [165.0, 165.0, 0.0, 270.0];
    let mut trace = Trace::new(100.0).empty(2.0).ramp(0.4, even).hold(2.0, even);
    for _ in 0..3 {
        trace = trace.ramp(0.5, left).hold(1.0, left).ramp(0.5, right).hold(1.0, right);
    }
    trace = trace.ramp(0.5, even).hold(1.5, even);
    for _ in 0..2 {
        trace = trace.ramp(0.3, lifted).hold(0.6, lifted).ramp(0.3, even).hold(2.0, even);
    }
    let passage = one(&trace.hold(1.0, even).ramp(0.4, [0.0; 4]).empty(2.0).noisy(0.5, 6));
    assert_trusted(&passage, PassageKind::Stance);
    let standing = passage.standing.unwrap();
    assert_eq!(standing.lifts.0, [0, 0, 2, 0]);
    // To the left, then five turns; the way back to the middle is a turn as well.
    assert_eq!((standing.front_shifts, standing.rear_shifts), (0, 7));
    let per_min = standing.lifts_per_min().unwrap();
    assert!((per_min - 120.0 / standing.seconds).abs() < 1e-3);
    assert!((standing.seconds - 20.4).abs() < 1.2, "{}", standing.seconds);
}

#[test]
fn leaving_steps_are_not_in_the_stance() {
    // The fore foot unloads onto the others for half a second before it steps off ahead.
    let stand = [165.0, 165.0, 135.0, 135.0];
    let trace = Trace::new(100.0)
        .empty(2.0)
        .ramp(0.4, stand)
        .hold(5.0, stand)
        .ramp(0.5, [0.0, 240.0, 170.0, 190.0])
        .hold(0.3, [0.0, 240.0, 170.0, 190.0])
        .ramp(0.2, [0.0, 150.0, 100.0, 130.0])
        .hold(0.3, [0.0, 150.0, 100.0, 130.0])
        .ramp(0.4, [0.0; 4])
        .empty(2.0);
    let standing = one(&trace.noisy(0.3, 7)).standing.unwrap();
    assert_eq!(standing.lifts.0, [0; 4]);
    for (leg, share) in Leg::ALL.into_iter().zip([27.5, 27.5, 22.5, 22.5]) {
        assert!((standing.share_pct[leg] - share).abs() < 0.4, "{standing:?}");
    }
}

#[test]
fn a_leg_that_hardly_touches_is_measured() {
    let stand = [170.0, 170.0, 22.0, 238.0];
    let trace = Trace::new(100.0).empty(2.0).ramp(0.4, stand).hold(8.0, stand).ramp(0.4, [0.0; 4]).empty(2.0);
    let passage = one(&trace.noisy(0.5, 8));
    assert_trusted(&passage, PassageKind::Stance);
    assert!((passage.standing.unwrap().share_pct[Leg::LR] - 100.0 * 22.0 / 600.0).abs() < 0.3);
}

#[test]
fn ringing_makes_neither_shifts_nor_lifts() {
    for hz in [8.0_f32, 10.0, 12.0, 15.0] {
        let stand = [165.0, 165.0, 135.0, 135.0];
        let trace = Trace::new(200.0)
            .empty(2.0)
            .ramp(0.4, stand)
            .hold(8.0, stand)
            .ramp(0.4, [0.0; 4])
            .empty(2.0)
            .noisy(0.5, 9)
            .map(|t, loads| {
                if t > 3.0 && t < 10.0 {
                    let ring = 40.0 * (core::f32::consts::TAU * hz * t).sin();
                    for (load, sign) in loads.iter_mut().zip([1.0, -1.0, 1.0, -1.0]) {
                        *load += sign * ring;
                    }
                }
            });
        let passage = one(&trace);
        let standing = passage.standing.expect("a stance");
        assert_eq!(standing.lifts.0, [0; 4], "{hz} Hz");
        assert_eq!((standing.front_shifts, standing.rear_shifts), (0, 0), "{hz} Hz");
        assert!(passage.quality.has(Reason::Ringing), "{hz} Hz");
    }
}

#[test]
fn input_that_ends_on_an_empty_deck_closes_the_passage_whole() {
    let loads = [160.0, 150.0, 140.0, 150.0];
    let trace = Trace::new(100.0).empty(2.0).ramp(0.4, loads).hold(5.0, loads).ramp(0.3, [0.0; 4]).empty(0.3);
    let passage = one(&trace.noisy(0.3, 10));
    assert_trusted(&passage, PassageKind::Stance);
}
