//! Corrections: who changed what, when, and what it was.

use crate::record::case::Case;
use crate::record::case::field::{FieldError, NAMES};
use jiff::Timestamp;

/// One corrected field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CorrectedField {
    /// The field's name.
    pub field: String,
    /// What it was.
    pub was: String,
    /// What it is now.
    pub is: String,
}

/// A change as kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Correction {
    /// When it was corrected, UTC.
    pub at: Timestamp,
    /// Who corrected it.
    pub who: String,
    /// What changed.
    pub change: CorrectedField,
}

/// Applies `name = value` pairs and tells what they changed.
///
/// # Errors
/// A field that does not exist, or a value that does not fit it; the case is left as it was.
pub fn apply(case: &Case, pairs: &[(String, String)]) -> Result<(Case, Vec<CorrectedField>), FieldError> {
    let mut corrected = case.clone();
    for (name, value) in pairs {
        corrected.set_field(name, value)?;
    }
    let changes = NAMES
        .into_iter()
        .map(|name| CorrectedField {
            field: name.to_owned(),
            was: case.field(name),
            is: corrected.field(name),
        })
        .filter(|change| change.was != change.is)
        .collect();
    Ok((corrected, changes))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::AnimalId;
    use jiff::civil::date;

    #[test]
    fn a_correction_tells_what_it_was() {
        let mut case = Case::new(AnimalId("412".into()), date(2026, 3, 2));
        case.set_field("leg", "RR").unwrap();
        let (now, changes) =
            apply(&case, &[("leg".into(), "LR".into()), ("claw".into(), String::new())]).unwrap();
        assert_eq!(now.field("leg"), "LR");
        assert_eq!(changes, [CorrectedField { field: "leg".into(), was: "RR".into(), is: "LR".into() }]);
        assert!(apply(&case, &[("zone".into(), "13".into())]).is_err());
    }
}
