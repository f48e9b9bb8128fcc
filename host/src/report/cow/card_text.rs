//! One cow's card as printed: 80 columns.

use crate::arithmetic::dates::days_between;
use crate::record::{Flag, Place};
use crate::report::cow::card::{Card, CardDay};
use crate::report::list::text::heading;
use crate::report::list::trend::mean;
use crate::report::spark;
use crate::report::style;
use crate::report::style::STRONG;
use crate::report::text::wrapped;
use crate::report::words;
use crate::report::words::count;
use jiff::civil::Date;
use shared::plate::{Leg, Pair};
use std::fmt::Write;

/// Widest trend, in marks: our choice, so that the line fits 80 columns.
const MARKS: usize = 42;

/// The card in words.
#[must_use]
pub fn render(card: &Card, from: Date, to: Date, utf8: bool) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{STRONG}Cow {}{STRONG:#}", card.animal_id);
    wrapped(&mut out, "", &about(card));
    wrapped(&mut out, "", &usual(card));
    status(&mut out, card, to);
    if card.days.is_empty() {
        let _ = writeln!(out, "\nNothing between {} and {}.", words::long_day(from), words::long_day(to));
        return out;
    }
    trends(&mut out, card, from, to, utf8);
    table(&mut out, card);
    out
}

fn about(card: &Card) -> String {
    let mut parts = Vec::new();
    parts.extend(card.parity.map(|parity| format!("lactation {parity}")));
    parts.extend(card.days_in_milk.map(|days| format!("{days} days in milk")));
    parts.push(format!(
        "{} since {}, {} of them usable",
        count(card.passages, "passage", "passages"),
        card.first_seen.map_or_else(|| "never".to_owned(), words::long_day),
        words::thousands(card.trusted)
    ));
    if card.passages == 0 {
        parts.pop();
        parts.push("never seen in a lane".to_owned());
    }
    let text = parts.join("; ");
    text[..1].to_uppercase() + &text[1..] + "."
}

fn usual(card: &Card) -> String {
    match card.usual_share_pct {
        Some(usual) => format!(
            "Her usual leg shares, standing, % of body weight: LF {:.1}, RF {:.1}, LR {:.1}, RR {:.1} (median of {}).",
            usual.lf,
            usual.rf,
            usual.lr,
            usual.rr,
            count(card.usual_days, "clear day", "clear days")
        ),
        None => format!(
            "Her usual leg shares are not known yet ({}).",
            count(card.usual_days, "clear day", "clear days")
        ),
    }
}

