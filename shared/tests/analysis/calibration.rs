//! Calibration from test loads, and the class III limits.

use proptest::prelude::*;
use shared::{
    analysis::{
        Calibration, CalibrationError,
        calibration::{Verification, error_limit},
    },
    plate::{PerPlate, Plate},
    units::{Counts, Kilograms},
};

/// OIML R 76-1 table 6, class III, scale interval 0.5 kg, as printed in UK SI 1995/1907 schedule 2.
#[test]
fn class_three_limits() {
    for (load, limit) in [(250.0, 0.25), (250.1, 0.5), (1000.0, 0.5), (1000.1, 0.75)] {
        assert_eq!(error_limit(Kilograms(load), Kilograms(0.5)), Kilograms(limit), "{load} kg");
    }
}

/// Counts of a deck whose plates answer with `answer` counts per kg (row = plate read, column = plate loaded).
fn counts(zero: [i32; 4], answer: [[f32; 4]; 4], loads: [f32; 4]) -> PerPlate<Counts> {
    PerPlate(core::array::from_fn(|plate| {
        let sum: f32 = answer[plate].iter().zip(loads).map(|(a, x)| a * x).sum();
        Counts(zero[plate] + sum.round() as i32)
    }))
}

fn test_loads(zero: [i32; 4], answer: [[f32; 4]; 4], weight: f32) -> PerPlate<PerPlate<Counts>> {
    PerPlate(core::array::from_fn(|plate| {
        let mut loads = [0.0; 4];
        loads[plate] = weight;
        counts(zero, answer, loads)
    }))
}

const ZERO: [i32; 4] = [-12_000, 8_000, 500, 40_000];
const ANSWER: [[f32; 4]; 4] = [
    [4000.0, 60.0, 40.0, 5.0],
    [-50.0, 4100.0, 0.0, 80.0],
    [30.0, 10.0, -3900.0, 45.0],
    [0.0, 20.0, 70.0, 4200.0],
];

#[test]
fn a_known_weight_on_each_plate_calibrates() {
    let weight = Kilograms(100.0);
    let calibration =
        Calibration::solve(PerPlate(ZERO.map(Counts)), test_loads(ZERO, ANSWER, weight.0), weight).unwrap();
    for loads in [[150.0, 140.0, 130.0, 160.0], [0.0, 0.0, 300.0, 0.0], [-5.0, 3.0, 0.0, 0.0]] {
        let found = calibration.apply(counts(ZERO, ANSWER, loads));
        for (found, load) in found.0.iter().zip(loads) {
            assert!((found.0 - load).abs() < 0.01, "{found:?} for {load}");
        }
    }
    let check = calibration.verify(
        counts(ZERO, ANSWER, [125.0, 125.0, 125.0, 125.0]),
        Kilograms(500.0),
        Kilograms(0.5),
    );
    assert!(check.passed(), "{check:?}");
    assert_eq!(check.limit, Kilograms(0.5));
    let light = Verification { error: Kilograms(-0.51), ..check };
    assert!(!light.passed());
}

#[test]
fn bad_test_loads_are_refused() {
    let empty = PerPlate(ZERO.map(Counts));
    let good = test_loads(ZERO, ANSWER, 100.0);
    for weight in [0.0, -20.0, f32::NAN, f32::INFINITY] {
        assert_eq!(Calibration::solve(empty, good, Kilograms(weight)), Err(CalibrationError::Weight));
    }
    let [lf, rf, lr, rr] = good.0;
    assert_eq!(
        Calibration::solve(empty, PerPlate([rf, lf, lr, rr]), Kilograms(100.0)),
        Err(CalibrationError::WrongPlate { loaded: Plate::LF, answered: Plate::RF })
    );
    assert_eq!(
        Calibration::solve(empty, PerPlate([empty; 4]), Kilograms(100.0)).unwrap_err(),
        CalibrationError::NoAnswer
    );
}

proptest! {
    #[test]
    fn any_sound_deck_is_solved(
        span in prop::array::uniform4(500.0_f32..8000.0),
        leak in prop::array::uniform4(prop::array::uniform4(-0.05_f32..0.05)),
        loads in prop::array::uniform4(-50.0_f32..400.0),
    ) {
        let answer: [[f32; 4]; 4] = core::array::from_fn(|row| {
            core::array::from_fn(|col| span[col] * if row == col { 1.0 } else { leak[row][col] })
        });
        let weight = Kilograms(200.0);
        let calibration =
            Calibration::solve(PerPlate(ZERO.map(Counts)), test_loads(ZERO, answer, 200.0), weight).unwrap();
        let found = calibration.apply(counts(ZERO, answer, loads));
        for (found, load) in found.0.iter().zip(loads) {
            prop_assert!((found.0 - load).abs() < 0.05, "{:?} for {:?}", found, loads);
        }
    }
}
