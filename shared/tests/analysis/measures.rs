//! LWR and SI arithmetic on numbers from outside.

use shared::analysis::summary::{leg_weight_ratio, symmetry_index_pct};

fn close(found: f32, expected: f32, tolerance: f32) {
    assert!((found - expected).abs() <= tolerance, "{found}, expected {expected}");
}

/// Two published standing traces of people, "Control 0 trial 0" and "Stroke 0" of the public data set
/// rikasd/zIP_poststroke: mean left and right load in N, ratio and SI derived from them outside this project's
/// code.
#[test]
fn two_leg_loads() {
    for (left, right, ratio, si) in [(345.939, 289.450, 0.8367, -17.781), (244.331, 406.944, 0.6004, 49.937)]
    {
        close(leg_weight_ratio(left, right).unwrap(), ratio, 1e-4);
        close(symmetry_index_pct(left, right).unwrap(), si, 2e-3);
        close(leg_weight_ratio(right, left).unwrap(), ratio, 1e-4);
        close(symmetry_index_pct(right, left).unwrap(), -si, 2e-3);
    }
}

/// LWR 0.87 (sound) and 0.78 (lame) of Chapinal and others, |SI| = 200 (1 - LWR) / (1 + LWR) and the lighter
/// leg's share of the pair, derived.
#[test]
fn ratio_and_index_are_one_number() {
    for (lwr, si, lighter_pct) in [(0.87, 13.90, 46.5), (0.78, 24.72, 43.8)] {
        close(symmetry_index_pct(lwr, 1.0).unwrap(), si, 5e-3);
        close(100.0 * lwr / (1.0 + lwr), lighter_pct, 0.05);
        close(leg_weight_ratio(lighter_pct, 100.0 - lighter_pct).unwrap(), lwr, 2e-3);
    }
}

#[test]
fn empty_pairs_have_no_ratio() {
    assert_eq!(leg_weight_ratio(0.0, 0.0), None);
    assert_eq!(symmetry_index_pct(0.0, 0.0), None);
    assert_eq!(leg_weight_ratio(-1.0, 50.0), Some(0.0));
}
