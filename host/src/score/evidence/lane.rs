//! The lane's own error: what every cow shows at once is the lane, or the whole herd, and no cow's lameness.

use crate::arithmetic::statistics::median;
use crate::record::finding::LaneRemark;
use crate::record::{LaneCause, LaneDay};
use crate::score::model::features::{MEASURES, Measure, PerMeasure};
use crate::score::settings::{LANE_FEWEST_COWS, LANE_SAID_PCT};
use jiff::civil::Date;
use shared::plate::Plate;

/// How many quantities have a common shift: the measures and the body weight.
const SHIFTS: usize = MEASURES + 1;
/// Index of the body weight, as a natural logarithm.
pub const WEIGHT: usize = MEASURES;
/// SD of a day's step of a common shift: half a percent of a plate, and alike for the others. Our choice.
const STEP: [f64; SHIFTS] = [0.2, 0.2, 0.12, 0.2, 0.2, 0.12, 0.2, 0.2, 0.03, 0.03, 0.01, 0.004];
/// A day's shift further than this many SD off is a jump (a plate set anew, a new floor). Our choice.
const JUMP_SD: f64 = 3.5;
/// Standard error of a median in that of a mean, for normal values.
const MEDIAN_SE: f64 = 1.2533;
/// How far a lane that is added later may be off, in steps.
const NEW_LANE_STEPS: f64 = 10.0;
/// Part of the common shift that one plate must explain to be named. Our choice.
const EXPLAINED: f64 = 0.7;
/// Standard errors beyond which a shift is said. Our choice: a year has hundreds of mornings.
const SAID_SE: f64 = 4.0;

/// What one cow says of a lane today.
#[derive(Clone, Copy, Debug)]
pub struct Witness {
    /// Difference from what was expected of her, lane not taken out; NaN where not measured. The last is her weight's.
    pub residual: [f64; SHIFTS],
    /// Variance of each.
    pub variance: [f64; SHIFTS],
}

impl Witness {
    /// Of the measures alone: the weight says nothing.
    #[must_use]
    pub fn of_measures(residual: &PerMeasure, variance: &PerMeasure) -> Self {
        let mut witness = Self { residual: [f64::NAN; SHIFTS], variance: [f64::INFINITY; SHIFTS] };
        witness.residual[..MEASURES].copy_from_slice(residual);
        witness.variance[..MEASURES].copy_from_slice(variance);
        witness
    }
}

/// The state of one lane.
#[derive(Clone, Debug, serde::Serialize, serde::Deserialize)]
pub struct LaneShift {
    shift: [f64; SHIFTS],
    variance: [f64; SHIFTS],
    weighed: bool,
}

fn weighted_median(values: &mut [(f64, f64)]) -> f64 {
    values.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * values.iter().map(|v| v.1).sum::<f64>();
    let mut sum = 0.0;
    for (i, &(value, weight)) in values.iter().enumerate() {
        sum += weight;
        if sum > half {
            return value;
        }
        if sum == half {
            return values.get(i + 1).map_or(value, |next| 0.5 * (value + next.0));
        }
    }
    f64::NAN
}

impl LaneShift {
    /// A lane; the first of a farm sets the zero, later ones may be off it.
    #[must_use]
    pub fn new(first: bool) -> Self {
        let variance = STEP.map(|s| if first { 0.0 } else { (NEW_LANE_STEPS * s).powi(2) });
        Self { shift: [0.0; SHIFTS], variance, weighed: false }
    }

    /// The common shift of the measures, to be taken out.
    #[must_use]
    pub fn shift(&self) -> PerMeasure {
        std::array::from_fn(|k| self.shift[k])
    }

    /// Its variance, which every cow's day carries.
    #[must_use]
    pub fn variance(&self, measure: usize) -> f64 {
        self.variance[measure]
    }

    /// Gives a part of the shift back to the cows.
    pub fn give_back(&mut self, part: &PerMeasure) {
        (0..MEASURES).for_each(|k| self.shift[k] -= part[k]);
    }

    /// The common shift of the weight, as a natural logarithm.
    #[must_use]
    pub fn weight_shift(&self) -> f64 {
        self.shift[WEIGHT]
    }

