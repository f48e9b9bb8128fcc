//! The morning list as printed: 80 columns, for reading at five in the morning.

use crate::arithmetic::dates::days_between;
use crate::record::case::withdrawal::Withdrawal;
use crate::record::finding::{Advice, Confidence};
use crate::record::names::Names;
use crate::record::{AnimalId, Flag};
use crate::report::list::morning::{Due, LaneNote, ListSection, Listed, Morning};
use crate::report::list::seen::AWAY_DAYS;
use crate::report::list::trend::Trend;
use crate::report::spark;
use crate::report::style;
use crate::report::style::{FAINT, STRONG};
use crate::report::text::wrapped;
use crate::report::words::Words;
use serde_json::json;
use std::fmt::Write;

/// Reasons printed for each cow; all are in the other formats. Our choice.
const REASONS: usize = 2;
/// Animals named on a line before only their number is given: our choice.
const NAMED: usize = 40;
/// Printed under every list.
pub const CAUTIONS: [&str; 3] = ["caution-vet", "caution-why", "caution-lane"];

/// A heading on a line of its own, after an empty one.
pub fn heading(out: &mut String, text: &str) {
    let _ = writeln!(out, "\n{STRONG}{text}{STRONG:#}");
}

/// The list in words. Colour is written always; the stream that prints it takes it out where it is not wanted.
#[must_use]
pub fn render(list: &Morning, farm: &str, words: &Words, utf8: bool) -> String {
    let mut out = String::new();
    head(&mut out, list, farm, words);
    withdrawals(&mut out, &list.withdrawals, &list.names, words);
    to_check(&mut out, list, words, utf8);
    long_lame(&mut out, list, words);
    under_treatment(&mut out, list, words);
    rechecks(&mut out, list, words);
    watch(&mut out, list, words);
    for said in said_of_groups(list, words) {
        let _ = writeln!(out);
        wrapped(&mut out, "", &said);
    }
    not_judged(&mut out, list, words);
    not_seen(&mut out, list, words);
    if !list.lane.is_empty() {
        heading(&mut out, &words.text("list-lane-title"));
        list.lane.iter().for_each(|note| wrapped(&mut out, "  ", &lane_note(note, words)));
    }
    let _ = writeln!(out);
    for caution in CAUTIONS {
        let mut text = String::new();
        wrapped(&mut text, "", &words.text(caution));
        text.lines().for_each(|line| {
            let _ = writeln!(out, "{FAINT}{line}{FAINT:#}");
        });
    }
    out
}

pub(super) fn head(out: &mut String, list: &Morning, farm: &str, words: &Words) {
    let farm = Some(farm).filter(|farm| !farm.is_empty());
    let mut lines = String::new();
    wrapped(&mut lines, "", &words.say("list-title", json!({ "farm": farm, "date": list.date })));
    lines.lines().for_each(|line| {
        let _ = writeln!(out, "{STRONG}{line}{STRONG:#}");
    });
    wrapped(out, "", &words.say("list-seen", &list.seen));
    let counts = json!({ "judged": list.judged, "not_judged": list.not_judged_count() });
    wrapped(out, "", &words.say("list-judged", counts));
}

/// Milk and meat that must not go out yet, before everything else.
pub fn withdrawals(out: &mut String, open: &[Withdrawal], names: &Names, words: &Words) {
    if open.is_empty() {
        return;
    }
    heading(out, &words.text("withdrawal-title"));
    for one in open {
        let id = names.short(&one.animal_id);
        wrapped(out, &format!("  {id:<15} "), &withdrawal(one, words));
    }
    wrapped(out, "  ", &words.text("withdrawal-note"));
}

/// Until when a cow's milk and meat must not go out.
#[must_use]
pub fn withdrawal(of: &Withdrawal, words: &Words) -> String {
    words.say("withdrawal", json!({ "milk": of.milk_end, "meat": of.meat_end }))
}

fn to_check(out: &mut String, list: &Morning, words: &Words, utf8: bool) {
    let today = list.section(ListSection::ToCheck);
    let after = list.section(ListSection::AfterCapacity);
    let (number, waiting) = (today.clone().count(), after.clone().count());
    if number + waiting == 0 {
        let (title, why) = nothing(list, words);
        heading(out, &title);
        wrapped(out, "  ", &why);
        return;
    }
    let all = (waiting > 0).then_some(number + waiting);
    heading(out, &words.say("list-check-title", json!({ "now": number, "all": all })));
    today.for_each(|cow| entry(out, cow, &list.names, words, utf8));
    if waiting > 0 {
        let names: Vec<String> = after.map(|cow| short(cow, &list.names, words)).collect();
        let values = json!({ "capacity": list.capacity, "names": names.join(", ") });
        let _ = writeln!(out);
        wrapped(out, "  ", &words.say("list-after", values));
    }
}

