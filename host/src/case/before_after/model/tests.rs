use super::*;

/// Nothing is known, and surely.
pub(in crate::case::before_after) const NOTHING: Belief = Belief {
    mean: [0.0; state::COUNT],
    covariance: [[0.0; state::COUNT]; state::COUNT],
    log_likelihood: 0.0,
};

/// The half-time told by a fit of these weights and half-times.
fn told(parts: &[(f64, f64)]) -> Estimated {
    let parts: Vec<(f64, f64, Belief)> =
        parts.iter().map(|(weight, half_time)| (*weight, *half_time, NOTHING)).collect();
    Fit::given(&parts).half_time()
}

fn near(found: f64, wanted: f64) {
    assert!((found / wanted - 1.0).abs() < 1e-4, "{found} is not {wanted}");
}

#[test]
fn a_half_time_stands_for_the_stretch_half_way_to_its_neighbours() {
    // 8 days stand from sqrt(5 * 8) = 6.3246 to sqrt(8 * 13) = 10.1980, a factor of 1.61245; a fortieth of its
    // logarithm is a factor of 1.012016. Half way is the fourth root of 5 * 8 * 8 * 13.
    let half_time = told(&[(1.0, 8.0)]);
    near(half_time.value, 8.0312);
    near(half_time.low, 6.4006);
    near(half_time.high, 10.0770);
}

#[test]
fn the_shortest_half_time_stands_as_far_down_as_up() {
    // 3 days stand up to sqrt(3 * 5) = 3.8730, and as far below: half way is 3 itself.
    near(told(&[(1.0, 3.0)]).value, 3.0);
}

#[test]
fn weights_fill_the_stretches_one_after_the_other() {
    // 8 and 13 days, a half each: the median is the edge between them, sqrt(8 * 13).
    near(told(&[(0.5, 13.0), (0.5, 8.0)]).value, 10.1980);
    // Two thirds on 8 days: three quarters of its stretch.
    let later = told(&[(2.0 / 3.0, 8.0), (1.0 / 3.0, 13.0)]).value;
    near(later, 6.3246_f64.powf(0.25) * 10.1980_f64.powf(0.75));
}

#[test]
fn a_half_time_that_may_never_come_has_no_upper_end() {
    let half_time = told(&[(0.9, 8.0), (0.1, f64::INFINITY)]);
    assert!(half_time.value.is_finite() && half_time.high.is_infinite(), "{half_time:?}");
    assert!(told(&[(1.0, f64::INFINITY)]).low.is_infinite());
}
