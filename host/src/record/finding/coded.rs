//! A finding as programs read it: its code, its leg, its numbers.

use crate::record::finding::{
    Advice, CourseReason, DayEvent, FlagReason, GroupFinding, LaneFault, LaneGain, LaneRemark, LookFor,
    Objection, RecheckReason, Verdict,
};
use serde::Serialize;
use serde_json::{Map, Value};
use strum::VariantNames;

/// A closed list of findings.
pub trait Finding: Serialize + VariantNames {
    /// What the ids of its messages begin with.
    const KIND: &'static str;
}

macro_rules! findings {
    ($($type:ty => $kind:literal),* $(,)?) => { $(impl Finding for $type { const KIND: &'static str = $kind; })* };
}

findings! {
    FlagReason => "reason",
    Advice => "advice",
    DayEvent => "event",
    LaneFault => "fault",
    LaneGain => "gain",
    LaneRemark => "lane",
    Verdict => "verdict",
    CourseReason => "course",
    RecheckReason => "recheck",
    LookFor => "look_for",
    GroupFinding => "group",
    Objection => "against",
}

/// A finding as programs read it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Coded {
    /// One of a closed list; a code never changes its meaning.
    pub code: String,
    /// The leg it speaks of, where it speaks of one.
    pub leg: Option<String>,
    /// The numbers and names it holds; units are in the names.
    pub values: Map<String, Value>,
}

/// Code, leg and values of a finding.
#[must_use]
pub fn coded(finding: &impl Finding) -> Coded {
    let (code, mut values) = match serde_json::to_value(finding) {
        Ok(Value::String(code)) => (code, Map::new()),
        Ok(Value::Object(mut map)) => match map.iter_mut().next() {
            Some((code, Value::Object(fields))) => (code.clone(), std::mem::take(fields)),
            _ => (String::new(), Map::new()),
        },
        _ => (String::new(), Map::new()),
    };
    values.values_mut().for_each(round);
    let leg = values.remove("leg").and_then(|leg| leg.as_str().map(ToOwned::to_owned));
    Coded { code, leg, values }
}

/// Numbers in tables have four decimals at most.
fn round(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            *value = number.as_f64().map_or(Value::Null, |value| ((value * 1e4).round() / 1e4).into());
        }
        Value::Object(fields) => fields.values_mut().for_each(round),
        _ => {}
    }
}

/// Serialises findings by their codes.
///
/// # Errors
/// Those of the serializer.
pub fn codes<F: Finding, S: serde::Serializer>(findings: &[F], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(findings.iter().map(coded))
}

/// Serialises a finding by its code.
///
/// # Errors
/// Those of the serializer.
pub fn one_code<F: Finding, S: serde::Serializer>(finding: &F, serializer: S) -> Result<S::Ok, S::Error> {
    coded(finding).serialize(serializer)
}

/// Serialises a finding that may be missing by its code.
///
/// # Errors
/// Those of the serializer.
pub fn code<F: Finding, S: serde::Serializer>(finding: &Option<F>, serializer: S) -> Result<S::Ok, S::Error> {
    finding.as_ref().map(coded).serialize(serializer)
}

impl std::fmt::Display for Coded {
    /// As in a cell of a table: `share_low(LR, now_pct=17.8, usual_pct=24.6, sd=4.1)`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let values = self.values.iter().map(|(name, value)| {
            let value = value.as_str().map_or_else(|| value.to_string(), ToOwned::to_owned);
            format!("{name}={value}")
        });
        let parts: Vec<String> = self.leg.iter().cloned().chain(values).collect();
        f.write_str(&self.code)?;
        if parts.is_empty() { Ok(()) } else { write!(f, "({})", parts.join(", ")) }
    }
}

/// Findings in one cell of a table.
#[must_use]
pub fn cell<F: Finding>(findings: &[F]) -> String {
    findings.iter().map(|one| coded(one).to_string()).collect::<Vec<_>>().join("; ")
}
