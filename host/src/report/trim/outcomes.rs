//! How cases went, as printed, beside published trials.

use crate::arithmetic::statistics::Estimated;
use crate::case::outcomes::group::GroupChange;
use crate::case::outcomes::outcome::{BESIDE_DAY, Group};
use crate::case::outcomes::survival::CurveStep;
use crate::report::style::{STRONG, paint};
use crate::report::text::wrap;
use crate::report::words::Words;
use serde_json::json;
use std::fmt::Write;

/// The groups, the curves where they are asked for, and what the counts are not.
#[must_use]
pub fn render(groups: &[Group], curves: bool, words: &Words) -> String {
    let mut out = String::new();
    for group in groups {
        lines(&mut out, group, words);
        if curves {
            curve(&mut out, "outcomes-not-back", &group.to_normal, words);
            curve(&mut out, "outcomes-block-kept", &group.block_kept, words);
        }
    }
    if groups.is_empty() {
        let _ = writeln!(out, "{}", words.text("outcomes-none"));
    }
    let _ = writeln!(out, "\n{}", wrap(&words.text("outcomes-trials"), 0));
    for trial in ["outcomes-trial-new", "outcomes-trial-old", "outcomes-trial-first"] {
        let _ = writeln!(out, "{}", wrap(&format!("- {}", words.text(trial)), 2));
    }
    let _ = writeln!(out, "\n{}", wrap(&words.text("outcomes-caution"), 0));
    out
}

fn part(of: &Estimated, words: &Words) -> String {
    words.say(
        "outcomes-part",
        json!({ "part": 100.0 * of.value, "low": 100.0 * of.low, "high": 100.0 * of.high }),
    )
}

fn lines(out: &mut String, group: &Group, words: &Words) {
    let counts = json!({ "cases": group.cases, "measured": group.measured });
    let title = words.say("outcomes-group", counts);
    let _ = writeln!(out, "{}: {title}", paint(STRONG, &group.group));
    let mut say = |id: &str, values: serde_json::Value| {
        let _ = writeln!(out, "{}", wrap(&format!("  {}", words.say(id, values)), 4));
    };
    for back in group.back.iter().filter(|back| back.of > 0) {
        let part = back.part.map_or_else(String::new, |of| part(&of, words));
        say("outcomes-back", json!({ "day": back.by_day, "back": back.back, "of": back.of, "part": part }));
    }
    if let Some(beside) = group.beside_others {
        let odds = beside.odds_ratio.map_or_else(String::new, |odds| {
            words.say("outcomes-odds", json!({ "odds": odds.value, "low": odds.low, "high": odds.high }))
        });
        let p = format!("{:.3}", beside.fisher_p);
        say(
            "outcomes-others",
            json!({ "day": BESIDE_DAY, "back": beside.back, "of": beside.of, "odds": odds, "p": p }),
        );
    }
    if let Some(days) = group.median_days_to_normal {
        say("outcomes-half", json!({ "days": days }));
    }
    if group.relapses > 0 {
        say("outcomes-relapses", json!({ "count": group.relapses }));
    }
    if group.recorded > 0 {
        let gained = group
            .days_gained
            .map_or_else(String::new, |days| words.say("outcomes-gained", json!({ "days": days })));
        say(
            "outcomes-lane-first",
            json!({ "first": group.lane_first, "recorded": group.recorded, "gained": gained }),
        );
    }
}

fn curve(out: &mut String, id: &str, steps: &[CurveStep], words: &Words) {
    for step in steps {
        let [part, low, high] = [step.without, step.low, step.high].map(|part| words.number(part, 2));
        let values =
            json!({ "day": step.days, "part": part, "low": low, "high": high, "watched": step.at_risk });
        let _ = writeln!(out, "  {}", words.say(id, values));
    }
}

/// The change of the treated leg in each group of cases.
#[must_use]
pub fn changes(groups: &[GroupChange], words: &Words) -> String {
    if groups.is_empty() {
        return words.text("change-none") + "\n";
    }
    let mut out = format!("{}\n\n", wrap(&words.text("change-title"), 0));
    for group in groups {
        let counts = words.say("change-group", json!({ "cases": group.cases, "cows": group.cows }));
        let _ = writeln!(out, "{}: {counts}", paint(STRONG, &group.group));
        if group.low.is_finite() {
            let line = words.say("change-line", group);
            let _ = writeln!(out, "{}", wrap(&format!("  {line}"), 4));
        }
        let _ = writeln!(out, "{}.", wrap(&format!("  {}", words.finding(&group.finding)), 2));
    }
    out
}