    /// A day of the whole herd comes in.
    pub fn learn(&mut self, witnesses: &[Witness], days: i64) {
        let mut values = Vec::with_capacity(witnesses.len());
        for (k, step) in STEP.iter().enumerate() {
            values.clear();
            values.extend(
                witnesses
                    .iter()
                    .filter(|w| !w.residual[k].is_nan())
                    .map(|w| (w.residual[k], 1.0 / w.variance[k])),
            );
            self.variance[k] += step * step * days.max(1) as f64;
            let (sum, squares) = values.iter().fold((0.0, 0.0), |(a, b), v| (a + v.1, b + v.1 * v.1));
            let cows = if squares > 0.0 { sum * sum / squares } else { 0.0 };
            if cows < LANE_FEWEST_COWS {
                continue;
            }
            let middle = weighted_median(&mut values);
            // The cows' own spread about the middle, not only what their variances claim.
            let mut away: Vec<f64> = values.iter().map(|v| (v.0 - middle).abs() * v.1.sqrt()).collect();
            let wider = (1.4826 * median(&mut away)).max(1.0);
            let error = (MEDIAN_SE * wider).powi(2) / sum;
            let off = middle - self.shift[k];
            if off * off > JUMP_SD * JUMP_SD * (self.variance[k] + error) {
                self.variance[k] += off * off;
            }
            let gain = self.variance[k] / (self.variance[k] + error);
            self.shift[k] += gain * off;
            self.variance[k] *= 1.0 - gain;
            self.weighed |= k == WEIGHT;
        }
    }

    /// Whether another lane shows the same shift of the splits and the front share.
    #[must_use]
    pub fn agrees(&self, other: &Self) -> bool {
        (0..3).all(|k| {
            let sd = (self.variance[k] + other.variance[k]).sqrt();
            (self.shift[k] - other.shift[k]).abs() < SAID_SE * sd.max(STEP[k])
        })
    }

    /// What to say of the lane. `others_agree`: whether the farm's other lanes show the same; `None` with one lane.
    #[must_use]
    pub fn day(&self, lane: &str, date: Date, cows: u32, others_agree: Option<bool>) -> LaneDay {
        let [front, rear, share] = [0, 1, 2].map(|k| self.shift[k]);
        let mut day = LaneDay {
            lane: lane.to_owned(),
            date,
            cows,
            cause: LaneCause::Steady,
            plate: None,
            plate_error_pct: None,
            front_split_points: front,
            rear_split_points: rear,
            front_share_pct: share,
            body_weight_pct: self.weighed.then(|| 100.0 * self.shift[WEIGHT].exp_m1()),
            stance_time_pct: 100.0 * self.shift[Measure::Slow as usize].exp_m1(),
            sway_pct: 100.0 * self.shift[Measure::RearSway as usize].exp_m1(),
            remark: None,
        };
        let (plate, error, explained, se) = self.one_plate();
        let said = |k: usize, least: f64| {
            self.shift[k].abs() > least && self.shift[k].abs() > SAID_SE * self.variance[k].sqrt()
        };
        if error.abs() > LANE_SAID_PCT && explained > EXPLAINED && error.abs() > SAID_SE * se {
            day.plate = Some(plate);
            day.plate_error_pct = Some(error);
            day.cause = LaneCause::Plate;
            day.remark = Some(if others_agree == Some(true) {
                day.cause = LaneCause::CannotTell;
                LaneRemark::PlateOrHerd { plate, error_pct: error }
            } else {
                LaneRemark::PlateOff { plate, error_pct: error }
            });
        } else if said(0, 0.5 * LANE_SAID_PCT) || said(1, 0.5 * LANE_SAID_PCT) {
            day.cause = LaneCause::Plate;
            day.remark = Some(LaneRemark::PlatesOff { front_split_points: front, rear_split_points: rear });
        } else if said(2, 0.25 * LANE_SAID_PCT) {
            day.cause = if others_agree == Some(true) { LaneCause::Herd } else { LaneCause::CannotTell };
            day.remark = Some(LaneRemark::FrontShareMoved { change_pct: share });
        } else if said(Measure::Slow as usize, 0.05) || said(Measure::RearSway as usize, 0.15) {
            day.cause = LaneCause::Herd;
            day.remark =
                Some(LaneRemark::HerdMoves { stance_time_pct: day.stance_time_pct, sway_pct: day.sway_pct });
        }
        day
    }

