//! One cow's card as printed: 80 columns.

use crate::arithmetic::dates::days_between;
use crate::record::finding::DayEvent;
use crate::record::{Flag, Place};
use crate::report::cow::card::{Card, CardDay};
use crate::report::list::text::{heading, lame, withdrawal};
use crate::report::list::trend::mean;
use crate::report::spark;
use crate::report::style;
use crate::report::style::STRONG;
use crate::report::text::wrapped;
use crate::report::words::Words;
use jiff::civil::Date;
use serde_json::json;
use shared::plate::{Leg, Pair};
use std::fmt::Write;

/// Widest trend, in marks: our choice, so that the line fits 80 columns.
const MARKS: usize = 42;

/// The card in words.
#[must_use]
pub fn render(card: &Card, from: Date, to: Date, words: &Words, utf8: bool) -> String {
    let mut out = String::new();
    let title = words.say("cow-title", json!({ "animal": card.called.long(&card.animal_id) }));
    let _ = writeln!(out, "{STRONG}{title}{STRONG:#}");
    if let Some(open) = &card.withdrawal {
        wrapped(&mut out, "", &format!("{}: {}", words.text("withdrawal-title"), withdrawal(open, words)));
    }
    wrapped(&mut out, "", &about(card, words));
    wrapped(&mut out, "", &usual(card, words));
    out.push_str(&today(card, to, words));
    if card.days.is_empty() {
        let _ = writeln!(out, "\n{}", words.say("cow-nothing", json!({ "from": from, "to": to })));
        return out;
    }
    trends(&mut out, card, from, to, words, utf8);
    table(&mut out, card, words);
    out
}

/// Lactation, days in milk, passages.
#[must_use]
pub fn about(card: &Card, words: &Words) -> String {
    let mut parts = Vec::new();
    parts.extend(card.parity.map(|parity| words.say("cow-lactation", json!({ "parity": parity }))));
    parts.extend(card.days_in_milk.map(|days| words.say("cow-in-milk", json!({ "days": days }))));
    parts.push(match card.first_seen {
        Some(first) => words.say(
            "cow-passages",
            json!({ "passages": card.passages, "first": first, "trusted": card.trusted }),
        ),
        None => words.text("cow-never"),
    });
    let text = parts.join("; ");
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect::<String>() + ".")
}

/// What each of her legs usually carries.
#[must_use]
pub fn usual(card: &Card, words: &Words) -> String {
    let days = card.usual_days;
    let Some(usual) = card.usual_share_pct else {
        return words.say("cow-usual-unknown", json!({ "days": days }));
    };
    let share = |leg: Leg| words.say("cow-share", json!({ "leg": leg.name(), "share": usual.of(leg) }));
    words.say("cow-usual", json!({ "shares": Leg::ALL.map(share).join(", "), "days": days }))
}

/// What is said of her on the last day shown.
#[must_use]
pub fn today(card: &Card, to: Date, words: &Words) -> String {
    let mut out = String::new();
    status(&mut out, card, to, words);
    out
}

fn status(out: &mut String, card: &Card, to: Date, words: &Words) {
    let Some(row) = &card.latest else {
        let _ = writeln!(out, "{}", words.text("cow-never-judged"));
        return;
    };
    let colour = style::flag(row.flag);
    let (day, flag) = (words.long_day(row.date), words.flag(row.flag));
    let _ = write!(out, "\n{STRONG}{day}:{STRONG:#} {colour}{flag}{colour:#}");
    let mut parts = Vec::new();
    if row.flag >= Flag::Watch {
        let leg = row.place_probability.map(|p| format!(" ({})", words.percent(p))).unwrap_or_default();
        parts.push(format!("{}{leg}", words.place(row.place)));
    }
    parts.extend(row.probability.map(|p| lame(Some(p), words)));
    let _ =
        writeln!(out, "{}", if parts.is_empty() { String::new() } else { format!("  {}", parts.join("; ")) });
    if row.flag >= Flag::Watch {
        let since = words.since(row.since, row.date);
        let values = json!({ "since": since, "confidence": words.confidence(row.confidence) });
        wrapped(out, "  ", &words.say("list-confidence", values));
    }
    if row.block_on {
        wrapped(out, "  ", &words.text("cow-block-on"));
    } else if let Some(days) = row.days_since_trim {
        wrapped(out, "  ", &words.say("cow-unsettled", json!({ "days": days })));
    }
    row.reasons.iter().for_each(|reason| wrapped(out, "  - ", &words.with_detail(reason)));
    if let Some(advice) = &row.advice {
        wrapped(out, "  ", &words.say("cow-settle", json!({ "advice": words.finding(advice) })));
    }
    let old = days_between(row.date, to);
    if old > 0 {
        wrapped(out, "  ", &words.say("cow-no-row", json!({ "days": old, "to": to })));
    }
}

/// Whether a day has a mark.
type Has = fn(&CardDay) -> bool;

/// The days in as many groups as fit on a line: the index of the group of a day.
struct Groups {
    from: Date,
    days: usize,
    size: usize,
}

impl Groups {
    fn new(from: Date, to: Date) -> Self {
        let days = days_between(from, to) as usize + 1;
        Self { from, days, size: days.div_ceil(MARKS) }
    }

