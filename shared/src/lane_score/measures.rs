//! The measures of a passage that a cow is judged by at the lane: how the pairs split their load.

use crate::{
    analysis::{LegContacts, PassageKind, PassageSummary, Reason, Standing},
    plate::Leg,
};

/// How many measures there are: the standing split of the front pair and of the rear pair, the front share, and the same
/// three of the peaks of walking. Splits are 100 (R - L) / (R + L), in points of the pair's load.
pub const MEASURES: usize = 6;
/// How many classes of passages there are.
pub const CLASSES: usize = 3;
/// Standing time from which a stance is `Long`, s. Our choice.
pub const LONG_STANCE_S: f32 = 8.0;
/// Shares that add up to less or more are no shares, %. Our choice.
pub const SHARES_SUM: core::ops::RangeInclusive<f32> = 80.0..=120.0;

/// How a passage was measured; each class has its own errors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(usize)]
pub enum Class {
    /// Stood for a while.
    Long = 0,
    /// Stood briefly.
    Short = 1,
    /// Walked.
    Walk = 2,
}

/// The measures of one passage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measures {
    /// The values; NaN where not measured.
    pub value: [f32; MEASURES],
    /// The part of the error variance that the lane itself states; 0 where it states none.
    pub stated: [f32; MEASURES],
    /// How it was measured.
    pub class: Class,
}

fn positive(value: f32) -> Option<f32> {
    (value.is_finite() && value > 0.0).then_some(value)
}

fn split(left: Option<f32>, right: Option<f32>) -> f32 {
    match (left, right) {
        (Some(left), Some(right)) => 100.0 * (right - left) / (right + left),
        _ => f32::NAN,
    }
}

impl Measures {
    /// Of a passage; `None` where it is not to be trusted or measured nothing.
    #[must_use]
    pub fn of(summary: &PassageSummary) -> Option<Self> {
        if !summary.quality.trusted() {
            return None;
        }
        let mut all = Self { value: [f32::NAN; MEASURES], stated: [0.0; MEASURES], class: Class::Walk };
        if let Some(standing) = &summary.standing {
            all.standing(standing);
            if summary.kind == PassageKind::Stance && !summary.quality.has(Reason::NoStance) {
                let seconds = positive(standing.seconds).unwrap_or_else(|| summary.duration.seconds());
                all.class = if seconds >= LONG_STANCE_S { Class::Long } else { Class::Short };
            }
        }
        all.walking(summary);
        all.value.iter().any(|value| !value.is_nan()).then_some(all)
    }

    fn standing(&mut self, standing: &Standing) {
        let share =
            standing.share_pct.0.map(|share| if share.is_finite() { share.max(0.01) } else { f32::NAN });
        let sum: f32 = share.iter().sum();
        // The comparison also drops NaN.
        if !SHARES_SUM.contains(&sum) {
            return;
        }
        let [lf, rf, lr, rr] = share.map(|share| 100.0 * share / sum);
        let [front_split, rear_split, front_share, ..] = &mut self.value;
        (*front_split, *rear_split) = (split(Some(lf), Some(rf)), split(Some(lr), Some(rr)));
        *front_share = lf + rf;
        if let [Some(a), Some(b), Some(c), Some(d)] = standing.share_se_pct.0.map(positive) {
            // Left and right errors of a pair are opposite: what one leg gains the other loses.
            let (front, rear) = (100.0 * (a + b) / (lf + rf), 100.0 * (c + d) / (lr + rr));
            let all = a + b + c + d;
            let [front_split, rear_split, front_share, ..] = &mut self.stated;
            (*front_split, *rear_split, *front_share) = (front * front, rear * rear, 0.25 * all * all);
        }
    }

    fn walking(&mut self, summary: &PassageSummary) {
        let of = |contacts: &LegContacts| (contacts.count > 0).then(|| positive(contacts.peak_pct)).flatten();
        let [lf, rf, lr, rr] = Leg::ALL.map(|leg| of(&summary.walking[leg]));
        let [.., front_peak, rear_peak, peak_front] = &mut self.value;
        (*front_peak, *rear_peak) = (split(lf, rf), split(lr, rr));
        if let (Some(a), Some(b), Some(c), Some(d)) = (lf, rf, lr, rr) {
            *peak_front = 100.0 * (a + b) / (a + b + c + d);
        }
    }
}
