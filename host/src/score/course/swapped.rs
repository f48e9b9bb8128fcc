//! Cows that seem to wear each other's tags.

use crate::record::CowDay;
use crate::record::finding::{Advice, FlagReason};
use crate::score::course::track::Track;
use crate::score::model::cow::Filter;
use crate::score::model::features::Measured;

/// Two cows of whom each has a passage that fits the other: their tags look swapped.
pub fn name_swaps(tracks: &[Track], rows: &mut [CowDay], weight_noise: f64) {
    let odd: Vec<&Track> = tracks.iter().filter(|t| !t.strangers().0.is_empty()).collect();
    let fits = |passages: &[Measured], own: Option<(&Filter, f64)>| {
        own.is_some_and(|(filter, weight)| {
            passages.iter().any(|p| {
                let near = (p.weight - weight).powi(2) < 4.0 * (weight_noise + weight_noise);
                let alike = (0..3).filter(|&k| !p.value[k].is_nan()).all(|k| {
                    let level = filter.base(k);
                    (p.value[k] - level.mean).abs() < 3.0 * (level.variance + p.stated[k] + 9.0).sqrt()
                });
                near && alike
            })
        })
    };
    for (i, one) in odd.iter().enumerate() {
        for other in &odd[i + 1..] {
            let (a, b) = (one.strangers(), other.strangers());
            if fits(a.0, b.1) && fits(b.0, a.1) {
                for (this, that) in [(one, other), (other, one)] {
                    if let Some(row) = rows.iter_mut().find(|r| r.animal == this.animal) {
                        row.reasons.push(FlagReason::TagsSwapped { with: that.animal.clone() });
                        row.advice = Some(Advice::ReadTags { with: that.animal.clone() });
                    }
                }
            }
        }
    }
}
