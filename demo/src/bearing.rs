//! How a cow carries herself in one passage: standing shares, restlessness and gait, from her build, her day and
//! her sore feet.

use crate::cow::{Condition, Cow, pair_index, per_leg};
use crate::random::Random;
use shared::plate::{Leg, PerLeg};

/// Points of symmetry index a sore leg gives up: `8 s^1.8` at severity `s`. At 1.9 it gives the 25 % that goes with
/// a rear LWR of 0.78 (Chapinal, lame), at 2.9 the 54 % of Pluss 2021 (lame).
const OFFLOAD: (f64, f64) = (8.0, 1.8);
/// Part of a sore hind leg's load that goes to the front: "only limited ability to shift weight from front to
/// back", Neveux 2006. Size: our choice.
const HIND_TO_FRONT: f64 = 0.05;
/// Part of a sore front leg's load that goes to the hind leg of its side. Direction: Neveux 2006. Size: our choice.
const FRONT_TO_HIND: f64 = 0.3;
/// Points of front share gained when both hind legs are sore, per unit of the lesser severity (our choice).
const BOTH_HIND_TO_FRONT: f64 = 0.9;
/// SD of a leg's sway, points of body weight, front and rear (our choice: the published SDs are of many minutes).
pub const SWAY_SD_PCT: [f64; 2] = [1.7, 2.1];
/// Time constant of sway, s (our choice).
pub const SWAY_S: f64 = 1.2;
/// How she stands differs from passage to passage: SD of symmetry index, points (our choice, so that the mean
/// rear LWR of sound cows comes to about 0.87: Chapinal).
const POSTURE_SI_SD: f64 = 8.0;
/// SD of front share from passage to passage, points (our choice): where she puts her feet, where she looks.
const POSTURE_FRONT_SD: f64 = 0.9;
/// Restlessness grows with severity. Rear steps 1.0 to 1.6 a minute: Chapinal & Tucker 2012.
const LIFTS_GAIN: f64 = 0.27;
/// Weight shifts grow likewise (our choice).
const SHIFTS_GAIN: f64 = 0.35;
/// SD of rear-leg weight 24.5 to 31.1 kg, sound to lame: Chapinal.
const SWAY_GAIN: f64 = 0.12;
/// Stride duration 1.26 to 1.48 s and length 139.5 to 130.0 cm at severity about 2.2: Flower 2005.
const STRIDE_S_GAIN: f64 = 0.08;
const STRIDE_M_LOSS: f64 = 0.031;
/// Three feet down for 18 to 42 % of a stride: Flower 2005, so duty grows by 0.06.
const DUTY_GAIN: f64 = 0.027;
/// A sore leg pushes less and for less time, the other stands longer. Direction: Dyer 2011. Sizes: our choice.
const STRENGTH_LOSS: f64 = 0.035;
const SORE_DUTY_LOSS: f64 = 0.015;
const OTHER_DUTY_GAIN: f64 = 0.012;

/// How she walks.
#[derive(Clone, Debug)]
pub struct Gait {
    /// Stride length, m.
    pub stride_m: f64,
    /// Stride duration, s.
    pub stride_s: f64,
    /// Part of the stride each foot is down.
    pub duty: PerLeg<f64>,
    /// How hard each leg pushes against what it does when sound, 0..1.
    pub strength: PerLeg<f64>,
}

/// One passage's bearing.
#[derive(Clone, Debug)]
pub struct Bearing {
    /// Body weight, kg.
    pub body_weight_kg: f64,
    /// Mean standing share of each leg, % of body weight; adds up to 100.
    pub share_pct: PerLeg<f64>,
    /// SD of sway of each leg, points of body weight.
    pub sway_pct: PerLeg<f64>,
    /// Weight shifts a minute, front and rear.
    pub shifts_per_min: [f64; 2],
    /// Lifts a minute of each leg.
    pub lifts_per_min: PerLeg<f64>,
    /// How she walks.
    pub gait: Gait,
    /// Time she stands, s; `None` where she walks straight through.
    pub stance_s: Option<f64>,
    /// How sore each leg is.
    pub sore: PerLeg<f64>,
}

