//! The load filter against SciPy (`tests/oracles/filter.py`).

use serde_json::Value;
use shared::analysis::filter::{LOW_PASS_DELAY_S, LowPass, RingBand};

fn oracle() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../../../tests/oracles/filter.json")).unwrap();
    all["rates"].as_array().unwrap().clone()
}

/// Gain at `hz` from the impulse response.
fn gain(mut filter: impl FnMut(f32) -> f32, rate: f64, hz: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for i in 0..(3.0 * rate) as usize {
        let y = f64::from(filter(if i == 0 { 1.0 } else { 0.0 }));
        let angle = core::f64::consts::TAU * hz * i as f64 / rate;
        re += y * angle.cos();
        im -= y * angle.sin();
    }
    re.hypot(im)
}

#[test]
fn frequency_response_is_that_of_scipy() {
    for case in oracle() {
        let rate = case["rate_hz"].as_f64().unwrap();
        for (hz, expected) in case["hz"].as_array().unwrap().iter().zip(case["gain"].as_array().unwrap()) {
            let (hz, expected) = (hz.as_f64().unwrap(), expected.as_f64().unwrap());
            let mut filter = LowPass::new(rate as f32);
            let found = gain(|x| filter.push([x; 4])[0], rate, hz);
            assert!((found - expected).abs() < 2e-4, "{hz} Hz at {rate} Hz: {found}, SciPy {expected}");
        }
    }
}

#[test]
fn delay_and_overshoot_are_those_of_scipy() {
    for case in oracle() {
        let rate = case["rate_hz"].as_f64().unwrap();
        let mut filter = LowPass::new(rate as f32);
        let step: Vec<f64> =
            (0..(4.0 * rate) as usize).map(|_| f64::from(filter.push([1.0; 4])[1])).collect();
        let overshoot = step.iter().copied().fold(0.0, f64::max) - 1.0;
        let expected = case["overshoot"].as_f64().unwrap();
        assert!((overshoot - expected).abs() < 5e-4, "{rate} Hz: {overshoot}, SciPy {expected}");
        // At slow rates the bilinear transform shortens the delay; half a reading is the claim.
        let delay = case["delay_s"].as_f64().unwrap();
        assert!((delay - f64::from(LOW_PASS_DELAY_S)).abs() < 0.5 / rate.min(100.0), "{rate} Hz: {delay}");
    }
}

#[test]
fn a_settled_filter_stays_where_it_is() {
    let loads = [150.0, -3.0, 0.0, 320.5];
    for rate in [20.0, 100.0, 1000.0] {
        let (mut low_pass, mut ring) = (LowPass::new(rate), RingBand::new(rate));
        low_pass.settle(loads);
        ring.settle(loads);
        for _ in 0..5000 {
            let (filtered, ringing) = (low_pass.push(loads), ring.push(loads));
            for ((filtered, ringing), load) in filtered.iter().zip(ringing).zip(loads) {
                assert!((filtered - load).abs() < 0.1, "{filtered} for {load} at {rate} Hz");
                assert!(ringing.abs() < 0.1, "{ringing} at {rate} Hz");
            }
        }
    }
}

#[test]
fn the_ring_band_is_8_to_15_hz() {
    let at = |hz| {
        let mut filter = RingBand::new(200.0);
        gain(|x| filter.push([x; 4])[2], 200.0, hz)
    };
    assert!((at(10.95) - 1.0).abs() < 0.01);
    assert!((at(8.0) - 0.707).abs() < 0.02 && (at(15.0) - 0.707).abs() < 0.03, "{} {}", at(8.0), at(15.0));
    assert!(at(1.0) < 0.02 && at(2.0) < 0.06, "{} {}", at(1.0), at(2.0));
}
