//! One cow before and after, as printed for the trimmer.

use crate::arithmetic::statistics::Estimated;
use crate::case::before_after::compare::{Comparison, LegResult, compare};
use crate::case::before_after::series::UNSETTLED_DAYS;
use crate::case::book::WINDOW_DAYS;
use crate::record::AnimalId;
use crate::record::case::KeptCase;
use crate::record::finding::Verdict;
use crate::record::names::Names;
use crate::report::style::{BAD, CAUTION, FAINT, GOOD, STRONG, paint};
use crate::report::text::{align_right, render as render_table, table, wrap};
use crate::report::words::Words;
use crate::store::{PassageFilter, Store};
use jiff::{ToSpan, civil::Date};
use serde_json::json;
use std::fmt::Write;

/// What is compared: the day of the work and the last day used where they are given, and how many days before and after.
#[derive(Clone, Copy, Debug)]
pub struct Window {
    /// The day of the work; her latest case where `None`.
    pub at: Option<Date>,
    /// The last day used; that of her last passage where `None`.
    pub until: Option<Date>,
    /// Days before the work.
    pub before: i32,
    /// Days after it at most.
    pub after: i32,
}

impl Window {
    /// Her latest case.
    pub const LATEST: Self = Self { at: None, until: None, before: WINDOW_DAYS.0, after: WINDOW_DAYS.1 };
}

/// A cow compared with herself.
#[derive(Debug)]
pub struct Compared {
    /// The figures.
    pub comparison: Comparison,
    /// Her cases of that day.
    pub cases: Vec<KeptCase>,
}

/// Compares a cow; `None` without a case, or without a passage around it.
///
/// # Errors
/// When the store cannot be read.
pub fn of_cow(store: &Store, animal: &AnimalId, window: &Window) -> anyhow::Result<Option<Compared>> {
    let cases = store.cases(Some(animal))?;
    let latest = cases.iter().filter(|kept| kept.withdrawn.is_none()).map(|kept| kept.case.date).max();
    let Some(at) = window.at.or(latest) else { return Ok(None) };
    let read = crate::case::rechecks::due::READ_DAYS.max(window.before + 180);
    let passages = store.passages(&PassageFilter {
        animal: Some(animal.clone()),
        from: Some(at.saturating_sub(read.days())),
        to: Some(window.until.unwrap_or_else(|| at.saturating_add(window.after.days()))),
    })?;
    let Some(last) = passages.last().map(|passage| passage.date) else { return Ok(None) };
    let until = window.until.unwrap_or_else(|| last.max(at));
    let cow = store.cow(animal, passages)?;
    let question = cow.question(at, until, (window.before, window.after), &store.learned()?);
    let comparison = compare(&animal.0, &question);
    let cases = cow.cases.into_iter().filter(|kept| kept.case.date == at && kept.withdrawn.is_none());
    Ok(Some(Compared { comparison, cases: cases.collect() }))
}

/// The comparison; `cases` are the cases of that day in words, by their numbers.
#[must_use]
pub fn render(of: &Comparison, cases: &[(i64, String)], names: &Names, words: &Words) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", paint(STRONG, wrap(&first_line(of, names, words), 2)));
    for (case, summary) in cases {
        let line = words.say("compare-case", json!({ "case": case, "summary": summary }));
        let _ = writeln!(out, "{}", wrap(&line, 2));
    }
    let style = match of.verdict.verdict {
        Verdict::AsExpected => GOOD,
        Verdict::CannotTellYet => FAINT,
        Verdict::SlowerThanExpected => CAUTION,
        _ => BAD,
    };
    let _ = writeln!(out, "{}", paint(style, wrap(&verdict(of, words), 2)));
    if of.unsettled_passages > 0 {
        let values = json!({ "days": UNSETTLED_DAYS, "passages": of.unsettled_passages });
        let _ = writeln!(out, "{}", wrap(&words.say("compare-unsettled", values), 2));
    }
    if let Some(first) = &of.first_after {
        let shares = first.share_pct.map_or_else(
            || words.text("compare-walked"),
            |[lf, rf, lr, rr]| words.say("compare-shares", json!({ "lf": lf, "rf": rf, "lr": lr, "rr": rr })),
        );
        let _ =
            writeln!(out, "{}", words.say("compare-first", json!({ "date": first.date, "shares": shares })));
    }
    if !of.legs.is_empty() {
        legs(&mut out, of, words);
    }
    measures(&mut out, of, words);
    out
}

/// The verdict and its reason in a sentence.
#[must_use]
pub fn verdict(of: &Comparison, words: &Words) -> String {
    let again = of
        .verdict
        .ask_again
        .map_or_else(String::new, |day| format!(" {}", words.say("compare-again", json!({ "date": day }))));
    format!("{}: {}.{again}", words.finding(&of.verdict.verdict), words.finding(&of.verdict.reason))
}

