//! Zero tracking.

use crate::support::{STANDS, Trace, analysed, one};
use shared::analysis::{Analyser, Reason};

fn zero_after(trace: &Trace) -> [f32; 4] {
    let mut analyser = Analyser::new(trace.rate_hz);
    for reading in trace.readings() {
        analyser.push(&reading);
    }
    analyser.zero().0.map(|zero| zero.0)
}

fn assert_zero(found: [f32; 4], expected: [f32; 4], tolerance: f32) {
    for (found, expected) in found.iter().zip(expected) {
        assert!((found - expected).abs() <= tolerance, "{found:?} instead of {expected:?}");
    }
}

#[test]
fn an_unset_deck_is_zeroed_at_the_start() {
    let offset = [20.0, -15.0, 12.0, 30.0];
    assert_zero(zero_after(&Trace::new(100.0).hold(2.0, offset).noisy(0.3, 1)), offset, 0.2);
}

#[test]
fn slow_dung_is_followed() {
    // 6 kg on a plate over a minute.
    let trace = Trace::new(50.0).empty(3.0).ramp(60.0, [6.0, 0.0, 2.0, 0.0]).hold(2.0, [6.0, 0.0, 2.0, 0.0]);
    assert_zero(zero_after(&trace.noisy(0.3, 2)), [6.0, 0.0, 2.0, 0.0], 0.3);
}

#[test]
fn a_step_is_taken_within_three_seconds() {
    for step in [[8.0, 0.0, 0.0, 0.0], [0.0, -9.0, 0.0, 0.0], [5.0, 5.0, 3.0, 0.0]] {
        let trace = Trace::new(100.0).empty(3.0).hold(2.5, step).noisy(0.3, 3);
        assert_zero(zero_after(&trace), step, 0.3);
    }
}

#[test]
fn tracking_is_no_faster_than_its_limit() {
    // An offset too small for a step moves the zero by at most 0.25 kg/s.
    let mut analyser = Analyser::new(100.0);
    let trace = Trace::new(100.0).empty(3.0).hold(6.0, [0.9, 0.0, 0.0, 0.0]);
    let mut before = 0.0;
    for (i, reading) in trace.readings().enumerate() {
        analyser.push(&reading);
        if i % 100 == 99 {
            let now = analyser.zero().0[0].0;
            // One second may hold four looks of 0.3 s.
            assert!((now - before).abs() <= 0.25 * 1.2 + 1e-3, "{before} to {now} in a second");
            before = now;
        }
    }
    assert!(before > 0.8, "{before}");
}

#[test]
fn never_while_a_cow_is_on() {
    let trace = STANDS.crosses(100.0).noisy(0.3, 4);
    let mut analyser = Analyser::new(100.0);
    let mut occupied_zero = None;
    for reading in trace.readings() {
        let step = analyser.push(&reading);
        if step.occupied {
            let zero = analyser.zero();
            assert_eq!(*occupied_zero.get_or_insert(zero), zero);
        }
    }
    assert!(occupied_zero.is_some());
}

#[test]
fn a_foot_resting_on_the_edge_is_not_zeroed_while_she_is_on() {
    // 100 kg for a minute, moving as living things do.
    let trace = Trace::new(50.0).empty(2.0).hold(50.0, [60.0, 40.0, 0.0, 0.0]).map(|t, loads| {
        if t > 2.0 {
            loads[0] += 4.0 * (3.0 * t).sin();
        }
    });
    assert_zero(zero_after(&trace), [0.0; 4], 0.1);
}

#[test]
fn dung_left_behind_ends_the_passage_and_becomes_zero() {
    let dung = [0.0, 0.0, 22.0, 0.0];
    let cow = STANDS.crosses(100.0);
    let seconds = cow.seconds();
    let trace = cow
        .map(|t, loads| {
            if t > 7.0 {
                loads[2] += 22.0;
            }
        })
        .hold(5.0, dung)
        .then(&STANDS.crosses(100.0).map(|_, loads| loads[2] += 22.0))
        .noisy(0.3, 5);
    let passages = analysed(&trace);
    assert_eq!(passages.len(), 2, "{passages:#?}");
    assert!(passages[0].quality.has(Reason::ZeroUnsure));
    assert!(passages[0].duration.seconds() < seconds - 3.0, "{:?}", passages[0].duration);
    assert!(!passages[1].quality.has(Reason::ZeroUnsure));
    let weight = passages[1].body_weight.unwrap().value;
    assert!((weight - 600.0).abs() < 2.0, "{weight}");
}

#[test]
fn negative_loads_do_no_harm() {
    let trace = STANDS.crosses(100.0).map(|_, loads| loads.iter_mut().for_each(|x| *x -= 12.0)).noisy(0.3, 6);
    let passage = one(&trace);
    let weight = passage.body_weight.unwrap().value;
    assert!((weight - 600.0).abs() < 2.0, "{weight}");
}

#[test]
fn noise_is_reported() {
    let trace = Trace::new(100.0).empty(20.0).noisy(0.8, 7);
    let mut analyser = Analyser::new(100.0);
    for reading in trace.readings() {
        analyser.push(&reading);
    }
    for noise in analyser.noise().0 {
        assert!((noise.0 - 0.8).abs() < 0.15, "{noise:?}");
    }
}
