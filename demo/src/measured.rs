//! What a lane would measure of a passage, drawn from the cow's bearing with the errors its length allows, without
//! going through readings: herds of years are made this way.

use crate::bearing::{Bearing, SWAY_S};
use crate::cow::pair_index;
use crate::lane::Trouble;
use crate::random::Random;
use shared::analysis::{LegContacts, PassageKind, PassageSummary, Quality, Reason, Standing};
use shared::plate::{Leg, PerLeg, PerPlate};
use shared::units::{Estimate, Milliseconds};

/// Mean force over a sound contact to its peak, front and hind, so that the peaks are 60 and 50 % of body weight:
/// Scott 1988.
const PEAK_TO_MEAN: [f64; 2] = [1.245, 1.217];
/// Error of the weight, kg: standing, and walking over (our choice).
const WEIGHT_ERROR_KG: (f64, f64) = (2.0, 7.0);
/// Error of walking measures from passage to passage and from contact to contact, part (our choice).
const GAIT_ERROR: (f64, f64) = (0.04, 0.05);
/// Time of an excursion of a weight shift, and of a lift, s: as in the readings.
const SHIFT_S: f64 = 3.3;
const LIFT_S: f64 = 0.95;

/// Draws the summary of a passage that begins at `start`, ms since the Unix epoch.
pub fn measure(
    bearing: &Bearing,
    start: i64,
    rate_hz: f64,
    gains: PerPlate<f64>,
    trouble: Option<Trouble>,
    random: &mut Random,
) -> PassageSummary {
    let stride = bearing.gait.stride_s;
    let stands = bearing.stance_s;
    let duration = 2.8 * stride + stands.map_or(0.0, |s| s + 0.5 * stride);
    let mut quality = Quality::default();
    let standing = stands.map(|s| stand(bearing, s, gains, random));
    if standing.is_none() {
        quality.add(Reason::NoStance);
    }
    let walking = walk(bearing, if stands.is_some() { 1 } else { 2 }, gains, random);
    let error = if stands.is_some() { WEIGHT_ERROR_KG.0 } else { WEIGHT_ERROR_KG.1 };
    let gain = Leg::ALL.iter().map(|l| bearing.share_pct[*l] / 100.0 * gains.0[*l as usize]).sum::<f64>();
    let weight = bearing.body_weight_kg * gain + random.normal(0.0, error);
    let readings = duration * rate_hz;
    let mut summary = PassageSummary {
        start: Milliseconds(start as u64),
        duration: Milliseconds((duration * 1000.0) as u64),
        kind: if stands.is_some() { PassageKind::Stance } else { PassageKind::WalkThrough },
        quality,
        readings: readings as u32,
        lost_readings: 0,
        body_weight: Some(Estimate { value: weight as f32, se: error as f32 }),
        standing,
        walking,
    };
    if let Some(trouble) = trouble {
        spoil(&mut summary, trouble, random);
    }
    summary
}

/// Variance of the mean of a sway over `seconds`, as part of its variance.
fn of_mean(seconds: f64) -> f64 {
    let u = seconds / SWAY_S;
    2.0 / u * (1.0 - (1.0 - libm::exp(-u)) / u)
}

fn stand(bearing: &Bearing, seconds: f64, gains: PerPlate<f64>, random: &mut Random) -> Standing {
    let part = of_mean(seconds);
    let mut share = bearing.share_pct;
    let mut variance = PerLeg([0.0; 4]);
    let mut shifts = [0_u16; 2];
    let mut lifts = PerLeg([0_u16; 4]);
    for pair in [0, 1] {
        let (left, right) = (Leg::ALL[2 * pair], Leg::ALL[2 * pair + 1]);
        let sway = bearing.sway_pct[left];
        let uneven = share[left] - share[right];
        let excursions = random.poisson(bearing.shifts_per_min[pair] / 120.0 * seconds);
        let wide = uneven.abs() > 14.0;
        let over = if wide { 0.3 * uneven.abs() } else { 0.5 * uneven.abs() + 4.2 };
        let away = (f64::from(excursions) * SHIFT_S / seconds).min(0.7);
        let moved = random.normal(0.0, sway * libm::sqrt(part)) - uneven.signum() * over * away;
        shifts[pair] = if wide { 0 } else { (2 * excursions) as u16 };
        share[left] += moved;
        share[right] -= moved;
        for leg in [left, right] {
            variance[leg] = sway * sway * (1.0 - part) + over * over * away * (1.0 - away);
        }
    }
    for leg in Leg::ALL {
        let count = random.poisson(bearing.lifts_per_min[leg] / 60.0 * seconds);
        let up = (0.8 * f64::from(count) * LIFT_S / seconds).min(0.6);
        let lost = share[leg] * up;
        variance[leg] += share[leg] * share[leg] * up * (1.0 - up);
        variance[leg.opposite()] += share[leg] * share[leg] * up * (1.0 - up);
        share[leg] -= lost;
        share[leg.opposite()] += lost;
        lifts[leg] = count as u16;
    }
    let aft = random.normal(0.0, 0.6 * libm::sqrt(part));
    for leg in Leg::ALL {
        share[leg] += if pair_index(leg) == 0 { aft / 2.0 } else { -aft / 2.0 };
        share[leg] = share[leg].max(0.5) * gains.0[leg as usize];
    }
    let total: f64 = share.0.iter().sum();
    let mut standing = Standing {
        seconds: seconds as f32,
        front_shifts: shifts[0],
        rear_shifts: shifts[1],
        lifts,
        ..Standing::default()
    };
    for leg in Leg::ALL {
        let sd = libm::sqrt(variance[leg]) * random.log_normal(1.0, 0.1);
        standing.share_pct[leg] = (100.0 * share[leg] / total) as f32;
        standing.share_sd_pct[leg] = sd as f32;
        standing.share_se_pct[leg] = (sd * libm::sqrt(part) * random.log_normal(1.0, 0.15)) as f32;
    }
    standing
}

