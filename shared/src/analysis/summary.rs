//! What one passage says: the record that device and host agree on to the byte.

use super::quality::Quality;
use crate::{
    plate::{Leg, Pair, PerLeg},
    units::{Estimate, Milliseconds},
};
use serde::{Deserialize, Serialize};

/// How she crossed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum PassageKind {
    /// She stood with one foot on each plate, and may have walked as well.
    Stance,
    /// She walked straight through: contacts only.
    WalkThrough,
    /// Neither could be made out.
    Unclear,
}

/// The measures of standing: all stances of a passage together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Standing {
    /// Time stood, s.
    pub seconds: f32,
    /// Mean leg share, % of body weight; the four add up to 100.
    pub share_pct: PerLeg<f32>,
    /// SD of the leg share over the stance, percentage points.
    pub share_sd_pct: PerLeg<f32>,
    /// Standard error of the mean leg share, percentage points, allowing for the correlation of readings.
    pub share_se_pct: PerLeg<f32>,
    /// Weight shifts within the front pair, count.
    pub front_shifts: u16,
    /// Weight shifts within the rear pair, count.
    pub rear_shifts: u16,
    /// Leg lifts, count.
    pub lifts: PerLeg<u16>,
}

/// The walking contacts of one leg, mean over its whole contacts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LegContacts {
    /// Whole contacts, count; with none, the other fields are zero.
    pub count: u8,
    /// Peak vertical force behind the low-pass of 5 Hz, % of body weight: of measured curves it takes 1.8 points at a stance
    /// of .6 s, .7 at 1 s.
    pub peak_pct: f32,
    /// Stance time: foot on to foot off, s.
    pub stance_s: f32,
    /// Vertical impulse, % of body weight x s.
    pub impulse_pct_s: f32,
    /// Step time: from the landing of the other leg of the pair to the landing of this one, s; 0 if not seen.
    pub step_s: f32,
}

/// The passage summary.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PassageSummary {
    /// First foot on, on the lane's clock.
    pub start: Milliseconds,
    /// First foot on to last foot off.
    pub duration: Milliseconds,
    /// How she crossed.
    pub kind: PassageKind,
    /// What limits its use.
    pub quality: Quality,
    /// Readings taken.
    pub readings: u32,
    /// Readings missing, as the rate would have them.
    pub lost_readings: u32,
    /// Body weight, kg.
    pub body_weight: Option<Estimate>,
    /// Standing measures, if she stood.
    pub standing: Option<Standing>,
    /// Walking measures by leg.
    pub walking: PerLeg<LegContacts>,
}

/// Leg weight ratio of two loads: lighter / heavier, 0..1. `None` where both are empty.
#[must_use]
pub fn leg_weight_ratio(left: f32, right: f32) -> Option<f32> {
    let (lighter, heavier) = if left < right { (left, right) } else { (right, left) };
    (heavier > 0.0).then(|| lighter.max(0.0) / heavier)
}

/// Symmetry index of two values, %: 100 (R - L) / (0.5 (R + L)). `None` where they add up to nothing.
///
/// Source: Robinson's index as credited by Herzog 1989.
#[must_use]
pub fn symmetry_index_pct(left: f32, right: f32) -> Option<f32> {
    let half_sum = 0.5 * (left + right);
    (half_sum > 0.0).then(|| 100.0 * (right - left) / half_sum)
}

impl Standing {
    /// LWR of a pair, from the mean shares.
    #[must_use]
    pub fn lwr(&self, pair: Pair) -> Option<f32> {
        let (left, right) = pair.legs();
        leg_weight_ratio(self.share_pct[left], self.share_pct[right])
    }

    /// SI of a pair, %, from the mean shares.
    #[must_use]
    pub fn si_pct(&self, pair: Pair) -> Option<f32> {
        let (left, right) = pair.legs();
        symmetry_index_pct(self.share_pct[left], self.share_pct[right])
    }

    /// Load on the front pair, % of body weight.
    #[must_use]
    pub fn front_pct(&self) -> f32 {
        self.share_pct[Leg::LF] + self.share_pct[Leg::RF]
    }

    /// Weight shifts of both pairs, per minute.
    #[must_use]
    pub fn shifts_per_min(&self) -> Option<f32> {
        per_minute(f32::from(self.front_shifts) + f32::from(self.rear_shifts), self.seconds)
    }

    /// Leg lifts of all legs, per minute.
    #[must_use]
    pub fn lifts_per_min(&self) -> Option<f32> {
        per_minute(self.lifts.0.iter().map(|&n| f32::from(n)).sum(), self.seconds)
    }
}

fn per_minute(count: f32, seconds: f32) -> Option<f32> {
    (seconds > 0.0).then(|| 60.0 * count / seconds)
}
