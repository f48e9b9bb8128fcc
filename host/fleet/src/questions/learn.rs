//! What to expect of an observer before a farm has scored, learned over farms that have.

use super::{Asked, sums::Sums};
use anyhow::bail;
use host::record::ObserverPrior;
use host::report::output::Format;
use host::report::text;
use serde::Serialize;
use std::collections::BTreeMap;

/// Records (scores and lifted feet) below which a farm teaches nothing. Our choice.
const FEWEST_RECORDS: f64 = 50.0;
/// Farms below which nothing is handed on. Our choice: as for comparisons.
const FEWEST_FARMS: usize = super::benchmark::FEWEST_FARMS;
/// Narrowest prior that is handed on: a farm that is like no other must still be able to say so. Our choice.
const LEAST_SD: f64 = 0.2;
/// Steps of the search, over the means and SDs that a farm takes.
const STEP: f64 = 0.02;

/// What was learned.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Learned {
    /// Farms it rests on.
    pub farms: usize,
    /// As `fourplate farm model_prior=...` takes it.
    pub model_prior: String,
    /// The load at which half of the cows are scored 2 or more, as a multiple of the published one: the middle farm.
    pub multiple: f64,
    /// And of 95 % of the farms: from.
    pub multiple_low: f64,
    /// To.
    pub multiple_high: f64,
    /// By how much the records of each farm are likelier with what the others teach than with the published load, natural
    /// logarithm, all farms together.
    pub likelier: f64,
    /// Whether that is worth taking it.
    pub worth_taking: bool,
}

/// A farm's evidence: logarithms of multiples, and of their likelihoods.
type Evidence = Vec<(f64, f64)>;

/// Logarithm of how likely a farm's records are under the prior.
fn likelihood(evidence: &Evidence, prior: ObserverPrior) -> f64 {
    let best = evidence.iter().map(|of| of.1).fold(f64::NEG_INFINITY, f64::max);
    let weight = |multiple: f64| (-0.5 * ((multiple - prior.mean) / prior.sd).powi(2)).exp();
    let all: f64 = evidence.iter().map(|of| weight(of.0)).sum();
    let sum: f64 = evidence.iter().map(|of| weight(of.0) * (of.1 - best).exp()).sum();
    best + (sum / all).ln()
}

/// Every prior that is tried, the published one first.
fn priors() -> Vec<ObserverPrior> {
    let steps = |from: f64, to: f64| {
        #[allow(clippy::cast_possible_truncation, reason = "some hundred")]
        let many = ((to - from) / STEP).round() as i32;
        (0..=many).map(move |step| from + f64::from(step) * STEP)
    };
    let all =
        steps(-1.0, 1.0).flat_map(|mean| steps(LEAST_SD, 1.0).map(move |sd| ObserverPrior { mean, sd }));
    std::iter::once(ObserverPrior::default()).chain(all).collect()
}

/// Place of the largest; the first of several.
fn largest(values: impl Iterator<Item = f64>) -> usize {
    let largest =
        |best: (usize, f64), (place, value): (usize, f64)| if value > best.1 { (place, value) } else { best };
    values.enumerate().fold((0, f64::NEG_INFINITY), largest).0
}

fn learned(farms: &[Evidence]) -> Learned {
    let priors = priors();
    let each: Vec<Vec<f64>> =
        farms.iter().map(|farm| priors.iter().map(|prior| likelihood(farm, *prior)).collect()).collect();
    let sums: Vec<f64> = (0..priors.len()).map(|place| each.iter().map(|farm| farm[place]).sum()).collect();
    let best = priors[largest(sums.iter().copied())];
    // Each farm by what the others teach: what is learned from a farm says nothing of how well it fits it.
    let held_out = |farm: &Vec<f64>| {
        let place = largest(sums.iter().zip(farm).map(|(sum, own)| sum - own));
        farm[place] - farm[0]
    };
    let likelier: f64 = each.iter().map(held_out).sum();
    let spread = host::arithmetic::statistics::Z95 * best.sd;
    Learned {
        farms: farms.len(),
        model_prior: best.to_string(),
        multiple: best.mean.exp(),
        multiple_low: (best.mean - spread).exp(),
        multiple_high: (best.mean + spread).exp(),
        likelier,
        worth_taking: likelier > 0.0,
    }
}

