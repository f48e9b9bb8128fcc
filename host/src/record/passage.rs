//! One cow's way through one lane.

use crate::record::AnimalId;
use jiff::{Timestamp, civil::Date};
use shared::analysis::{LegContacts, PassageSummary, Reason, Standing};
use shared::units::Estimate;

/// One cow's crossing of one lane, as stored.
#[derive(Clone, Debug)]
pub struct Passage {
    /// The store's own number.
    pub id: i64,
    /// The lane it was measured in.
    pub lane: String,
    /// First foot on, UTC.
    pub time: Timestamp,
    /// The local day of `time` in the farm's time zone.
    pub date: Date,
    /// Who it was, where a tag says so.
    pub animal: Option<AnimalId>,
    /// What the lane measured.
    pub summary: PassageSummary,
}

/// Heaviest weight that is kept, kg, and the range of shares of a leg, % of body weight: wide of any animal, so that only
/// what is no measure at all is dropped. Our choice.
const HEAVIEST_KG: f32 = 5000.0;
const SHARES_PCT: std::ops::RangeInclusive<f32> = -20.0..=120.0;
/// Longest stance or contact and largest peak that are kept, s and % of body weight. Our choice.
const LONGEST_S: f32 = 86_400.0;
const PEAK_PCT: f32 = 400.0;

/// The summary without values that no cow can give, marked where there were any.
#[must_use]
pub fn checked(summary: &PassageSummary) -> PassageSummary {
    let mut good = *summary;
    good.body_weight = summary.body_weight.filter(weighs);
    good.standing = summary.standing.filter(stands);
    for contacts in &mut good.walking.0 {
        if !treads(contacts) {
            *contacts = LegContacts::default();
        }
    }
    if good != *summary || !same_numbers(summary) {
        good.quality.add(Reason::Implausible);
    }
    good
}

/// NaN differs from itself, so that a summary with one never equals its copy.
#[allow(clippy::eq_op, reason = "NaN is no number: it differs from itself")]
fn same_numbers(summary: &PassageSummary) -> bool {
    summary == summary
}

fn weighs(weight: &Estimate) -> bool {
    (0.0..=HEAVIEST_KG).contains(&weight.value) && (0.0..=HEAVIEST_KG).contains(&weight.se)
}

fn stands(standing: &Standing) -> bool {
    let spread = standing.share_sd_pct.0.iter().chain(&standing.share_se_pct.0);
    standing.share_pct.0.iter().all(|share| SHARES_PCT.contains(share))
        && spread.into_iter().all(|spread| (0.0..=*SHARES_PCT.end()).contains(spread))
        && (0.0..=LONGEST_S).contains(&standing.seconds)
}

fn treads(contacts: &LegContacts) -> bool {
    let seconds = [contacts.stance_s, contacts.step_s];
    (-PEAK_PCT..=PEAK_PCT).contains(&contacts.peak_pct)
        && seconds.iter().all(|seconds| (0.0..=LONGEST_S).contains(seconds))
        && (-PEAK_PCT * LONGEST_S..=PEAK_PCT * LONGEST_S).contains(&contacts.impulse_pct_s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use shared::plate::PerLeg;
    use shared::units::Milliseconds;

    fn sound() -> PassageSummary {
        PassageSummary {
            start: Milliseconds(1000),
            duration: Milliseconds(5000),
            kind: shared::analysis::PassageKind::Stance,
            quality: shared::analysis::Quality::default(),
            readings: 500,
            lost_readings: 0,
            body_weight: Some(Estimate { value: 640.0, se: 1.0 }),
            standing: Some(Standing {
                seconds: 4.0,
                share_pct: PerLeg([27.0, 27.0, 23.0, 23.0]),
                share_sd_pct: PerLeg([1.0; 4]),
                share_se_pct: PerLeg([0.5; 4]),
                front_shifts: 0,
                rear_shifts: 1,
                lifts: PerLeg([0; 4]),
            }),
            walking: PerLeg(
                [LegContacts { count: 1, peak_pct: 55.0, stance_s: 0.7, impulse_pct_s: 30.0, step_s: 0.6 };
                    4],
            ),
        }
    }

    fn spoilt(change: impl Fn(&mut PassageSummary)) -> PassageSummary {
        let mut summary = sound();
        change(&mut summary);
        let found = checked(&summary);
        assert!(found.quality.has(Reason::Implausible) && !found.quality.trusted(), "{found:?}");
        found
    }

    #[test]
    fn a_sound_passage_is_left_as_it_is() {
        assert_eq!(checked(&sound()), sound());
    }

    #[test]
    fn what_is_no_number_or_far_out_is_dropped_and_marked() {
        for weight in [f32::NAN, f32::INFINITY, 3e38, -1.0, HEAVIEST_KG * 1.01] {
            assert_eq!(
                spoilt(|s| s.body_weight = Some(Estimate { value: weight, se: 1.0 })).body_weight,
                None
            );
        }
        assert_eq!(
            spoilt(|s| s.body_weight = Some(Estimate { value: 600.0, se: f32::NAN })).body_weight,
            None
        );
        for share in [f32::NAN, -20.1, 120.1, 3e38] {
            assert_eq!(spoilt(|s| s.standing.as_mut().unwrap().share_pct.0[2] = share).standing, None);
        }
        assert_eq!(spoilt(|s| s.standing.as_mut().unwrap().share_se_pct.0[0] = -0.1).standing, None);
        for peak in [f32::NAN, 401.0, -401.0] {
            let found = spoilt(|s| s.walking.0[1].peak_pct = peak);
            assert_eq!((found.walking.0[1].count, found.walking.0[0].count), (0, 1));
        }
        assert_eq!(spoilt(|s| s.walking.0[3].stance_s = -1.0).walking.0[3].count, 0);
    }

    #[test]
    fn the_ends_of_the_ranges_are_kept() {
        let mut summary = sound();
        summary.body_weight = Some(Estimate { value: HEAVIEST_KG, se: 0.0 });
        summary.standing.as_mut().unwrap().share_pct.0 = [-20.0, 120.0, 0.0, 0.0];
        summary.walking.0[0].peak_pct = PEAK_PCT;
        assert_eq!(checked(&summary), summary);
    }
}
