//! Whether a passage is hers by its weight, on weights that somebody measured: `BodyWeight` of the R package nlme (Hand and
//! Crowder 1996), sixteen animals weighed eleven times in nine weeks. The level that is followed is the one of R's Kalman filter;
//! no animal is taken for another because it grew, and one that weighs otherwise is turned away. The weights are read where
//! `tests/setup` installs them.
//!
//! `cargo test -p tests --test body_weights -- --show-output` prints how many.

#![allow(clippy::print_stdout, reason = "the figures are what it is run for")]

use host::score::{
    evidence::identity::{NotHers, OddPassages, WEIGHT_STEP, WEIGHT_UNKNOWN},
    model::features::{Class, MEASURES, Measured, MovementCounts},
    settings::{WEIGHT_NOT_HERS_FRACTION, WEIGHT_NOT_HERS_SD},
};
use std::process::Command;

/// Error of a weighing, as a fraction.
const ERROR_SD: f64 = 0.01;

/// Days, logarithms of the weights, R's level after each, and its last variance.
type Animal = (Vec<u32>, Vec<f64>, Vec<f64>, f64);

fn animals() -> Vec<Animal> {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/support/body_weights.R");
    let settings = [WEIGHT_STEP, ERROR_SD, WEIGHT_UNKNOWN].map(|sd| sd.to_string());
    let ran = Command::new("Rscript").arg(script).args(settings).output().expect("R is there: tests/setup");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    serde_json::from_slice(&ran.stdout).expect("JSON")
}

fn weighed(log: f64) -> Measured {
    Measured {
        value: [f64::NAN; MEASURES],
        stated: [0.0; MEASURES],
        class: Class::Walk,
        counts: MovementCounts::default(),
        weight: log,
        weight_se: 0.0,
        share: [f64::NAN; 4],
        sway: [f64::NAN; 4],
        peak: [f64::NAN; 4],
    }
}

fn turned_away(known: &OddPassages, log: f64) -> bool {
    match known.judge(&weighed(log), ERROR_SD * ERROR_SD, (0.0, 0), 0) {
        Some(NotHers::Weight(weight, _)) => {
            assert!((weight.ln() - log).abs() < 1e-9);
            true
        }
        other => {
            assert_eq!(other, None);
            false
        }
    }
}

#[test]
fn the_level_of_a_measured_weight_is_rs_and_nobody_is_turned_away_for_growing() {
    let animals = animals();
    assert_eq!(animals.len(), 16);
    let (mut own, mut others, mut away) = (0, 0, 0);
    for animal in &animals {
        let (days, logs, level, variance) = animal;
        let mut known = OddPassages::default();
        let mut today = 0;
        for (n, (&day, &log)) in days.iter().zip(logs).enumerate() {
            for _ in today..day {
                known.wait(false);
            }
            today = day;
            assert!(!turned_away(&known, log), "its own weight on day {day}");
            own += 1;
            if n + 1 == days.len() {
                for other in animals.iter().filter(|other| !std::ptr::eq(*other, animal)) {
                    let theirs = *other.1.last().expect("weighed");
                    // By hand: further than four standard errors, and than 9 %.
                    let off = (theirs - known.weight.mean).abs();
                    let sd = (known.weight.variance + ERROR_SD * ERROR_SD).sqrt();
                    let far = off > (WEIGHT_NOT_HERS_SD * sd).max(WEIGHT_NOT_HERS_FRACTION);
                    assert_eq!(turned_away(&known, theirs), far);
                    others += 1;
                    away += u32::from(far);
                }
            }
            known.learn(&[weighed(log)], ERROR_SD * ERROR_SD, None, 0);
            assert!((known.weight.mean - level[n]).abs() < 1e-9, "day {day}");
        }
        assert!((known.weight.variance / variance - 1.0).abs() < 1e-9);
    }
    println!(
        "{own} of {own} own weights taken for their own; {away} of {others} of another animal turned away"
    );
    // Three groups of some 265, 480 and 540 g: two animals of one group weigh alike.
    assert!(own == 176 && others == 240 && away == 175, "{own}, {others}, {away}");
}
