//! A case in one line.

use crate::record::case::{Case, FollowUp, KeptCase};
use crate::record::names::Names;
use crate::report::words::Words;
use serde_json::json;
use shared::plate::Leg;

/// The name of the lesion, or what was written; `no lesion` where there is none.
#[must_use]
pub fn lesion(case: &Case, words: &Words) -> String {
    match &case.lesion {
        None => words.text("case-no-lesion"),
        Some(lesion) => lesion
            .code()
            .map_or_else(|| lesion.as_str().to_owned(), |code| words.text(&format!("lesion-{}", code.code))),
    }
}

/// The lesion in words, with its stage and zone.
#[must_use]
pub fn found(case: &Case, words: &Words) -> String {
    if case.lesion.is_none() {
        return lesion(case, words);
    }
    let name = lesion(case, words);
    let stage = case.stage.map_or_else(String::new, |stage| format!(" {}", stage.name()));
    let zone = case.zone.map_or_else(String::new, |zone| {
        format!(" {}", words.say("case-zone", json!({ "zone": zone.number() })))
    });
    format!("{name}{stage}{zone}")
}

/// What was done, in words.
#[must_use]
pub fn done(case: &Case, words: &Words) -> String {
    let t = &case.treatment;
    let mut parts: Vec<String> = [
        (t.trim, "case-trim"),
        (t.horn_removed, "case-horn_removed"),
        (t.drained, "case-drained"),
        (t.dressing, "case-dressing"),
    ]
    .into_iter()
    .filter(|(done, _)| *done)
    .map(|(_, id)| words.text(id))
    .collect();
    if let Some(block) = &t.block {
        let claw = block.claw.map_or("none", |claw| claw.name());
        parts.push(words.say("case-block", json!({ "claw": claw })));
    }
    parts.extend(t.other.clone());
    if parts.is_empty() { words.text("case-looked") } else { parts.join(", ") }
}

/// Leg and claw in words, empty for all feet.
#[must_use]
pub fn foot(case: &Case, words: &Words) -> String {
    let leg = words.letters_of(case.leg.map_or("", Leg::name));
    let claw = case.claw.map_or_else(String::new, |claw| words.text(&format!("claw-{}", claw.name())));
    format!("{leg} {claw}").trim().to_owned()
}

/// `2026-03-02 412 RR outer: sole ulcer zone 4; trim, block inner`.
#[must_use]
pub fn summary(kept: &KeptCase, names: &Names, words: &Words) -> String {
    let case = &kept.case;
    let cow = format!("{} {} {}", case.date, names.short(&case.animal), foot(case, words));
    format!("{}: {}; {}", cow.trim(), found(case, words), done(case, words))
}

/// What a later look saw.
#[must_use]
pub fn seen(look: &FollowUp, words: &Words) -> String {
    let mut parts = Vec::new();
    parts.extend(look.block.map(|block| words.text(&format!("seen-block-{}", block.name()))));
    parts.extend(
        look.height_mm.map(|height| words.say("seen-height", json!({ "height": height.to_string() }))),
    );
    parts.extend(look.course.map(|course| words.text(&format!("seen-{}", course.name()))));
    parts.extend(look.note.clone());
    parts.join(", ")
}
