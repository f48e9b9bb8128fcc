//! Feet to look at again, by day, as printed.

use crate::case::rechecks::recheck::Recheck;
use crate::record::AnimalId;
use crate::record::case::withdrawal::Withdrawal;
use crate::record::names::Names;
use crate::report::list::text::withdrawals;
use crate::report::style::{STRONG, paint};
use crate::report::text::wrap;
use crate::report::words::Words;
use jiff::civil::Date;
use serde_json::json;
use std::fmt::Write;

/// The list as of `date`; `faded` more stand open for too long to be on it.
#[must_use]
pub fn render(
    list: &[Recheck],
    faded: usize,
    open: &[Withdrawal],
    names: &Names,
    date: Date,
    farm: &str,
    words: &Words,
) -> String {
    let mut out = String::new();
    let farm = Some(farm).filter(|farm| !farm.is_empty());
    let title = words.say("rechecks-title", json!({ "farm": farm, "date": date }));
    let _ = writeln!(out, "{}", paint(STRONG, title));
    withdrawals(&mut out, open, names, words);
    let mut day = None;
    for recheck in list {
        if day != Some(recheck.date) {
            let id = if recheck.date < date { "rechecks-overdue" } else { "long-day" };
            let _ = writeln!(out, "\n{}", paint(STRONG, words.say(id, json!({ "date": recheck.date }))));
            day = Some(recheck.date);
        }
        let _ = writeln!(out, "{}", wrap(&line(recheck, names, words), 4));
    }
    if faded > 0 {
        let _ = writeln!(out, "\n{}", wrap(&words.say("rechecks-faded", json!({ "count": faded })), 0));
    }
    let last = words.text(if list.is_empty() { "rechecks-none" } else { "caution-crush" });
    let _ = writeln!(out, "\n{}", wrap(&last, 0));
    out
}

fn line(recheck: &Recheck, names: &Names, words: &Words) -> String {
    let planned = recheck.planned.map_or_else(String::new, |day| {
        format!("; {}", words.say("rechecks-was-planned", json!({ "date": day })))
    });
    words.say(
        "rechecks-line",
        json!({
            "animal": names.short(&AnimalId(recheck.animal_id.clone())),
            "place": words.letters_of(recheck.leg),
            "case": recheck.case,
            "look_for": words.list(&recheck.look_for),
            "why": format!("{}{planned}", words.recheck_reason(&recheck.reason)),
        }),
    )
}
