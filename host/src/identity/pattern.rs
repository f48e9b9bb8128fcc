//! What a cow weighs and how she stands says who she can be: what is usual for her against what the plates show.

use super::TagVisit;
use crate::store::{Candidate, Pattern, Store, StoreError};
use std::collections::HashMap;

/// How a cow differs from passage to passage: the logarithm of her weight (fill, milk, walking), front share and splits while
/// standing, points. Our choice.
const WITHIN: [f64; 4] = [0.04, 1.5, 4.0, 4.0];
/// How cows of a herd differ at least, likewise. Our choice: a herd of heifers.
const HERD_LEAST: [f64; 4] = [0.06, 1.5, 4.0, 4.0];
/// Share of passages where a measure says nothing. Our choice: calved, gone lame, measured badly, named wrongly before.
const NO_NEWS: f64 = 0.1;
/// A name is not given where the weight differs so much from hers, as a logarithm. Our choice: a calving takes a tenth.
const NOT_HERS: f64 = 0.2;
/// Named cows of a milking with a known weight that say how the scale stands today. Our choice.
const FEWEST: usize = 8;

/// What is usual for the cows whose tags were read, by tag.
#[derive(Debug, Default)]
pub(super) struct TagPatterns(HashMap<String, Pattern>);

/// One measure of the passages of a milking: middle and spread over the cows.
struct HerdPatterns {
    mean: f64,
    spread: f64,
}

impl HerdPatterns {
    #[allow(clippy::cast_precision_loss, reason = "a few hundred passages")]
    fn of(values: &[f64], least: f64) -> Self {
        let n = values.len().max(1) as f64;
        let mean = values.iter().sum::<f64>() / n;
        let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / n;
        Self { mean, spread: variance.sqrt().max(least) }
    }

    /// How many times likelier a value is hers than any cow's.
    fn odds(&self, hers: f64, value: f64, within: f64) -> f64 {
        let density = |off: f64, sd: f64| (-0.5 * (off / sd).powi(2)).exp() / sd;
        // No cow of another herd is so odd that she could be nobody.
        let any = (value - self.mean).clamp(-3.0 * self.spread, 3.0 * self.spread);
        NO_NEWS + (1.0 - NO_NEWS) * density(value - hers, within) / density(any, self.spread)
    }
}

impl TagPatterns {
    /// Known before `before_ms`.
    pub(super) fn of(store: &Store, visits: &[TagVisit<'_>], before_ms: i64) -> Result<Self, StoreError> {
        let mut usual = HashMap::new();
        for visit in visits {
            if !usual.contains_key(visit.animal) {
                usual.insert(visit.animal.to_owned(), store.usual_pattern(visit.animal, before_ms)?);
            }
        }
        usual.retain(|_, pattern| pattern.iter().any(Option::is_some));
        Ok(Self(usual))
    }

    /// As a test has them.
    #[cfg(test)]
    pub(super) fn known(usual: impl Iterator<Item = (String, Pattern)>) -> Self {
        Self(usual.collect())
    }

    /// How many times likelier what the plates show is hers than any cow's, by passage, for the visits of whose cow
    /// anything is known.
    pub(super) fn odds(&self, passages: &[Candidate], visits: &[TagVisit<'_>]) -> Vec<Option<Vec<f32>>> {
        let herd: [HerdPatterns; 4] = std::array::from_fn(|k| {
            let values: Vec<f64> = passages.iter().filter_map(|passage| passage.pattern[k]).collect();
            HerdPatterns::of(&values, HERD_LEAST[k])
        });
        #[allow(clippy::cast_possible_truncation, reason = "a ratio within a few powers of ten")]
        let odds = |usual: &Pattern, seen: &Pattern| {
            let of = |k: usize| Some(herd[k].odds(usual[k]?, seen[k]?, WITHIN[k]));
            (0..4).filter_map(of).product::<f64>() as f32
        };
        let by_passage = |usual| passages.iter().map(|passage| odds(usual, &passage.pattern)).collect();
        visits.iter().map(|visit| self.0.get(visit.animal).map(by_passage)).collect()
    }

    /// The passages, by place in `named`, whose weight cannot be that of the cow named: against how the named cows
    /// weigh today, so that a scale that is off as a whole takes nobody's name.
    pub(super) fn not_hers(&self, named: &[(Option<&str>, Pattern)]) -> Vec<usize> {
        let off: Vec<(usize, f64)> = named
            .iter()
            .enumerate()
            .filter_map(|(place, (name, seen))| Some((place, seen[0]? - self.0.get((*name)?)?[0]?)))
            .collect();
        let mut today: Vec<f64> = off.iter().map(|(_, off)| *off).collect();
        if today.len() < FEWEST {
            return Vec::new();
        }
        let today = crate::arithmetic::statistics::median(&mut today);
        off.into_iter().filter(|(_, off)| (off - today).abs() > NOT_HERS).map(|(place, _)| place).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_and_the_spread_of_a_herd() {
        // By hand: (1 + 3) / 2 = 2, and both lie 1 from it.
        let herd = HerdPatterns::of(&[1.0, 3.0], 0.5);
        assert_eq!((herd.mean, herd.spread), (2.0, 1.0));
        // A herd more alike than any is held to be, and one of which nothing is known.
        let herd = HerdPatterns::of(&[1.0, 3.0], 1.5);
        assert_eq!((herd.mean, herd.spread), (2.0, 1.5));
        let herd = HerdPatterns::of(&[], 0.5);
        assert_eq!((herd.mean, herd.spread), (0.0, 0.5));
    }
}