/// Block on or off, and days since the work.
pub(crate) fn first_line(of: &Comparison, names: &Names, words: &Words) -> String {
    let block = match &of.block {
        Some(block) => {
            let id = match (block.on, block.off) {
                _ if block.end_not_reported => "compare-block-unreported",
                (true, Some(_)) => "compare-block-due",
                (true, None) => "compare-block-on",
                (false, _) => "compare-block-off",
            };
            words.say(id, json!({ "leg": block.leg, "date": block.off }))
        }
        None => words.text("compare-no-block"),
    };
    let values = json!({ "animal": names.long(&AnimalId(of.animal_id.clone())), "block": block, "days": of.days_since_trim, "date": of.at });
    words.say("compare-title", values)
}

/// A value and its interval, each with its sign.
fn span(of: &Estimated, decimals: usize, words: &Words) -> String {
    let id = if decimals == 0 {
        "span-0"
    } else if decimals == 1 {
        "span-1"
    } else {
        "span-2"
    };
    words.say(id, json!({ "value": of.value, "low": of.low, "high": of.high }))
}

fn legs(out: &mut String, of: &Comparison, words: &Words) {
    let _ = writeln!(out, "\n{}", wrap(&words.text("compare-legs-title"), 0));
    let columns = ["leg", "before", "now", "normal", "back", "half"]
        .map(|id| words.text(&format!("compare-column-{id}")));
    let mut rows = table(&columns.each_ref().map(String::as_str));
    for leg in &of.legs {
        let half = leg.half_time_days.map_or_else(String::new, |half| {
            let day = |days: f64| {
                if days.is_finite() { words.number(days, 0) } else { words.text("compare-never") }
            };
            words.say(
                "compare-half",
                json!({ "value": day(half.value), "low": day(half.low), "high": day(half.high) }),
            )
        });
        let star = if Some(leg.leg) == of.leg { "*" } else { "" };
        rows.add_row([
            format!("{}{star}", words.letters_of(leg.leg)),
            span(&leg.before_pct, 0, words),
            span(&leg.now_pct, 0, words),
            words.say("compare-within", json!({ "range": leg.normal_range_pct })),
            words.percent(leg.back_probability),
            half,
        ]);
    }
    out.push_str(&render_table(&rows));
    if let Some(treated) = of.legs.iter().find(|leg| Some(leg.leg) == of.leg) {
        under_block(out, of, treated, words);
    }
}

fn under_block(out: &mut String, of: &Comparison, treated: &LegResult, words: &Words) {
    if let Some(block) = &treated.block_effect_pct {
        let values = json!({ "span": span(block, 0, words), "leg": treated.leg });
        let _ = writeln!(out, "{}", words.say("compare-block-effect", values));
    }
    let before = treated.before_pct.value;
    if before < -treated.normal_range_pct {
        let whose = match (of.usual_of_own_cases, of.usual_of_same_lesion) {
            (0, _) => words.text("compare-usual-guess"),
            (cases, true) => words.say("compare-usual-lesion", json!({ "cases": cases })),
            (cases, false) => words.say("compare-usual-farm", json!({ "cases": cases })),
        };
        let values = json!({
            "left": 100.0 * treated.now_pct.value / before,
            "low": 100.0 * of.usual_left.0,
            "high": 100.0 * of.usual_left.1,
            "whose": whose,
        });
        let _ = writeln!(out, "{}", wrap(&words.say("compare-left", values), 2));
    }
}

fn measures(out: &mut String, of: &Comparison, words: &Words) {
    if of.measures.is_empty() {
        let _ = writeln!(out, "\n{}", words.text("compare-too-few"));
        return;
    }
    let _ = writeln!(out, "\n{}", wrap(&words.text("compare-measures-title"), 0));
    let columns = ["measure", "before", "after", "change", "mdc", "passages"]
        .map(|id| words.text(&format!("compare-column-{id}")));
    let mut rows = table(&columns.each_ref().map(String::as_str));
    align_right(&mut rows, &[1, 2, 4]);
    for measure in &of.measures {
        let digits = measure.decimals;
        let change =
            Estimated { value: measure.change_estimate, low: measure.change_low, high: measure.change_high };
        rows.add_row([
            measure.measure.to_owned(),
            words.number(measure.before, digits),
            words.number(measure.after, digits),
            span(&change, digits, words),
            words.number(measure.least_telling_change, digits),
            format!("{}, {}", measure.passages_before, measure.passages_after),
        ]);
    }
    out.push_str(&render_table(&rows));
}
