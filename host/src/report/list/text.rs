//! The morning list as printed: 80 columns, for reading at five in the morning.

use crate::record::Flag;
use crate::report::list::morning::{Listed, Morning, Section};
use crate::report::list::seen::AWAY_DAYS;
use crate::report::list::trend::Trend;
use crate::report::spark;
use crate::report::style;
use crate::report::style::{FAINT, STRONG};
use crate::report::text::wrapped;
use crate::report::words;
use crate::report::words::count;
use std::fmt::Write;

/// Reasons printed for each cow; all are in the other formats. Our choice.
const REASONS: usize = 2;
/// Animals named on a line before only their number is given: our choice.
const NAMED: usize = 40;

/// A heading on a line of its own, after an empty one.
pub fn heading(out: &mut String, text: &str) {
    let _ = writeln!(out, "\n{STRONG}{text}{STRONG:#}");
}

/// The list in words. Colour is written always; the stream that prints it takes it out where it is not wanted.
#[must_use]
pub fn render(list: &Morning, farm: &str, utf8: bool) -> String {
    let mut out = String::new();
    head(&mut out, list, farm);
    to_check(&mut out, list, utf8);
    under_treatment(&mut out, list);
    rechecks(&mut out, list);
    watch(&mut out, list);
    not_judged(&mut out, list);
    not_seen(&mut out, list);
    if !list.lane.is_empty() {
        heading(&mut out, "The lane");
        list.lane.iter().for_each(|note| wrapped(&mut out, "  ", note));
    }
    let _ = writeln!(out);
    for caution in list.cautions {
        let mut text = String::new();
        wrapped(&mut text, "", caution);
        text.lines().for_each(|line| {
            let _ = writeln!(out, "{FAINT}{line}{FAINT:#}");
        });
    }
    out
}

fn head(out: &mut String, list: &Morning, farm: &str) {
    let farm = if farm.is_empty() { String::new() } else { format!("{farm}: ") };
    let title = format!("{farm}the list after {}", words::long_day(list.date));
    let mut lines = String::new();
    wrapped(&mut lines, "", &title);
    lines.lines().for_each(|line| {
        let _ = writeln!(out, "{STRONG}{line}{STRONG:#}");
    });
    let seen = &list.seen;
    let of_herd = if seen.herd > 0 { format!(" of {}", words::thousands(seen.herd)) } else { String::new() };
    wrapped(
        out,
        "",
        &format!(
            "Seen: {}, {}{of_herd} {}; {} not identified, {} not usable.",
            count(seen.passages, "passage", "passages"),
            words::thousands(seen.cows),
            if seen.cows == 1 && seen.herd == 0 { "cow" } else { "cows" },
            words::thousands(seen.unidentified),
            words::thousands(seen.unusable),
        ),
    );
    wrapped(
        out,
        "",
        &format!(
            "Judged: {}; {} could not be judged.",
            count(list.judged, "cow", "cows"),
            words::thousands(list.not_judged_count())
        ),
    );
}

fn to_check(out: &mut String, list: &Morning, utf8: bool) {
    let today = list.section(Section::ToCheck);
    let after = list.section(Section::AfterCapacity);
    let (number, waiting) = (today.clone().count(), after.clone().count());
    if number + waiting == 0 {
        heading(out, if list.judged > 0 { "Nothing to check" } else { "Nothing can be said" });
        let why = if list.judged > 0 {
            let rest = match list.not_judged_count() {
                0 => String::new(),
                1 => " One cow could not be judged and may be lame.".to_owned(),
                many => format!(" {} cows could not be judged and may be lame.", words::thousands(many)),
            };
            format!(
                "{} judged, and none of them needs her feet looked at today.{rest}",
                count(list.judged, "cow was", "cows were")
            )
        } else if list.seen.passages == 0 {
            "No passage was stored for this day, so no cow could be judged.".to_owned()
        } else {
            "No cow could be judged on this day; that does not mean they are sound.".to_owned()
        };
        wrapped(out, "  ", &why);
        return;
    }
    let of = if waiting > 0 { format!(" of {}", number + waiting) } else { String::new() };
    heading(out, &format!("To check today: {number}{of}"));
    today.for_each(|cow| entry(out, cow, utf8));
    if waiting > 0 {
        let names: Vec<String> = after.map(short).collect();
        let text = format!("After these (you look at {} a day): {}", list.capacity, names.join(", "));
        let _ = writeln!(out);
        wrapped(out, "  ", &text);
    }
}

/// `1042 RR`.
fn short(cow: &Listed) -> String {
    cow.leg.map_or_else(|| cow.animal_id.to_string(), |leg| format!("{} {leg}", cow.animal_id))
}