/// Works it out.
///
/// # Errors
/// When too few farms have records, or the rows cannot be read.
pub async fn ask(asked: &Asked) -> anyhow::Result<Learned> {
    let plan = format!(
        "SELECT farm, log_multiple, log_likelihood FROM observers
         WHERE scores + feet >= {FEWEST_RECORDS} ORDER BY farm, \"row\""
    );
    let sums = Sums::of(&asked.session, &plan).await?;
    let (farms, multiples) = (sums.text("farm")?, sums.numbers("log_multiple")?);
    let likelihoods = sums.numbers("log_likelihood")?;
    let mut by_farm: BTreeMap<String, Evidence> = BTreeMap::new();
    for (row, farm) in farms.into_iter().enumerate() {
        by_farm.entry(farm).or_default().push((multiples[row], likelihoods[row]));
    }
    if by_farm.len() < FEWEST_FARMS {
        bail!(
            "{} farms have {FEWEST_RECORDS} scores or lifted feet; {FEWEST_FARMS} are needed",
            by_farm.len()
        );
    }
    let found = learned(&by_farm.into_values().collect::<Vec<_>>());
    Ok(found)
}

/// Prints it.
///
/// # Errors
/// When it cannot be written.
pub fn print(found: &Learned, format: Format) -> anyhow::Result<()> {
    format.print(&found, |table| table.rows([found]), || {
        let load = format!(
            "Over {} farms, observers score half of the cows 2 or more at {:.2} times the published load (95 % of \
             farms: {:.2} to {:.2}). With what the other farms teach, each farm's records are likelier than with the \
             published load: by {:+.1} in all (natural logarithm).",
            found.farms, found.multiple, found.multiple_low, found.multiple_high, found.likelier
        );
        let advice = if found.worth_taking {
            format!("A farm begins with it by: fourplate farm \"model_prior={}\"", found.model_prior)
        } else {
            "That is not worth taking: farms do as well with the published load.".to_owned()
        };
        Ok(format!("{}\n{advice}\n", text::wrap(&load, 0)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A farm that is surely at a multiple.
    fn sure(at: f64) -> Evidence {
        let multiples = [0.4f64, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.2, 3.0];
        multiples
            .map(|multiple| (multiple.ln(), if (multiple - at).abs() < 1e-9 { 0.0 } else { -50.0 }))
            .to_vec()
    }

    #[test]
    fn flat_evidence_is_as_likely_under_any_prior() {
        let flat: Evidence = sure(1.0).into_iter().map(|(multiple, _)| (multiple, -3.0)).collect();
        for prior in [ObserverPrior::default(), ObserverPrior { mean: 0.7, sd: 0.1 }] {
            assert!((likelihood(&flat, prior) + 3.0).abs() < 1e-12);
        }
        assert!(!learned(&vec![flat; 20]).worth_taking);
    }

    #[test]
    fn farms_that_agree_move_it_to_where_they_are() {
        let found = learned(&vec![sure(1.6); 12]);
        assert!(found.worth_taking && (found.multiple - 1.6).abs() < 0.2, "{found:?}");
        assert!(found.model_prior.ends_with(" 0.200"), "{found:?}");
        assert!(ObserverPrior::from_text(&found.model_prior).is_some());
        // Half low, half high: the middle, and a wide spread.
        let mut both = vec![sure(0.5); 10];
        both.extend(vec![sure(2.2); 10]);
        let found = learned(&both);
        assert!(found.multiple_low < 0.5 && found.multiple_high > 2.1, "{found:?}");
    }
}
