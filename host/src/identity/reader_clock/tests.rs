use super::*;

#[test]
fn reads_closer_than_half_a_second_to_the_last_one_kept_are_left_out() {
    // 499 is too near 0; 500 is not; 999 is too near 500, though 500 from 499; 1000 is not.
    assert_eq!(thinned(&[0, 499, 500, 999, 1_000]), [0, 500, 1_000]);
}

/// One passage at 0, the same density within reach wherever its read is: a quarter a second.
fn one_passage(reads: Vec<Read>, odds: Option<Vec<f32>>) -> f64 {
    let times = ReadTimes { reads, visits: 1, feet: vec![0.0], odds: vec![odds], mid_ms: 0, interval_s: 1.0 };
    let flat = OffsetDensity(steps(0.0, REACH, GRID_S).map(|_| 0.25).collect());
    times.fit(0.0, 0.0, &flat)
}

#[test]
fn a_read_counts_by_its_share_of_the_visit_and_by_how_well_the_cow_fits() {
    // Nine reads in ten are of cows, a passage a second: 0.9 / 0.1 x 1 = 9. The read is half of its visit and is expected
    // a lead before the foot: 1 + 9 x 1/2 x 1/4 = 2.125; twice as likely hers 1 + 9 x 2 x 1/2 x 1/4 = 3.25.
    let near = || vec![Read { time: -LEAD_S, visit: 0, weight: 0.5 }];
    let is =
        |found: f64, inside: f64| assert!((found - inside.ln()).abs() < 1e-9, "{found}, not ln {inside}");
    is(one_passage(near(), None), 2.125);
    is(one_passage(near(), Some(vec![2.0])), 3.25);
    // Both halves of the visit: 1 + 9 x 1/4 = 3.25.
    is(one_passage(near().into_iter().chain(near()).collect(), None), 3.25);
    // Expected 20 s before the foot, beyond the 16 s of reach: nothing.
    is(one_passage(vec![Read { time: -20.0 - LEAD_S, visit: 0, weight: 0.5 }], None), 1.0);
}