fn entry(out: &mut String, cow: &Listed, utf8: bool) {
    let colour = style::flag(cow.flag);
    let rank = cow.rank.unwrap_or(0);
    let place = match (cow.row.place, cow.leg_probability) {
        (Some(place), Some(p)) => format!("{} ({})", words::place(Some(place)), words::percent(p)),
        (place, _) => words::place(place),
    };
    let lame = cow
        .probability
        .map_or_else(|| "no probability".to_owned(), |p| format!("lame: {}", words::percent(p)));
    let id = cow.animal_id.to_string();
    let _ = writeln!(out);
    let _ = writeln!(
        out,
        "{rank:>3} {STRONG}{id:<15}{STRONG:#} {colour}{:<7}{colour:#} {place:<28} {lame}",
        words::flag(cow.flag)
    );
    let sure =
        if cow.confidence.is_empty() { String::new() } else { format!("; confidence {}", cow.confidence) };
    wrapped(out, "    ", &format!("{}{sure}", words::since(cow.row.since, cow.date)));
    if let Some(line) = trend_line(&cow.trend, cow.leg, utf8) {
        let _ = writeln!(out, "    {line}");
    }
    cow.reasons.iter().take(REASONS).for_each(|reason| wrapped(out, "    - ", reason));
    if cow.confidence == "low" && !cow.would_settle.is_empty() {
        wrapped(out, "    ", &format!("To be surer: {}", cow.would_settle));
    }
}

/// `RR ▇▇▆▃▁ 24.6 -> 17.8 % of body weight, 14 days`; `None` without two days of values.
#[must_use]
pub fn trend_line(trend: &Trend, leg: Option<&str>, utf8: bool) -> Option<String> {
    let (first, last) = trend.ends()?;
    let what =
        if trend.measure == "leg_peak_pct" { "% of body weight at her peak" } else { "% of body weight" };
    let days = trend.values.len();
    Some(format!(
        "{} {} {first:.1} -> {last:.1} {what}, {days} days",
        leg.unwrap_or_default(),
        spark::line(&trend.values, utf8)
    ))
}

fn under_treatment(out: &mut String, list: &Morning) {
    let cows = list.section(Section::UnderTreatment);
    if cows.clone().next().is_none() {
        return;
    }
    heading(out, "Under treatment (a block or a fresh trim moves load; not judged as usual)");
    for cow in cows {
        let mut parts = Vec::new();
        if cow.block_on {
            parts.push("block on".to_owned());
        }
        if let Some(days) = cow.days_since_trim {
            parts.push(match days {
                0 => "treated today".to_owned(),
                1 => "treated yesterday".to_owned(),
                _ => format!("treated {days} days ago"),
            });
        }
        if cow.flag >= Flag::Watch {
            let leg = cow.leg.map(|leg| format!(" {leg}")).unwrap_or_default();
            parts.push(format!("{}{leg} all the same", words::flag(cow.flag)));
            parts.extend(cow.reasons.first().cloned());
        }
        let id = cow.animal_id.to_string();
        wrapped(out, &format!("  {id:<15} "), &parts.join("; "));
    }
}

fn rechecks(out: &mut String, list: &Morning) {
    if list.rechecks.is_empty() {
        return;
    }
    heading(out, "Rechecks due");
    for due in &list.rechecks {
        let late = crate::arithmetic::dates::days_between(due.due, list.date);
        let when = match late {
            i32::MIN..=-1 => format!("due {}", words::day(due.due)),
            0 => "due today".to_owned(),
            1 => "due since yesterday".to_owned(),
            _ => format!("due since {} ({late} days)", words::day(due.due)),
        };
        let id = due.animal_id.to_string();
        wrapped(out, &format!("  {id:<15} "), &format!("{when}; {}", due.what));
    }
}

fn watch(out: &mut String, list: &Morning) {
    let names: Vec<String> = list.section(Section::Watch).map(short).collect();
    if !names.is_empty() {
        heading(out, "Watch (changed a little; no need to lift a foot yet)");
        wrapped(out, "  ", &some(&names));
    }
}

/// As many names as are of use, and how many more.
fn some(names: &[String]) -> String {
    let shown = names.iter().take(NAMED).map(String::as_str).collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(NAMED) {
        0 => shown,
        more => format!("{shown} and {} more", words::thousands(more)),
    }
}

fn not_judged(out: &mut String, list: &Morning) {
    if list.not_judged.is_empty() {
        return;
    }
    heading(out, &format!("Could not be judged: {}", count(list.not_judged_count(), "cow", "cows")));
    for group in &list.not_judged {
        let names: Vec<String> = group.animals.iter().map(ToString::to_string).collect();
        wrapped(out, "  ", &format!("{}: {}", group.would_settle, some(&names)));
    }
}

fn not_seen(out: &mut String, list: &Morning) {
    if list.not_seen.is_empty() {
        return;
    }
    heading(out, "Not seen");
    let lately: Vec<String> = list
        .not_seen
        .iter()
        .filter_map(|cow| {
            cow.days.filter(|days| *days <= AWAY_DAYS).map(|days| format!("{} ({days} days)", cow.animal_id))
        })
        .collect();
    if !lately.is_empty() {
        wrapped(out, "  ", &some(&lately));
    }
    let away = list.not_seen.iter().filter(|cow| cow.days.is_some_and(|days| days > AWAY_DAYS)).count();
    let never = list.not_seen.iter().filter(|cow| cow.days.is_none()).count();
    if away > 0 {
        let _ = writeln!(out, "  {} for more than {AWAY_DAYS} days (dry, sold?)", count(away, "cow", "cows"));
    }
    if never > 0 {
        let _ = writeln!(out, "  {} of the herd register never seen in a lane", count(never, "cow", "cows"));
    }
}
