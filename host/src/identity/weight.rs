//! What a cow weighs says who she can be: her usual weight against the weight on the plates.

use super::Visit;
use crate::store::{Candidate, Store, StoreError};
use std::collections::HashMap;

/// A cow's weight from passage to passage, as a logarithm: fill, milk and walking. Our choice.
const WITHIN: f64 = 0.04;
/// Share of passages whose weight says nothing. Our choice: calved, measured badly, named wrongly before.
const NO_NEWS: f64 = 0.1;
/// Weights of a herd spread at least so much, as a logarithm. Our choice: a herd of heifers.
const HERD_LEAST: f64 = 0.06;
/// A name is not given where the weight differs so much from hers, as a logarithm. Our choice: a calving takes a tenth.
const NOT_HERS: f64 = 0.2;
/// Named cows of a milking with a known weight that say how the scale stands today. Our choice.
const FEWEST: usize = 8;

/// Usual weights of the cows whose tags were read, kg, by tag.
#[derive(Debug, Default)]
pub(super) struct Usual(HashMap<String, f64>);

impl Usual {
    /// Known before `before_ms`.
    pub(super) fn of(store: &Store, visits: &[Visit<'_>], before_ms: i64) -> Result<Self, StoreError> {
        let mut usual = HashMap::new();
        for visit in visits {
            if !usual.contains_key(visit.animal) {
                usual.insert(visit.animal.to_owned(), store.usual_weight_kg(visit.animal, before_ms)?);
            }
        }
        Ok(Self(usual.into_iter().filter_map(|(tag, kg)| Some((tag, kg?))).collect()))
    }

    /// As a test has them.
    #[cfg(test)]
    pub(super) fn known(usual: impl Iterator<Item = (String, f64)>) -> Self {
        Self(usual.collect())
    }

    /// How many times likelier the weight on the plates is hers than any cow's, by passage, for the visits whose cow
    /// has a usual weight.
    #[allow(clippy::cast_precision_loss, reason = "a few hundred passages")]
    pub(super) fn odds(&self, passages: &[Candidate], visits: &[Visit<'_>]) -> Vec<Option<Vec<f32>>> {
        let weights: Vec<Option<f64>> = passages.iter().map(|p| p.weight_kg.map(f64::ln)).collect();
        let known: Vec<f64> = weights.iter().flatten().copied().collect();
        let n = known.len().max(1) as f64;
        let mean = known.iter().sum::<f64>() / n;
        let spread = (known.iter().map(|w| (w - mean).powi(2)).sum::<f64>() / n).sqrt().max(HERD_LEAST);
        let density = |off: f64, sd: f64| (-0.5 * (off / sd).powi(2)).exp() / sd;
        #[allow(clippy::cast_possible_truncation, reason = "a ratio within a few powers of ten")]
        let odds = |usual: f64, weight: Option<f64>| {
            weight.map_or(1.0, |weight| {
                let hers = density(weight - usual.ln(), WITHIN);
                // No cow of another herd is so odd that she could be nobody.
                let any = density((weight - mean).clamp(-3.0 * spread, 3.0 * spread), spread);
                (NO_NEWS + (1.0 - NO_NEWS) * hers / any) as f32
            })
        };
        let of = |visit: &Visit<'_>| self.0.get(visit.animal).copied();
        let by_passage = |usual| weights.iter().map(|weight| odds(usual, *weight)).collect();
        visits.iter().map(|visit| of(visit).map(by_passage)).collect()
    }

    /// The passages, by place in `named`, whose weight cannot be that of the cow named: against how the named cows
    /// weigh today, so that a scale that is off as a whole takes nobody's name.
    pub(super) fn not_hers(&self, named: &[(Option<&str>, Option<f64>)]) -> Vec<usize> {
        let off: Vec<(usize, f64)> = named
            .iter()
            .enumerate()
            .filter_map(|(place, (name, kg))| Some((place, (kg.as_ref()? / self.0.get((*name)?)?).ln())))
            .collect();
        let mut today: Vec<f64> = off.iter().map(|(_, off)| *off).collect();
        if today.len() < FEWEST {
            return Vec::new();
        }
        let today = crate::arithmetic::statistics::median(&mut today);
        off.into_iter().filter(|(_, off)| (off - today).abs() > NOT_HERS).map(|(place, _)| place).collect()
    }
}
