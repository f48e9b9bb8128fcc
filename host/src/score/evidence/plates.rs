//! Gross faults of a lane's plates, which single passages often cannot tell: what all cows of a day carry on each plate,
//! in kg, against what they usually carry there. Slow and small errors are left to the lane's common shift.

use crate::arithmetic::statistics::{median, spread_about};
use crate::record::finding::{LaneRemark, Swap};
use crate::score::model::features::Measured;
use serde::{Deserialize, Serialize};
use shared::plate::Plate;

/// Cows that a fault rests on. Our choice: half a small milking.
const FEWEST_COWS: usize = 15;
/// Days of a cow before she says what is usual, and over which that is remembered. Our choice.
const KNOWN_DAYS: f32 = 3.0;
const MEMORY_DAYS: f32 = 10.0;
/// Days of a cow before she can say whether plates are swapped. Our choice: what tells her apart is small.
const WELL_KNOWN_DAYS: f32 = 7.0;
/// One plate is wrong when the herd carries so much more or less on it, as a logarithm, and the others are off by at
/// most this part of it. Our choice: no herd shifts 7 % of one leg overnight, and smaller errors are taken out.
const ONE_PLATE: f64 = 0.07;
const OTHERS_PART: f64 = 0.35;
/// Several are wrong from here, as a logarithm. Our choice: a sore herd moves less from its hind legs to the front.
const MANY_PLATES: f64 = 0.15;
/// Left and right of a herd nobody knows are alike within this, as a logarithm. Our choice: six points of a split.
const ALIKE: f64 = 0.12;
/// A front share within this of [`FRONT_SHARE`] does not tell which plate of a pair is wrong.
const FRONT_SHARE: f64 = 0.54;
/// Two plates are swapped when what tells cows apart is turned round: slope of today's differences on the usual ones
/// below this, and by so many standard errors below what a herd whose cows are little known shows when nothing is turned.
/// Our choice.
const TURNED: f64 = -0.5;
const TURNED_SE: f64 = 3.0;
const NOT_TURNED: f64 = 0.5;
/// Cows differ at least so much, in SD of a cow's day. Our choice.
const SIGNAL: f64 = 0.7;
/// Differences further from the middle than this many SD count as that far. Our choice.
const CLIP_SD: f64 = 2.5;
/// A plate reads no more than a limit when so many cows, and this part, stand within [`AT_LIMIT`] below the highest load,
/// and usually carry more by [`ABOVE_LIMIT`], as logarithms. Our choice.
const CLIPPED_COWS: usize = 8;
const CLIPPED_PART: f64 = 0.2;
const AT_LIMIT: f64 = 0.03;
const ABOVE_LIMIT: f64 = 0.06;
/// A plate is noisy when loads on it vary so many times as much as usual, and so many times as much as on any other. Our
/// choice.
const NOISY: f64 = 2.0;
const NOISIER: f64 = 1.4;

/// Four values, one a plate; NaN where unknown.
type Four = [f32; 4];

/// What a cow carries: logarithms of kg while standing, of the peaks in kg while walking, of the SD while standing.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct Loads {
    standing: Four,
    walking: Four,
    sway: Four,
    days: [f32; 2],
}

const NOTHING: Loads =
    Loads { standing: [f32::NAN; 4], walking: [f32::NAN; 4], sway: [f32::NAN; 4], days: [0.0; 2] };

fn mean(values: impl Iterator<Item = [f64; 4]> + Clone) -> Four {
    #[allow(clippy::cast_possible_truncation, reason = "loads")]
    std::array::from_fn(|j| {
        let known = values.clone().map(|value| value[j]).filter(|value| value.is_finite());
        let (sum, n) = known.fold((0.0, 0.0), |(sum, n), value| (sum + value, n + 1.0));
        (sum / n) as f32
    })
}