fn status(out: &mut String, card: &Card, to: Date) {
    let Some(row) = &card.latest else {
        let _ = writeln!(out, "Never judged.");
        return;
    };
    let colour = style::flag(row.flag);
    let _ = write!(
        out,
        "\n{STRONG}{}:{STRONG:#} {colour}{}{colour:#}",
        words::long_day(row.date),
        words::flag(row.flag)
    );
    let mut parts = Vec::new();
    if row.flag >= Flag::Watch {
        let leg = row.place_probability.map(|p| format!(" ({})", words::percent(p))).unwrap_or_default();
        parts.push(format!("{}{leg}", words::place(row.place)));
    }
    parts.extend(row.probability.map(|p| format!("lame: {}", words::percent(p))));
    let _ =
        writeln!(out, "{}", if parts.is_empty() { String::new() } else { format!("  {}", parts.join("; ")) });
    if row.flag >= Flag::Watch {
        wrapped(out, "  ", &format!("{}; confidence {}", words::since(row.since, row.date), row.confidence));
    }
    if row.block_on {
        wrapped(out, "  ", "A block is on: the load it moves is neither recovery nor worsening.");
    } else if let Some(days) = row.days_since_trim {
        wrapped(
            out,
            "  ",
            &format!("Trimmed or treated {} ago: not settled yet.", count(days as usize, "day", "days")),
        );
    }
    row.reasons.iter().for_each(|reason| wrapped(out, "  - ", reason));
    if !row.would_settle.is_empty() {
        wrapped(out, "  ", &format!("What would settle it: {}", row.would_settle));
    }
    let old = days_between(row.date, to);
    if old > 0 {
        wrapped(
            out,
            "  ",
            &format!("No row for the {} up to {}.", count(old as usize, "day", "days"), words::long_day(to)),
        );
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

fn trends(out: &mut String, card: &Card, from: Date, to: Date, utf8: bool) {
    let groups = Groups::new(from, to);
    let each = match groups.size {
        1 => "a mark a day".to_owned(),
        size => format!("a mark for {size} days"),
    };
    let lines = Leg::ALL.map(|leg| groups.values(&card.days, |day| day.share(leg)));
    if lines.iter().flatten().all(Option::is_none) {
        heading(out, "She never stood on all four plates in this time: no leg shares.");
        return;
    }
    heading(out, &format!("Leg share standing, % of body weight, {each}"));
    let range = lines.iter().map(|line| spark::range(line)).fold(spark::SMALLEST_RANGE, f64::max);
    for (leg, line) in Leg::ALL.into_iter().zip(&lines) {
        let last = line.iter().rev().flatten().next().copied();
        let value = last.map_or_else(|| "    -".to_owned(), |value| format!("{value:>5.1}"));
        let saved = match card.place {
            Some(Place::One(one)) => one == leg,
            Some(Place::BothFront) => leg.pair() == Pair::Front,
            Some(Place::BothRear) => leg.pair() == Pair::Rear,
            None => false,
        };
        let usual =
            card.usual_share_pct.map(|usual| format!(" usual {:.1}", usual.of(leg))).unwrap_or_default();
        let note = if saved { " < saved" } else { "" };
        let name = format!("{} {}", leg.name(), words::leg(leg));
        let _ = writeln!(out, "  {name:<14} {} {value}{usual}{note}", spark::line_over(line, range, utf8));
    }
    let kinds: [(&str, char, Has); 4] = [
        ("foot work", 'T', |day| day.marks.iter().any(|mark| mark.starts_with("foot work"))),
        ("block on", 'B', |day| day.block_on),
        ("scored 2 or 3", 'S', |day| day.marks.iter().any(|mark| mark == "scored 2" || mark == "scored 3")),
        ("flagged", '!', |day| day.flag.is_some_and(|flag| flag >= Flag::Check)),
    ];
    for (name, mark, has) in kinds {
        if let Some(line) = groups.marks(&card.days, mark, has) {
            let _ = writeln!(out, "  {name:<14} {line}");
        }
    }
    let width = groups.count();
    let (first, last) = (words::day(from), words::day(to));
    if width > first.len() + last.len() + 1 {
        let _ = writeln!(out, "  {:<14} {first}{last:>1$}", "", width - first.len());
    } else {
        let _ = writeln!(out, "  {:<14} {first} to {last}", "");
    }
}

fn table(out: &mut String, card: &Card) {
    heading(out, "day     flag        lame    leg         used    LF    RF    LR    RR    kg");
    let number = |value: Option<f64>, width: usize, digits: usize| {
        value.map_or_else(|| format!("{:>width$}", "-"), |value| format!("{value:>width$.digits$}"))
    };
    for day in &card.days {
        let flag = day.flag.unwrap_or(Flag::NoData);
        let colour = style::flag(flag);
        let lame = day
            .probability
            .map_or_else(|| "-".to_owned(), |p| format!("{:.0} %", (100.0 * p).clamp(1.0, 99.0)));
        let leg = day.leg.filter(|_| flag >= Flag::Watch).unwrap_or_default();
        let used = format!("{}/{}", day.trusted, day.passages);
        let _ = write!(
            out,
            "{:<7} {colour}{:<11}{colour:#} {lame:<7} {leg:<11} {used:<5}",
            words::day(day.date),
            words::flag(flag)
        );
        for leg in Leg::ALL {
            let _ = write!(out, " {}", number(day.share(leg), 5, 1));
        }
        let _ = writeln!(out, " {}", number(day.body_weight_kg, 5, 0));
        let mut marks = day.marks.clone();
        if day.block_on && !marks.iter().any(|mark| mark.contains("block")) {
            marks.push("block on".to_owned());
        }
        if !marks.is_empty() {
            wrapped(out, "        ", &marks.join("; "));
        }
    }
}