impl Bearing {
    /// Draws her bearing at `time`, days from the start of the record.
    pub fn draw(cow: &Cow, condition: &Condition, time: f64, random: &mut Random) -> Self {
        let day = time.floor() as i32;
        let sore = cow.course.severity(time);
        let worst = sore.0.iter().copied().fold(0.0, f64::max);
        let all: f64 = worst + 0.3 * (sore.0.iter().sum::<f64>() - worst);
        let posture = |random: &mut Random, pair: usize| {
            let pair_sore = sore[Leg::ALL[2 * pair]].max(sore[Leg::ALL[2 * pair + 1]]);
            cow.si_pct[pair]
                + condition.si_pct[pair]
                + random.normal(0.0, POSTURE_SI_SD * (1.0 + 0.2 * pair_sore))
        };
        let si = [posture(random, 0), posture(random, 1)];
        let front = cow.front_pct + condition.front_pct + stage_front_pct(cow, day);
        let front = front + random.normal(0.0, POSTURE_FRONT_SD);
        let share_pct = standing_shares(front, si, &sore, &cow.course.block_si_pct(time));
        let stands = !random.chance(cow.walk_through);
        Self {
            body_weight_kg: cow.mass_on(day) + condition.fill_kg + random.normal(0.0, 8.0),
            share_pct,
            sway_pct: per_leg(|leg| {
                SWAY_SD_PCT[pair_index(leg)] * (1.0 + SWAY_GAIN * pair_worst(&sore, leg))
            }),
            shifts_per_min: [0, 1].map(|pair| {
                cow.shifts_per_min[pair] * (1.0 + SHIFTS_GAIN * pair_worst(&sore, Leg::ALL[2 * pair]))
            }),
            lifts_per_min: per_leg(|leg| {
                let own = 1.4 * sore[leg] + 0.6 * sore[leg.opposite()];
                cow.lifts_per_min[pair_index(leg)] * (1.0 + LIFTS_GAIN * own)
            }),
            gait: Gait {
                stride_m: cow.stride.0 * (1.0 - STRIDE_M_LOSS * all) * random.log_normal(1.0, 0.025),
                stride_s: cow.stride.1 * (1.0 + STRIDE_S_GAIN * all) * random.log_normal(1.0, 0.04),
                duty: per_leg(|leg| {
                    let duty = cow.duty + DUTY_GAIN * all - SORE_DUTY_LOSS * sore[leg]
                        + OTHER_DUTY_GAIN * sore[leg.opposite()];
                    duty.clamp(0.5, 0.72)
                }),
                strength: per_leg(|leg| (1.0 - STRENGTH_LOSS * libm::pow(sore[leg], OFFLOAD.1)).max(0.3)),
            },
            stance_s: stands.then(|| random.log_normal(cow.stance_s, 0.5).clamp(1.5, 60.0)),
            sore,
        }
    }
}

/// What stage of lactation does to the front share, points: "milk weight carried mainly on the back legs", fetus 52
/// to 48: Chapinal 2009. Sizes: our choice.
fn stage_front_pct(cow: &Cow, day: i32) -> f64 {
    let Some((in_milk, next)) = cow.lactation(day) else { return 0.0 };
    let udder = f64::from(in_milk) / 50.0;
    let calf = next.map_or(0.0, |d| libm::exp(-f64::from(d) / 60.0));
    -0.7 * udder * libm::exp(1.0 - udder) + 0.4 * calf
}

fn pair_worst(sore: &PerLeg<f64>, leg: Leg) -> f64 {
    sore[leg].max(sore[leg.opposite()])
}

/// Mean standing share of each leg, % of body weight.
///
/// `si_pct` is her own symmetry index of the front and the rear pair; `block_si_pct` is what a block moves off a leg.
#[must_use]
pub fn standing_shares(
    front_pct: f64,
    si_pct: [f64; 2],
    sore: &PerLeg<f64>,
    block_si_pct: &PerLeg<f64>,
) -> PerLeg<f64> {
    let both_hind = sore[Leg::LR].min(sore[Leg::RR]);
    let front = front_pct + BOTH_HIND_TO_FRONT * both_hind;
    let pair_pct = [front, 100.0 - front];
    let mut share = per_leg(|leg| {
        let pair = pair_index(leg);
        let side = if matches!(leg, Leg::LF | Leg::LR) { -1.0 } else { 1.0 };
        pair_pct[pair] * (0.5 + side * si_pct[pair] / 400.0)
    });
    for leg in Leg::ALL {
        let pair = pair_pct[pair_index(leg)];
        let pain = OFFLOAD.0 * libm::pow(sore[leg], OFFLOAD.1) * pair / 400.0;
        let pain = pain.min((share[leg] - 2.0).max(0.0));
        let block = block_si_pct[leg] * pair / 400.0;
        share[leg] -= pain + block;
        share[leg.opposite()] += block;
        match leg {
            Leg::LF | Leg::RF => {
                let same_side = if leg == Leg::LF { Leg::LR } else { Leg::RR };
                share[leg.opposite()] += (1.0 - FRONT_TO_HIND) * pain;
                share[same_side] += FRONT_TO_HIND * pain;
            }
            Leg::LR | Leg::RR => {
                share[leg.opposite()] += (1.0 - HIND_TO_FRONT) * pain;
                share[Leg::LF] += 0.5 * HIND_TO_FRONT * pain;
                share[Leg::RF] += 0.5 * HIND_TO_FRONT * pain;
            }
        }
    }
    share
}