/// What is said where no cow is to be checked: heading and sentence.
#[must_use]
pub fn nothing(list: &Morning, words: &Words) -> (String, String) {
    if list.judged > 0 {
        let counts = json!({ "judged": list.judged, "not_judged": list.not_judged_count() });
        return (words.text("list-nothing-title"), words.say("list-nothing", counts));
    }
    let why = if list.seen.passages == 0 { "list-no-passage" } else { "list-none-judged" };
    (words.text("list-unknown-title"), words.text(why))
}

/// `1042 RR`.
pub(super) fn short(cow: &Listed, names: &Names, words: &Words) -> String {
    format!("{} {}", names.short(&cow.animal_id), words.place_letters(cow.row.place)).trim_end().to_owned()
}

fn entry(out: &mut String, cow: &Listed, names: &Names, words: &Words, utf8: bool) {
    let colour = style::flag(cow.flag);
    let rank = cow.rank.unwrap_or(0);
    let place = match (cow.row.place, cow.leg_probability) {
        (Some(place), Some(p)) => format!("{} ({})", words.place(Some(place)), words.percent(p)),
        (place, _) => words.place(place),
    };
    let id = names.short(&cow.animal_id);
    let _ = writeln!(out);
    let _ = writeln!(
        out,
        "{rank:>3} {STRONG}{id:<15}{STRONG:#} {colour}{:<7}{colour:#} {place:<28} {}",
        words.flag(cow.flag),
        lame(cow.probability, words)
    );
    wrapped(out, "    ", &since_and_confidence(cow, words));
    if let Some(line) = trend_line(&cow.trend, &words.place_letters(cow.row.place), words, utf8) {
        let _ = writeln!(out, "    {line}");
    }
    cow.reasons.iter().take(REASONS).for_each(|reason| wrapped(out, "    - ", &words.finding(reason)));
    if let (Confidence::Low, Some(advice)) = (cow.confidence, &cow.advice) {
        wrapped(out, "    ", &surer(advice, words));
    }
}

/// How likely she is lame.
#[must_use]
pub fn lame(probability: Option<f64>, words: &Words) -> String {
    match probability {
        Some(p) => words.say("list-lame", json!({ "probability": p })),
        None => words.text("list-no-probability"),
    }
}

/// Since when, and how far the answer can be leaned on.
#[must_use]
pub fn since_and_confidence(cow: &Listed, words: &Words) -> String {
    let since = words.since(cow.row.since, cow.date);
    words.say("list-confidence", json!({ "since": since, "confidence": words.confidence(cow.confidence) }))
}

/// What would make the answer surer.
#[must_use]
pub fn surer(advice: &Advice, words: &Words) -> String {
    words.say("list-surer", json!({ "advice": words.finding(advice) }))
}

/// `RR ▇▇▆▃▁ 24.6 -> 17.8 % of body weight, 14 days`; `None` without two days of values.
#[must_use]
pub fn trend_line(trend: &Trend, leg: &str, words: &Words, utf8: bool) -> Option<String> {
    let (first, last) = trend.ends()?;
    let what = if trend.measure == "leg_peak_pct" { "trend-walking" } else { "trend-standing" };
    let line = spark::line(&trend.values, utf8);
    let (what, days) = (words.text(what), trend.values.len());
    Some(words.say(
        "trend",
        json!({ "leg": leg, "line": line, "first": first, "last": last, "what": what, "days": days }),
    ))
}

/// What is said of a cow under treatment.
#[must_use]
pub fn treatment(cow: &Listed, words: &Words) -> String {
    let mut parts = Vec::new();
    if cow.block_on {
        parts.push(words.text("list-block-on"));
    }
    parts.extend(cow.days_since_trim.map(|days| words.say("list-treated-ago", json!({ "days": days }))));
    if cow.flag >= Flag::Watch {
        let place = words.place_letters(cow.row.place);
        parts.push(words.say("list-all-the-same", json!({ "flag": words.flag(cow.flag), "place": place })));
        parts.extend(cow.reasons.first().map(|reason| words.finding(reason)));
    }
    parts.join("; ")
}

fn under_treatment(out: &mut String, list: &Morning, words: &Words) {
    let cows = list.section(ListSection::UnderTreatment);
    if cows.clone().next().is_none() {
        return;
    }
    heading(out, &words.text("list-treated-title"));
    wrapped(out, "  ", &words.text("list-treated-note"));
    for cow in cows {
        let id = list.names.short(&cow.animal_id);
        wrapped(out, &format!("  {id:<15} "), &treatment(cow, words));
    }
}

/// When a recheck is due, at which leg, what to look for, and why it is sooner than planned.
#[must_use]
pub fn due(due: &Due, today: jiff::civil::Date, words: &Words) -> String {
    let late = days_between(due.due, today);
    let when = if late < 0 { "list-due-later" } else { "list-due" };
    let leg = words.letters_of(due.leg);
    let colon = if leg.is_empty() { "" } else { ": " };
    let mut text = words.say(when, json!({ "due": due.due, "late": late }));
    let _ = write!(text, "; {leg}{colon}{}", words.list(&due.look_for));
    if let Some(sooner) = &due.sooner {
        let _ = write!(text, "; {}", words.recheck_reason(sooner));
    }
    text
}