fn walk(bearing: &Bearing, contacts: u8, gains: PerPlate<f64>, random: &mut Random) -> PerLeg<LegContacts> {
    let gait = &bearing.gait;
    let push = |leg: Leg| {
        let pair = bearing.share_pct[leg] + bearing.share_pct[leg.opposite()];
        pair * gait.duty[leg] * gait.strength[leg]
    };
    let total: f64 = Leg::ALL.into_iter().map(push).sum();
    let common = random.normal(1.0, GAIT_ERROR.0);
    let each = GAIT_ERROR.1 / libm::sqrt(f64::from(contacts));
    PerLeg(Leg::ALL.map(|leg| {
        let mut error = |size: f64| (1.0 + random.normal(0.0, size)).max(0.2);
        // She walks over rear and front plates of her side, so a gain counts by half.
        let side = if matches!(leg, Leg::LF | Leg::LR) { 0 } else { 1 };
        let gain = 0.5 * (gains.0[side] + gains.0[2 + side]);
        let contact_s = gait.duty[leg] * gait.stride_s * error(0.6 * each);
        let impulse = 100.0 * gait.stride_s * push(leg) / total * gain * error(each);
        let mean = 100.0 * push(leg) / total / gait.duty[leg] * gain;
        LegContacts {
            count: contacts,
            peak_pct: (mean * PEAK_TO_MEAN[pair_index(leg)] * common * error(each)) as f32,
            stance_s: contact_s as f32,
            impulse_pct_s: impulse as f32,
            step_s: (gait.stride_s / 2.0 * error(0.6 * each)) as f32,
        }
    }))
}

/// What a fault does to the numbers, and the reason a lane would give.
fn spoil(summary: &mut PassageSummary, trouble: Trouble, random: &mut Random) {
    let reason = match trouble {
        Trouble::TwoCows => Reason::TwoAnimals,
        Trouble::Calf | Trouble::Person => Reason::TooLight,
        Trouble::BackedOut => Reason::BackedOut,
        Trouble::FootAcross => Reason::FootAcross,
        Trouble::Saturated => Reason::Saturated,
        Trouble::StuckPlate => Reason::StuckPlate,
        Trouble::LostReadings => Reason::LostReadings,
        Trouble::Ringing => Reason::Ringing,
        Trouble::TagMissed | Trouble::TagSwapped => return,
    };
    summary.quality.add(reason);
    match reason {
        Reason::LostReadings => summary.lost_readings = summary.readings / 5,
        Reason::TooLight | Reason::BackedOut => {
            summary.kind = PassageKind::Unclear;
            summary.standing = None;
            summary.walking = PerLeg::default();
            if let Some(weight) = summary.body_weight.as_mut().filter(|_| reason == Reason::TooLight) {
                weight.value = random.uniform(60.0, 160.0) as f32;
            }
        }
        Reason::Ringing => {
            if let Some(standing) = &mut summary.standing {
                standing.share_sd_pct.0.iter_mut().for_each(|sd| *sd *= 1.3);
            }
        }
        _ => {
            // Load is missing on one leg, or two cows are mixed.
            if let Some(weight) = &mut summary.body_weight {
                weight.value *= if reason == Reason::TwoAnimals { 1.5 } else { 0.9 };
            }
            if let Some(standing) = &mut summary.standing {
                let leg = Leg::ALL[random.below(4)];
                standing.share_pct[leg] *= random.uniform(0.3, 0.9) as f32;
                let total: f32 = standing.share_pct.0.iter().sum();
                standing.share_pct.0.iter_mut().for_each(|s| *s *= 100.0 / total);
            }
        }
    }
}
