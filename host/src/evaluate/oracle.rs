//! The recorded figures of other packages.

use serde_json::Value;

/// pROC, epiR and psych.
pub fn recorded_roc() -> Value {
    serde_json::from_str(include_str!("../../../tests/oracles/roc.json")).unwrap()
}

/// scikit-learn and statsmodels.
pub struct RecordedEvaluate {
    pub json: Value,
}

pub fn recorded_evaluate() -> RecordedEvaluate {
    let json = serde_json::from_str(include_str!("../../../tests/oracles/evaluate.json")).unwrap();
    RecordedEvaluate { json }
}

impl RecordedEvaluate {
    /// Probability, lame, cow 0.
    pub fn rows(&self) -> Vec<(f64, bool, usize)> {
        let lame = self.json["lame"].as_array().unwrap();
        numbers(&self.json["said"]).into_iter().zip(lame).map(|(p, l)| (p, l.as_bool().unwrap(), 0)).collect()
    }
}

pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

#[track_caller]
pub fn assert_near(found: f64, wanted: &Value, tolerance: f64) {
    let wanted = wanted.as_f64().unwrap();
    assert!((found - wanted).abs() < tolerance, "{found} is not {wanted}");
}