    fn count(&self) -> usize {
        self.days.div_ceil(self.size)
    }

    fn of(&self, date: Date) -> usize {
        days_between(self.from, date) as usize / self.size
    }

    fn values(&self, days: &[CardDay], value: impl Fn(&CardDay) -> Option<f64>) -> Vec<Option<f64>> {
        (0..self.count())
            .map(|group| mean(days.iter().filter(|day| self.of(day.date) == group).filter_map(&value)))
            .collect()
    }

    fn marks(&self, days: &[CardDay], mark: char, has: impl Fn(&CardDay) -> bool) -> Option<String> {
        let mut line = vec![' '; self.count()];
        days.iter().filter(|day| has(day)).for_each(|day| line[self.of(day.date)] = mark);
        line.contains(&mark).then(|| line.into_iter().collect::<String>().trim_end().to_owned())
    }
}

fn trends(out: &mut String, card: &Card, from: Date, to: Date, words: &Words, utf8: bool) {
    let groups = Groups::new(from, to);
    let lines = Leg::ALL.map(|leg| groups.values(&card.days, |day| day.share(leg)));
    if lines.iter().flatten().all(Option::is_none) {
        heading(out, &words.text("cow-no-shares"));
        return;
    }
    heading(out, &words.say("cow-shares-title", json!({ "size": groups.size })));
    let range = lines.iter().map(|line| spark::range(line)).fold(spark::SMALLEST_RANGE, f64::max);
    for (leg, line) in Leg::ALL.into_iter().zip(&lines) {
        let last = line.iter().rev().flatten().next().copied();
        let value = last.map_or_else(|| "-".to_owned(), |value| words.number(value, 1));
        let spared = match card.place {
            Some(Place::One(one)) => one == leg,
            Some(Place::BothFront) => leg.pair() == Pair::Front,
            Some(Place::BothRear) => leg.pair() == Pair::Rear,
            None => false,
        };
        let usual = card.usual_share_pct.map_or_else(String::new, |usual| {
            format!(" {}", words.say("cow-share-usual", json!({ "usual": usual.of(leg) })))
        });
        let note = if spared { format!(" {}", words.text("cow-spared")) } else { String::new() };
        let name = format!("{} {}", words.leg_letters(leg), words.leg(leg));
        let _ = writeln!(out, "  {name:<14} {} {value:>5}{usual}{note}", spark::line_over(line, range, utf8));
    }
    let kinds: [(&str, Has); 4] = [
        ("cow-mark-foot_work", |day| {
            day.events.iter().any(|event| matches!(event, DayEvent::FootWork { .. }))
        }),
        ("cow-mark-block", |day| day.block_on),
        ("cow-mark-score", |day| {
            day.events.iter().any(|event| matches!(event, DayEvent::Scored { score: 2.. }))
        }),
        ("cow-mark-flag", |day| day.flag.is_some_and(|flag| flag >= Flag::Check)),
    ];
    for ((id, has), mark) in kinds.into_iter().zip(['T', 'B', 'S', '!']) {
        if let Some(line) = groups.marks(&card.days, mark, has) {
            let _ = writeln!(out, "  {:<14} {line}", words.text(id));
        }
    }
    let width = groups.count();
    let (first, last) = (words.day(from), words.day(to));
    if width > first.len() + last.len() + 1 {
        let _ = writeln!(out, "  {:<14} {first}{last:>1$}", "", width - first.len());
    } else {
        let span = words.say("cow-span", json!({ "from": first, "to": last }));
        let _ = writeln!(out, "  {:<14} {span}", "");
    }
}

fn table(out: &mut String, card: &Card, words: &Words) {
    let [day, flag, lame, leg, used] =
        ["day", "flag", "lame", "leg", "used"].map(|name| words.text(&format!("cow-column-{name}")));
    let legs = Leg::ALL.map(|leg| format!("{:>5}", words.leg_letters(leg))).join(" ");
    heading(out, &format!("{day:<7} {flag:<11} {lame:<7} {leg:<11} {used:<5} {legs}    kg"));
    let number = |value: Option<f64>, digits: usize| {
        value.map_or_else(|| "-".to_owned(), |value| words.number(value, digits))
    };
    for day in &card.days {
        let flag = day.flag.unwrap_or(Flag::NoData);
        let colour = style::flag(flag);
        let lame = day
            .probability
            .map_or_else(|| "-".to_owned(), |p| format!("{:.0} %", (100.0 * p).clamp(1.0, 99.0)));
        let leg = words.place_letters(day.place.filter(|_| flag >= Flag::Watch));
        let used = format!("{}/{}", day.trusted, day.passages);
        let _ = write!(
            out,
            "{:<7} {colour}{:<11}{colour:#} {lame:<7} {leg:<11} {used:<5}",
            words.day(day.date),
            words.flag(flag)
        );
        for leg in Leg::ALL {
            let _ = write!(out, " {:>5}", number(day.share(leg), 1));
        }
        let _ = writeln!(out, " {:>5}", number(day.body_weight_kg, 0));
        if !day.events.is_empty() {
            wrapped(out, "        ", &words.list(&day.events));
        }
    }
}