impl Loads {
    fn today(passages: &[Measured]) -> Self {
        let kg =
            |measured: &Measured, share: [f64; 4]| share.map(|share| (share / 100.0).ln() + measured.weight);
        Self {
            standing: mean(passages.iter().map(|m| kg(m, m.share))),
            walking: mean(passages.iter().map(|m| kg(m, m.peak))),
            sway: mean(passages.iter().map(|m| m.sway.map(f64::ln))),
            days: [0.0; 2],
        }
    }

    fn learn(&mut self, today: &Self) {
        let known = |four: &Four| four.iter().all(|value| value.is_finite());
        let [stood, walked] = &mut self.days;
        for (usual, now, days) in
            [(&mut self.standing, &today.standing, &mut *stood), (&mut self.walking, &today.walking, walked)]
        {
            if known(now) {
                *days = (*days + 1.0).min(MEMORY_DAYS);
                follow(usual, now, *days);
            }
        }
        if known(&today.sway) {
            follow(&mut self.sway, &today.sway, stood.max(1.0));
        }
    }
}

fn follow(usual: &mut Four, now: &Four, days: f32) {
    for (usual, now) in usual.iter_mut().zip(now) {
        *usual = if usual.is_nan() { *now } else { *usual + (now - *usual) / days };
    }
}

/// A cow's usual and today's values.
type UsualAndToday = (Four, Four);

/// What the cows of a lane usually carry, by the cow's number.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Plates {
    cows: Vec<Loads>,
    /// The plates that stood for one another on the last day.
    swapped: Option<Swap>,
}

impl Plates {
    /// The cows' passages of a day; a gross fault, if there is one, from which nothing is learned. `settled`: a person
    /// has looked at the plates, and a herd of which nothing is known is as it is.
    pub fn day(&mut self, by_cow: &[Vec<Measured>], settled: bool) -> Option<LaneRemark> {
        let today: Vec<(usize, Loads)> = by_cow
            .iter()
            .enumerate()
            .filter(|(_, passages)| !passages.is_empty())
            .map(|(cow, passages)| (cow, Loads::today(passages)))
            .collect();
        self.cows.resize(self.cows.len().max(by_cow.len()), NOTHING);
        let fault = self.fault(&today, settled);
        if fault.is_none() {
            today.iter().for_each(|(cow, loads)| self.cows[*cow].learn(loads));
        }
        self.swapped = match fault {
            Some(LaneRemark::PlatesSwapped { swapped }) => Some(swapped),
            _ => None,
        };
        fault
    }

    /// Forgets what was usual.
    pub fn forget(&mut self) {
        *self = Self::default();
    }

    fn fault(&self, today: &[(usize, Loads)], settled: bool) -> Option<LaneRemark> {
        let pairs = |days: usize, least: f32, of: fn(&Loads) -> Four| -> Vec<UsualAndToday> {
            let known = today.iter().filter(|(cow, _)| self.cows[*cow].days[days] >= least);
            let both = known.map(|(cow, now)| (of(&self.cows[*cow]), of(now)));
            both.filter(|(usual, now)| usual.iter().chain(now).all(|value| value.is_finite())).collect()
        };
        let by_days = |least: f32| {
            let standing = pairs(0, least, |loads| loads.standing);
            if standing.len() >= FEWEST_COWS { standing } else { pairs(1, least, |loads| loads.walking) }
        };
        let known = by_days(KNOWN_DAYS);
        if known.len() < FEWEST_COWS {
            return if settled { None } else { unknown_herd(today) };
        }
        let off = middles(&known);
        clipped(&known)
            .or_else(|| one_plate(off))
            .or_else(|| swapped(&by_days(WELL_KNOWN_DAYS), self.swapped))
            .or_else(|| many_plates(off))
            .or_else(|| noisy(&pairs(0, KNOWN_DAYS, |loads| loads.sway)))
    }
}

fn middles(pairs: &[UsualAndToday]) -> [f64; 4] {
    std::array::from_fn(|j| {
        median(&mut pairs.iter().map(|(usual, now)| f64::from(now[j] - usual[j])).collect::<Vec<_>>())
    })
}

