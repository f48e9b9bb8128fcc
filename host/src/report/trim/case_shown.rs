//! Cases as shown: one in full, many as a table, and their fields for programs.

use crate::case::rechecks::wear;
use crate::record::case::field::NAMES;
use crate::record::case::history::Correction;
use crate::record::case::{BlockSeen, Course, KeptCase, block};
use crate::record::names::Names;
use crate::report::output::Table;
use crate::report::text::{render, table, wrap};
use crate::report::trim::case_line::{done, seen, summary};
use crate::report::words::Words;
use serde_json::{Map, Value, json};
use std::fmt::Write as _;
use std::io::Write;

/// What the case in one line tells already.
const SUMMARIZED: [&str; 10] =
    ["date", "animal_id", "leg", "claw", "lesion", "zone", "treatment", "block_claw", "dd_stage", "other"];

/// The fields of a case for programs.
#[must_use]
pub fn fields(kept: &KeptCase) -> Value {
    let mut map = Map::new();
    map.insert("case".into(), json!(kept.id));
    for name in NAMES {
        map.insert(name.into(), json!(kept.case.field(name)));
    }
    map.insert("withdrawn".into(), json!(kept.withdrawn));
    let looks: Vec<Value> = kept
        .follow_ups
        .iter()
        .map(|look| {
            json!({
                "date": look.date.to_string(), "block": look.block.map(BlockSeen::name),
                "block_height_mm": look.height_mm, "course": look.course.map(Course::name),
                "note": look.note, "who": look.who,
            })
        })
        .collect();
    map.insert("follow_ups".into(), Value::Array(looks));
    Value::Object(map)
}

/// The same with what was corrected.
#[must_use]
pub fn with_corrections(kept: &KeptCase, corrections: &[Correction]) -> Value {
    let mut value = fields(kept);
    value["corrections"] = corrections
        .iter()
        .map(|of| {
            let change = &of.change;
            json!({"at": of.at.to_string(), "who": of.who, "field": change.field, "was": change.was, "is": change.is})
        })
        .collect();
    value
}

/// Writes cases as a table that `import trims` reads.
///
/// # Errors
/// When it cannot be written.
pub fn rows<W: Write>(table: &mut Table<W>, cases: &[KeptCase]) -> anyhow::Result<()> {
    let header: Vec<&str> = ["case"].into_iter().chain(NAMES).chain(["withdrawn"]).collect();
    let row = |kept: &KeptCase| {
        let fields = NAMES.map(|name| kept.case.field(name));
        let withdrawn = kept.withdrawn.clone().unwrap_or_default();
        [kept.id.to_string()].into_iter().chain(fields).chain([withdrawn]).collect::<Vec<_>>()
    };
    table.records(&header, cases.iter().map(row))
}

/// One case in full.
#[must_use]
pub fn one(kept: &KeptCase, corrections: &[Correction], names: &Names, words: &Words) -> String {
    let mut out = String::new();
    let line = words.say("compare-case", json!({ "case": kept.id, "summary": summary(kept, names, words) }));
    let _ = writeln!(out, "{}", wrap(&line, 2));
    if let Some(why) = &kept.withdrawn {
        let _ = writeln!(out, "{}", words.say("case-withdrawn-why", json!({ "why": why })));
    }
    for name in NAMES.into_iter().filter(|name| !SUMMARIZED.contains(name)) {
        let value = kept.case.field(name);
        if !value.is_empty() {
            let scale = if name == "severity" { words.text("case-own-scale") } else { String::new() };
            let _ = writeln!(out, "  {:<20} {value}{scale}", words.text(&format!("field-{name}")));
        }
    }
    if let Some(worn) = wear::forecast(kept).filter(|_| block::known_off(kept).is_none()) {
        let name = words.text("case-worn");
        let _ = writeln!(out, "  {name:<20} {} ({}, {})", worn.day, worn.earliest, worn.latest);
    }
    for look in &kept.follow_ups {
        let values = json!({ "date": look.date.to_string(), "seen": seen(look, words) });
        let _ = writeln!(out, "{}", wrap(&words.say("case-look", values), 2));
    }
    for of in corrections {
        let change = &of.change;
        let values = json!({
            "time": of.at.strftime("%Y-%m-%d %H:%M UTC").to_string(), "who": of.who,
            "field": change.field, "was": change.was, "is": change.is,
        });
        let _ = writeln!(out, "{}", wrap(&words.say("case-correction", values), 2));
    }
    out
}

/// Cases as a table for people.
#[must_use]
pub fn list(cases: &[KeptCase], names: &Names, words: &Words) -> String {
    let columns = ["case", "date", "cow", "foot", "lesion", "done", "block"]
        .map(|id| words.text(&format!("case-column-{id}")));
    let mut rows = table(&columns.each_ref().map(String::as_str));
    for kept in cases {
        let case = &kept.case;
        let block = match (block::known_off(kept), block::due(kept)) {
            (Some(off), _) => words.say("case-block-off", json!({ "date": off.to_string() })),
            (None, Some(due)) => words.say("case-block-due", json!({ "date": due.to_string() })),
            (None, None) => String::new(),
        };
        let withdrawn = kept.withdrawn.is_some();
        rows.add_row([
            kept.id.to_string(),
            case.date.to_string(),
            names.short(&case.animal),
            crate::report::trim::case_line::foot(case, words),
            [case.field("lesion"), case.field("zone")].join(" "),
            if withdrawn { words.text("case-withdrawn") } else { done(case, words) },
            block,
        ]);
    }
    render(&rows)
}
