//! From converter counts to kilograms: zero, span and cross-talk, and how to find them from test loads.

use crate::{
    plate::{PerPlate, Plate},
    units::{Counts, Kilograms},
};
use serde::{Deserialize, Serialize};

/// Scale interval that the limits of a lane are worked out with, kg (our choice).
pub const INTERVAL_KG: f32 = 1.0;

/// What turns counts into kilograms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// Counts of the empty deck.
    pub zero: PerPlate<Counts>,
    /// Kilograms per count: row = plate that is read out, column = plate whose counts are taken. The diagonal is
    /// the span, the rest the cross-talk between plates.
    pub cross: [[f32; 4]; 4],
}

/// Why test loads do not give a calibration.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CalibrationError {
    /// The test weight is not a positive number.
    Weight,
    /// A plate does not answer to its load, or two plates answer alike.
    NoAnswer,
    /// The load put on one plate was answered most by another: cables swapped, or the wrong plate loaded.
    WrongPlate {
        /// Where the load was said to be.
        loaded: Plate,
        /// The plate that answered most.
        answered: Plate,
    },
}

/// What a known weight showed on a calibrated deck.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Verification {
    /// Sum of the plates minus the known weight.
    pub error: Kilograms,
    /// Largest permissible error, either way.
    pub limit: Kilograms,
}

impl Verification {
    /// Whether the error is within its limit.
    #[must_use]
    pub fn passed(&self) -> bool {
        self.error.0.abs() <= self.limit.0
    }
}

impl Calibration {
    /// A calibration with the same span everywhere, zero at zero counts and no cross-talk.
    #[must_use]
    pub const fn uniform(kilograms_per_count: f32) -> Self {
        let k = kilograms_per_count;
        Self {
            zero: PerPlate([Counts(0); 4]),
            cross: [[k, 0.0, 0.0, 0.0], [0.0, k, 0.0, 0.0], [0.0, 0.0, k, 0.0], [0.0, 0.0, 0.0, k]],
        }
    }

    /// The loads behind `counts`.
    #[must_use]
    pub fn apply(&self, counts: PerPlate<Counts>) -> PerPlate<Kilograms> {
        let net = difference(counts, self.zero);
        PerPlate(self.cross.map(|row| Kilograms(dot(row, net))))
    }

    /// Finds the calibration from the empty deck and from one known weight put in turn on each plate.
    ///
    /// # Errors
    /// Where the weight is not positive, a plate does not answer, or the wrong plate answers.
    pub fn solve(
        empty: PerPlate<Counts>,
        loaded: PerPlate<PerPlate<Counts>>,
        weight: Kilograms,
    ) -> Result<Self, CalibrationError> {
        if !(weight.0.is_finite() && weight.0 > 0.0) {
            return Err(CalibrationError::Weight);
        }
        // Column k: the answer of all plates to the weight on plate k, counts per kg.
        let answers = loaded.0.map(|counts| difference(counts, empty).map(|n| n / weight.0));
        for (plate, answer) in Plate::ALL.into_iter().zip(answers) {
            let strongest = Plate::ALL
                .into_iter()
                .zip(answer)
                .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
                .map_or(plate, |(p, _)| p);
            if answer.iter().all(|counts| *counts == 0.0) {
                return Err(CalibrationError::NoAnswer);
            }
            if strongest != plate {
                return Err(CalibrationError::WrongPlate { loaded: plate, answered: strongest });
            }
        }
        let cross = inverse(transposed(answers)).ok_or(CalibrationError::NoAnswer)?;
        Ok(Self { zero: empty, cross })
    }

    /// Holds a known weight on the deck against the class III limit for the scale interval `interval`.
    ///
    /// Use it at every position: on each plate and between them.
    #[must_use]
    pub fn verify(&self, counts: PerPlate<Counts>, weight: Kilograms, interval: Kilograms) -> Verification {
        let shown: f32 = self.apply(counts).0.iter().map(|load| load.0).sum();
        Verification { error: Kilograms(shown - weight.0), limit: error_limit(weight, interval) }
    }
}

/// Largest permissible error, either way, of a class III scale at initial verification; in service it is twice
/// that.
///
/// Source: OIML R 76-1 table 6, as printed in UK SI 1995/1907 schedule 2 paragraph 4. No claim that a lane may be
/// used for trade: a walking animal cannot be weighed for trade.
#[must_use]
pub fn error_limit(load: Kilograms, interval: Kilograms) -> Kilograms {
    let intervals = load.0.abs() / interval.0;
    let limit = if intervals <= 500.0 {
        0.5
    } else if intervals <= 2000.0 {
        1.0
    } else {
        1.5
    };
    Kilograms(limit * interval.0)
}

#[allow(clippy::cast_precision_loss)] // Converters have 24 bits, which f32 holds exactly.
fn difference(counts: PerPlate<Counts>, zero: PerPlate<Counts>) -> [f32; 4] {
    let mut net = [0.0; 4];
    for ((net, count), zero) in net.iter_mut().zip(counts.0).zip(zero.0) {
        *net = count.0 as f32 - zero.0 as f32;
    }
    net
}

fn dot(a: [f32; 4], b: [f32; 4]) -> f32 {
    let ([a0, a1, a2, a3], [b0, b1, b2, b3]) = (a, b);
    a0 * b0 + a1 * b1 + a2 * b2 + a3 * b3
}

fn transposed(m: [[f32; 4]; 4]) -> [[f32; 4]; 4] {
    let [[a, b, c, d], [e, f, g, h], [i, j, k, l], [m, n, o, p]] = m;
    [[a, e, i, m], [b, f, j, n], [c, g, k, o], [d, h, l, p]]
}

/// Gauss-Jordan. No pivoting is needed: every diagonal element is the largest of its column, and a pivot that
/// elimination has brought to almost nothing means two plates that answer alike.
fn inverse(mut m: [[f32; 4]; 4]) -> Option<[[f32; 4]; 4]> {
    /// Smallest share of a plate's own answer that must be left after elimination; our choice.
    const LEAST_PIVOT: f32 = 0.05;
    let mut out = [[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 0.0, 1.0]];
    let original = m;
    for column in 0..4 {
        let pivot = *m.get(column)?.get(column)?;
        let own = original.get(column)?.get(column)?.abs();
        if !(pivot.is_finite() && own > 0.0 && pivot.abs() > LEAST_PIVOT * own) {
            return None;
        }
        let pivot_row = m.get(column)?.map(|x| x / pivot);
        let pivot_out = out.get(column)?.map(|x| x / pivot);
        for (row, (m_row, out_row)) in m.iter_mut().zip(out.iter_mut()).enumerate() {
            if row == column {
                (*m_row, *out_row) = (pivot_row, pivot_out);
                continue;
            }
            let factor = *m_row.get(column)?;
            for (x, p) in m_row.iter_mut().zip(pivot_row) {
                *x -= factor * p;
            }
            for (x, p) in out_row.iter_mut().zip(pivot_out) {
                *x -= factor * p;
            }
        }
    }
    Some(out)
}
