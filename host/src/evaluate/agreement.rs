//! Agreement of two orderings of the same rows: Cohen's kappa, plain and weighted.

/// How far apart two classes count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weighting {
    /// Same or not.
    Plain,
    /// By the number of classes between.
    Linear,
    /// By the square of it.
    Quadratic,
}

/// A square table of counts: row = what one says, column = what the other says.
pub type AgreementCounts<const K: usize> = [[f64; K]; K];

/// Cohen's kappa (Cohen 1960, 1968). `None` for an empty table or where chance alone would agree fully.
#[must_use]
pub fn kappa<const K: usize>(table: &AgreementCounts<K>, weighting: Weighting) -> Option<f64> {
    let total: f64 = table.iter().flatten().sum();
    let rows = table.map(|row| row.iter().sum::<f64>());
    let columns: [f64; K] = std::array::from_fn(|j| table.iter().map(|row| row[j]).sum());
    let (mut observed, mut by_chance) = (0.0, 0.0);
    for i in 0..K {
        for j in 0..K {
            let apart = i.abs_diff(j) as f64;
            let weight = match weighting {
                Weighting::Plain => f64::from(u8::from(i != j)),
                Weighting::Linear => apart,
                Weighting::Quadratic => apart * apart,
            };
            observed += weight * table[i][j];
            by_chance += weight * rows[i] * columns[j] / total;
        }
    }
    (total > 0.0 && by_chance > 0.0).then(|| 1.0 - observed / by_chance)
}

/// Share of rows on which both say the same.
#[must_use]
pub fn exact<const K: usize>(table: &AgreementCounts<K>) -> Option<f64> {
    let total: f64 = table.iter().flatten().sum();
    (total > 0.0).then(|| (0..K).map(|i| table[i][i]).sum::<f64>() / total)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::oracle::{assert_near, numbers, recorded_roc};
    use serde_json::Value;

    fn table<const K: usize>(value: &Value) -> AgreementCounts<K> {
        let rows: Vec<[f64; K]> =
            value.as_array().unwrap().iter().map(|row| numbers(row).try_into().unwrap()).collect();
        rows.try_into().unwrap()
    }

    fn assert_kappas<const K: usize>(case: &Value) {
        let table = table::<K>(&case["table"]);
        assert_near(kappa(&table, Weighting::Plain).unwrap(), &case["kappa"], 1e-12);
        assert_near(kappa(&table, Weighting::Linear).unwrap(), &case["linear"], 1e-12);
        assert_near(kappa(&table, Weighting::Quadratic).unwrap(), &case["quadratic"], 1e-12);
    }

    #[test]
    fn kappas_are_those_of_psych() {
        let roc = recorded_roc();
        assert_kappas::<4>(&roc["agreement"][0]);
        assert_kappas::<2>(&roc["agreement"][1]);
    }

    #[test]
    fn two_rounds_of_one_observer() {
        // Lame or not of 30 cows, rounds 1 and 2 of observer DW; derived in check-values part 1, 9 #3.
        let table = [[18.0, 3.0], [2.0, 7.0]];
        assert!((kappa(&table, Weighting::Plain).unwrap() - 0.6154).abs() < 5e-5);
        // PABAK = 2 x agreement - 1.
        assert!((2.0 * exact(&table).unwrap() - 1.0 - 0.6667).abs() < 5e-5);
    }

    #[test]
    fn nothing_to_agree_on() {
        assert_eq!(kappa(&[[0.0; 2]; 2], Weighting::Plain), None);
        assert_eq!(kappa(&[[5.0, 0.0], [0.0, 0.0]], Weighting::Linear), None);
    }
}