fn pct(logarithm: f64) -> f64 {
    100.0 * logarithm.exp_m1()
}

/// One plate reads more or less than it did, by the middles of all four.
fn one_plate(off: [f64; 4]) -> Option<LaneRemark> {
    let largest = (0..4).max_by(|&a, &b| off[a].abs().total_cmp(&off[b].abs()))?;
    let others = (0..4).filter(|&j| j != largest).map(|j| off[j].abs()).fold(0.0, f64::max);
    (off[largest].abs() > ONE_PLATE && others <= OTHERS_PART * off[largest].abs())
        .then(|| LaneRemark::PlateWrong { plate: Plate::ALL[largest], error_pct: pct(off[largest]) })
}

/// Several do.
fn many_plates(off: [f64; 4]) -> Option<LaneRemark> {
    let [lf_pct, rf_pct, lr_pct, rr_pct] = off.map(pct);
    let far = off.iter().any(|off| off.abs() > MANY_PLATES);
    far.then_some(LaneRemark::PlatesWrong { lf_pct, rf_pct, lr_pct, rr_pct })
}

/// Held within [`CLIP_SD`] of the middle, which is taken off where the values are centred; and their robust SD.
fn held(mut values: Vec<f64>, centred: bool) -> (Vec<f64>, f64) {
    let middle = median(&mut values.clone());
    let sd = spread_about(middle, &values);
    for value in &mut values {
        *value = value.clamp(middle - CLIP_SD * sd, middle + CLIP_SD * sd);
        *value -= if centred { middle } else { 0.0 };
    }
    (values, sd)
}

/// How what tells cows apart today stands to what usually does.
#[derive(Clone, Copy)]
struct SidesTurned {
    /// Slope of today's differences on the usual ones, and its standard error.
    slope: f64,
    se: f64,
    /// Whether the cows differ enough for a day to tell.
    tells: bool,
}

impl SidesTurned {
    fn of(pairs: &[UsualAndToday], difference: impl Fn(&Four) -> f64, centred: bool) -> Self {
        let (usual, signal) = held(pairs.iter().map(|pair| difference(&pair.0)).collect(), centred);
        let (now, _) = held(pairs.iter().map(|pair| difference(&pair.1)).collect(), centred);
        let square: f64 = usual.iter().map(|x| x * x).sum();
        let slope = usual.iter().zip(&now).map(|(x, y)| x * y).sum::<f64>() / square;
        let left: f64 = usual.iter().zip(&now).map(|(x, y)| (y - slope * x).powi(2)).sum();
        let noise = |sign: f64| held(usual.iter().zip(&now).map(|(x, y)| y + sign * x).collect(), true).1;
        let size = if centred { signal } else { (square / usual.len() as f64).sqrt() };
        Self {
            slope,
            se: (left / (pairs.len() as f64 - 2.0) / square).sqrt(),
            tells: size >= SIGNAL * f64::min(noise(1.0), noise(-1.0)),
        }
    }

    /// Whether it is turned round; surely, or still.
    fn turned(self, was: bool) -> bool {
        let surely = self.tells && self.slope < TURNED && self.slope + TURNED_SE * self.se < NOT_TURNED;
        surely || was && self.slope < 0.0
    }
}

/// Plates that stand for one another. `was`: what was said on the last day.
fn swapped(pairs: &[UsualAndToday], was: Option<Swap>) -> Option<LaneRemark> {
    if pairs.len() < FEWEST_COWS {
        return None;
    }
    let [lf, rf, lr, rr] = [0, 1, 2, 3].map(|j| move |four: &Four| f64::from(four[j]));
    let ends = SidesTurned::of(pairs, |four| lf(four) + rf(four) - lr(four) - rr(four), false);
    if ends.turned(was == Some(Swap::FrontAndRear)) {
        return Some(LaneRemark::PlatesSwapped { swapped: Swap::FrontAndRear });
    }
    let front = SidesTurned::of(pairs, |four| lf(four) - rf(four), true);
    let rear = SidesTurned::of(pairs, |four| lr(four) - rr(four), true);
    let still = |swap: Swap| was == Some(swap) || was == Some(Swap::LeftAndRight);
    if !front.turned(still(Swap::FrontPlates)) && !rear.turned(still(Swap::RearPlates)) {
        return None;
    }
    // Where one pair is surely turned, the other is by what is likelier.
    let swapped = match (front.slope < 0.0, rear.slope < 0.0) {
        (true, true) => Swap::LeftAndRight,
        (true, false) => Swap::FrontPlates,
        _ => Swap::RearPlates,
    };
    Some(LaneRemark::PlatesSwapped { swapped })
}