    /// The plate that explains the shift best: plate, error in %, part explained, standard error.
    fn one_plate(&self) -> (Plate, f64, f64, f64) {
        // What 1 % too much on each plate does to front split, rear split, front share and weight (in %).
        const EACH: [[f64; 4]; 4] = [
            [-0.5, 0.0, 0.125, 0.27],
            [0.5, 0.0, 0.125, 0.27],
            [0.0, -0.5, -0.125, 0.23],
            [0.0, 0.5, -0.125, 0.23],
        ];
        let seen = [self.shift[0], self.shift[1], self.shift[2], 100.0 * self.shift[WEIGHT]];
        // A common shift of the weight is also feed and water: it only helps to choose between two plates.
        let weight = [1.0, 1.0, 1.0, if self.weighed { 0.1 } else { 0.0 }];
        let total: f64 = (0..3).map(|i| weight[i] * seen[i] * seen[i]).sum();
        let mut best = (Plate::LF, 0.0, f64::NEG_INFINITY, f64::INFINITY);
        for (plate, each) in Plate::ALL.into_iter().zip(EACH) {
            let cross: f64 = (0..4).map(|i| weight[i] * each[i] * seen[i]).sum();
            let square: f64 = (0..4).map(|i| weight[i] * each[i] * each[i]).sum();
            let error = cross / square;
            let left: f64 = (0..3).map(|i| weight[i] * (seen[i] - error * each[i]).powi(2)).sum::<f64>()
                + weight[3] * (seen[3] - error * each[3]).powi(2);
            let all = total + weight[3] * seen[3] * seen[3];
            let explained = if all > 0.0 { 1.0 - left / all } else { 0.0 };
            let pair = usize::from(matches!(plate, Plate::LR | Plate::RR));
            if explained > best.2 {
                best = (plate, error, explained, 2.0 * self.variance[pair].sqrt());
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn herd(cows: usize, shift: &[(usize, f64)]) -> Vec<Witness> {
        (0..cows)
            .map(|i| {
                let own = ((i * 37 % 101) as f64 / 50.0 - 1.0) * 2.0;
                let mut residual = [own * 0.5; SHIFTS];
                residual[WEIGHT] = own * 0.01;
                for &(k, by) in shift {
                    residual[k] += by;
                }
                // Every tenth cow goes lame on the same leg: the middle must not follow her.
                if i % 10 == 0 {
                    residual[1] += 20.0;
                }
                Witness { residual, variance: [4.0; SHIFTS] }
            })
            .collect()
    }

    #[test]
    fn a_light_plate_is_named_and_a_few_lame_cows_are_not_taken_for_it() {
        let date = jiff::civil::date(2024, 5, 1);
        let mut lane = LaneShift::new(true);
        for _ in 0..10 {
            lane.learn(&herd(101, &[]), 1);
        }
        assert_eq!(lane.day("a", date, 101, None).cause, LaneCause::Steady);
        for day in 1..=12 {
            let light = 0.4 * f64::from(day.min(10));
            let shift = [(1, -0.5 * light), (2, 0.125 * light), (WEIGHT, -0.0023 * light)];
            lane.learn(&herd(101, &shift), 1);
        }
        let said = lane.day("a", date, 101, None);
        assert_eq!((said.cause, said.plate), (LaneCause::Plate, Some(Plate::RR)), "{said:?}");
        assert!((said.plate_error_pct.unwrap() + 4.0).abs() < 0.8, "{said:?}");
        assert!(
            matches!(said.remark, Some(LaneRemark::PlateOff { plate: Plate::RR, error_pct }) if error_pct < 0.0)
        );
    }

    // Ten steady days: the filter is narrow. What lies beyond its limit opens it; what does not moves it a part of the way.
    #[test]
    fn a_jump_is_followed_at_once_and_lanes_that_jump_apart_do_not_agree() {
        let mut steady = LaneShift::new(true);
        (0..10).for_each(|_| steady.learn(&herd(101, &[]), 1));
        let after = |by: f64| {
            let mut lane = steady.clone();
            lane.learn(&herd(101, &[(1, by)]), 1);
            lane
        };
        let still = steady.shift()[1];
        for (by, least, most) in [(5.0, 4.5, 5.2), (-5.0, -5.2, -4.5), (0.5, 0.0, 0.4), (-0.5, -0.4, 0.0)] {
            let moved = after(by).shift()[1] - still;
            assert!((least..most).contains(&moved), "{by}: {moved}");
        }
        assert!(steady.agrees(&steady) && after(5.0).agrees(&after(5.0)));
        assert!(!steady.agrees(&after(5.0)) && !after(-5.0).agrees(&steady));
    }

    #[test]
    fn too_few_cows_move_nothing() {
        let mut lane = LaneShift::new(true);
        lane.learn(&herd(4, &[(1, 5.0)]), 1);
        assert_eq!(lane.shift()[1], 0.0);
    }

    #[test]
    fn a_slow_herd_is_no_plate() {
        let mut lane = LaneShift::new(true);
        for _ in 0..20 {
            lane.learn(
                &herd(101, &[(10, 0.3)])
                    .iter()
                    .map(|w| Witness { variance: [0.01; SHIFTS], ..*w })
                    .collect::<Vec<_>>(),
                1,
            );
        }
        let said = lane.day("a", jiff::civil::date(2024, 5, 1), 101, None);
        assert_ne!(said.cause, LaneCause::Plate);
    }
}
