//! A mixed model with a random intercept for each cow, fitted by restricted maximum likelihood.

use nalgebra::{DMatrix, DVector};

/// The fit.
#[derive(Clone, Debug)]
pub struct Mixed {
    /// Fixed effects, in the order of the columns.
    pub effects: Vec<f64>,
    /// Their standard errors.
    pub errors: Vec<f64>,
    /// SD between cows.
    pub between_sd: f64,
    /// SD within a cow.
    pub within_sd: f64,
    /// Restricted log likelihood.
    pub log_likelihood: f64,
}

/// One value: its cow, the columns of the design, and the value.
#[derive(Clone, Debug)]
pub struct MixedRow {
    /// Cow, counted from 0.
    pub cow: usize,
    /// Columns, the intercept included.
    pub columns: Vec<f64>,
    /// The value.
    pub value: f64,
}

/// Fits `value = columns * effects + cow + noise`. `None` where the design does not allow it.
#[must_use]
pub fn fit(rows: &[MixedRow]) -> Option<Mixed> {
    let columns = rows.first()?.columns.len();
    if rows.len() <= columns {
        return None;
    }
    // The ratio of the two variances by golden section on its logarithm; zero is tried apart.
    let profile =
        |log_ratio: f64| at(rows, columns, log_ratio.exp()).map_or(f64::NEG_INFINITY, |f| f.log_likelihood);
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    let (mut low, mut high) = (-12.0_f64, 12.0_f64);
    let (mut a, mut b) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_a, mut at_b) = (profile(a), profile(b));
    while high - low > 1e-9 {
        if at_a > at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - golden * (high - low);
            at_a = profile(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + golden * (high - low);
            at_b = profile(b);
        }
    }
    let inner = at(rows, columns, (0.5 * (low + high)).exp())?;
    let none = at(rows, columns, 0.0)?;
    Some(if none.log_likelihood >= inner.log_likelihood { none } else { inner })
}

/// The fit with the between-cow variance held at `ratio` times the one within.
fn at(rows: &[MixedRow], columns: usize, ratio: f64) -> Option<Mixed> {
    let cows = rows.iter().map(|r| r.cow).max()? + 1;
    let mut size = vec![0.0; cows];
    let mut sum_x = vec![DVector::zeros(columns); cows];
    let mut sum_y = vec![0.0; cows];
    let mut xx = DMatrix::zeros(columns, columns);
    let mut xy = DVector::zeros(columns);
    let mut yy = 0.0;
    for row in rows {
        let x = DVector::from_column_slice(&row.columns);
        size[row.cow] += 1.0;
        sum_y[row.cow] += row.value;
        xx += &x * x.transpose();
        xy += &x * row.value;
        yy += row.value * row.value;
        sum_x[row.cow] += x;
    }
    // Inverse of a cow's covariance: identity less ratio / (1 + n ratio) times ones.
    let mut log_determinant = 0.0;
    for cow in 0..cows {
        let shrink = ratio / (1.0 + size[cow] * ratio);
        xx -= &sum_x[cow] * sum_x[cow].transpose() * shrink;
        xy -= &sum_x[cow] * (shrink * sum_y[cow]);
        yy -= shrink * sum_y[cow] * sum_y[cow];
        log_determinant += (1.0 + size[cow] * ratio).ln();
    }
    let cholesky = xx.cholesky()?;
    let effects = cholesky.solve(&xy);
    let freedom = (rows.len() - columns) as f64;
    let variance = (yy - effects.dot(&xy)) / freedom;
    if variance <= 0.0 {
        return None;
    }
    let log_xx = 2.0 * cholesky.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
    let log_likelihood =
        -0.5 * (freedom * (1.0 + (2.0 * std::f64::consts::PI * variance).ln()) + log_determinant + log_xx);
    let covariance = cholesky.inverse() * variance;
    Some(Mixed {
        effects: effects.iter().copied().collect(),
        errors: covariance.diagonal().iter().map(|v| v.sqrt()).collect(),
        between_sd: (ratio * variance).sqrt(),
        within_sd: variance.sqrt(),
        log_likelihood,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fit_agrees_with_lme4_on_its_sleepstudy_data() {
        let oracle: serde_json::Value =
            serde_json::from_str(include_str!("../../../../tests/oracles/case_mixed.json")).unwrap();
        let list = |key: &str| -> Vec<f64> {
            oracle[key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
        };
        let rows: Vec<MixedRow> = list("cow")
            .iter()
            .zip(list("days"))
            .zip(list("value"))
            .map(|((cow, day), value)| MixedRow { cow: *cow as usize, columns: vec![1.0, day], value })
            .collect();
        let own = fit(&rows).unwrap();
        let close = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-5, "{a} is not {b}");
        for (a, b) in own.effects.iter().zip(list("effects")).chain(own.errors.iter().zip(list("errors"))) {
            close(*a, b);
        }
        close(own.between_sd, oracle["between_sd"].as_f64().unwrap());
        close(own.within_sd, oracle["within_sd"].as_f64().unwrap());
        close(own.log_likelihood, oracle["log_likelihood"].as_f64().unwrap());
    }
}