/// A plate that reads no more than a limit.
fn clipped(pairs: &[UsualAndToday]) -> Option<LaneRemark> {
    (0..4).find_map(|j| {
        let highest = pairs.iter().map(|(_, now)| f64::from(now[j])).fold(f64::NEG_INFINITY, f64::max);
        let at = pairs.iter().filter(|(_, now)| f64::from(now[j]) > highest - AT_LIMIT);
        let mut above: Vec<f64> = at.map(|(usual, _)| f64::from(usual[j]) - highest).collect();
        let many = above.len() >= CLIPPED_COWS && above.len() as f64 >= CLIPPED_PART * pairs.len() as f64;
        (many && median(&mut above) > ABOVE_LIMIT)
            .then(|| LaneRemark::PlateClips { plate: Plate::ALL[j], at_kg: highest.exp() })
    })
}

/// A plate whose load varies more than the cows do.
fn noisy(pairs: &[UsualAndToday]) -> Option<LaneRemark> {
    if pairs.len() < FEWEST_COWS {
        return None;
    }
    let times = middles(pairs).map(f64::exp);
    let noisiest = (0..4).max_by(|&a, &b| times[a].total_cmp(&times[b]))?;
    let others = (0..4).filter(|&j| j != noisiest).map(|j| times[j]).fold(0.0, f64::max);
    (times[noisiest] > NOISY && times[noisiest] > NOISIER * others)
        .then(|| LaneRemark::PlateNoisy { plate: Plate::ALL[noisiest], times: times[noisiest] })
}

/// A herd of which nothing is known yet: its left and right legs carry alike all the same.
fn unknown_herd(today: &[(usize, Loads)]) -> Option<LaneRemark> {
    let all = |of: fn(&Loads) -> Four| -> Vec<Four> {
        today.iter().map(|(_, loads)| of(loads)).filter(|four| four.iter().all(|v| v.is_finite())).collect()
    };
    let (standing, walking) = (all(|loads| loads.standing), all(|loads| loads.walking));
    let known = if standing.len() >= FEWEST_COWS { standing } else { walking };
    if known.len() < FEWEST_COWS {
        return None;
    }
    let right = |left: usize| {
        median(&mut known.iter().map(|four| f64::from(four[left + 1] - four[left])).collect::<Vec<_>>())
    };
    let off = [right(0), right(2)];
    let pair = usize::from(off[1].abs() > off[0].abs());
    if off[pair].abs() <= ALIKE {
        return None;
    }
    // Either the right plate of the pair is off, or the left one the other way: the front share says which.
    let share = |corrected: usize, by: f64| {
        let kg =
            |four: &Four, j: usize| f64::from(four[j]).exp() * if j == corrected { by.exp() } else { 1.0 };
        let of = |four: &Four| {
            let front = kg(four, 0) + kg(four, 1);
            front / (front + kg(four, 2) + kg(four, 3))
        };
        (median(&mut known.iter().map(of).collect::<Vec<_>>()) - FRONT_SHARE).abs()
    };
    let (left, right) = (2 * pair, 2 * pair + 1);
    let (plate, error) = if share(right, -off[pair]) <= share(left, off[pair]) {
        (right, off[pair])
    } else {
        (left, -off[pair])
    };
    Some(LaneRemark::PlateWrong { plate: Plate::ALL[plate], error_pct: pct(error) })
}