fn rechecks(out: &mut String, list: &Morning, words: &Words) {
    if list.rechecks.is_empty() && list.rechecks_faded == 0 {
        return;
    }
    heading(out, &words.text("list-rechecks-title"));
    for recheck in &list.rechecks {
        let id = list.names.short(&recheck.animal_id);
        wrapped(out, &format!("  {id:<15} "), &due(recheck, list.date, words));
    }
    if list.rechecks_faded > 0 {
        wrapped(out, "  ", &words.say("rechecks-faded", json!({ "count": list.rechecks_faded })));
    }
}

fn watch(out: &mut String, list: &Morning, words: &Words) {
    let names: Vec<String> =
        list.section(ListSection::Watch).map(|cow| short(cow, &list.names, words)).collect();
    if !names.is_empty() {
        heading(out, &words.text("list-watch-title"));
        wrapped(out, "  ", &words.text("list-watch-note"));
        wrapped(out, "  ", &some(&names, words));
    }
}

/// As many names as are of use, and how many more.
pub(super) fn some(names: &[String], words: &Words) -> String {
    let shown = names.iter().take(NAMED).map(String::as_str).collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(NAMED) {
        0 => shown,
        more => words.say("list-and-more", json!({ "names": shown, "more": more })),
    }
}

fn not_judged(out: &mut String, list: &Morning, words: &Words) {
    if list.not_judged.is_empty() {
        return;
    }
    heading(out, &words.say("list-not-judged-title", json!({ "count": list.not_judged_count() })));
    for group in &list.not_judged {
        let names: Vec<String> = group.animals.iter().map(|animal| list.names.short(animal)).collect();
        wrapped(
            out,
            "  ",
            &format!("{}: {}", why_not_judged(group.advice.as_ref(), words), some(&names, words)),
        );
    }
}

/// Why cows could not be judged, by what would settle it.
#[must_use]
pub fn why_not_judged(advice: Option<&Advice>, words: &Words) -> String {
    advice.map_or_else(|| words.text("reason-no_trusted_passage"), |advice| words.finding(advice))
}

/// Cows lame for weeks: a line each.
fn long_lame(out: &mut String, list: &Morning, words: &Words) {
    let mut cows = list.section(ListSection::LongLame).peekable();
    if cows.peek().is_none() {
        return;
    }
    heading(out, &words.text("list-long-title"));
    wrapped(out, "  ", &words.text("list-long-note"));
    for cow in cows {
        let id = list.names.short(&cow.animal_id);
        let since = words.since(cow.row.since, cow.date);
        let line = format!("{}; {}; {since}", words.place(cow.row.place), lame(cow.probability, words));
        wrapped(out, &format!("  {id:<15} "), &line);
    }
}

/// Cows that somebody marked, and words for cows that nobody knows: a sentence a group.
#[must_use]
pub fn said_of_groups(list: &Morning, words: &Words) -> Vec<String> {
    let listed = |section| list.section(section).map(|cow| short(cow, &list.names, words)).collect();
    let named = |animals: &[AnimalId]| animals.iter().map(|animal| list.names.short(animal)).collect();
    let groups: [(&str, Vec<String>); 5] = [
        ("list-looked", listed(ListSection::Looked)),
        ("list-booked", listed(ListSection::Booked)),
        ("list-dry", named(&list.dry)),
        ("list-lent", named(&list.lent)),
        ("list-unknown-cows", list.unknown.clone()),
    ];
    let told = groups.iter().filter(|(_, names)| !names.is_empty());
    told.map(|(title, names)| words.say(title, json!({ "names": some(names, words) }))).collect()
}

fn not_seen(out: &mut String, list: &Morning, words: &Words) {
    if list.not_seen.is_empty() {
        return;
    }
    heading(out, &words.text("list-not-seen-title"));
    let lately =
        list.not_seen.iter().filter_map(|cow| {
            let days = cow.days.filter(|days| *days <= AWAY_DAYS)?;
            Some(words.say(
                "list-not-seen-days",
                json!({ "animal": list.names.short(&cow.animal_id), "days": days }),
            ))
        });
    let lately: Vec<String> = lately.collect();
    if !lately.is_empty() {
        wrapped(out, "  ", &some(&lately, words));
    }
    let away = list.not_seen.iter().filter(|cow| cow.days.is_some_and(|days| days > AWAY_DAYS)).count();
    let never = list.not_seen.iter().filter(|cow| cow.days.is_none()).count();
    if away > 0 {
        wrapped(out, "  ", &words.say("list-away", json!({ "count": away, "days": AWAY_DAYS })));
    }
    if never > 0 {
        wrapped(out, "  ", &words.say("list-never", json!({ "count": never })));
    }
}

/// What is said of a lane, with its name.
#[must_use]
pub fn lane_note(note: &LaneNote, words: &Words) -> String {
    let text = words.finding(&note.remark);
    note.lane.as_ref().map_or_else(|| text.clone(), |lane| format!("{lane}: {text}"))
}

#[cfg(test)]
mod tests;
