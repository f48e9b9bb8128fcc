//! One cow before and after a day, or all cases of the farm.

use crate::arithmetic::statistics::Estimated;
use crate::case::before_after::compare::{BlockState, Comparison, compare};
use crate::case::before_after::follow;
use crate::case::before_after::verdict::Verdict;
use crate::case::book::WINDOW_DAYS;
use crate::case::outcomes::group;
use crate::commands::cli::{Common, Format};
use crate::commands::exit_code::ExitCode;
use crate::commands::open_store;
use crate::commands::trim::case::today;
use crate::record::case::KeptCase;
use crate::record::{AnimalId, CowDay};
use crate::report;
use crate::report::words;
use crate::report::{csv, style, text};
use crate::store::{PassageFilter, Store};
use clap::Args;
use jiff::{ToSpan, civil::Date};
use std::collections::BTreeMap;
use std::io::Write;

/// What to compare.
#[derive(Debug, Args)]
pub struct Compare {
    /// The cow
    #[arg(required_unless_present = "all", conflicts_with = "all")]
    animal: Option<String>,
    /// Day of the trim or treatment (default: her latest case)
    #[arg(long, value_name = "DATE")]
    at: Option<Date>,
    /// Use nothing after this day (default: her last passage)
    #[arg(long, value_name = "DATE")]
    until: Option<Date>,
    /// Days of the window before
    #[arg(long, value_name = "DAYS", default_value_t = WINDOW_DAYS.0, value_parser = clap::value_parser!(i32).range(1..=365))]
    before: i32,
    /// Days of the window after
    #[arg(long, value_name = "DAYS", default_value_t = WINDOW_DAYS.1, value_parser = clap::value_parser!(i32).range(1..=365))]
    after: i32,
    /// All cases of the farm, grouped
    #[arg(long)]
    all: bool,
    /// What to group by
    #[arg(long, default_value = "treatment", requires = "all",
        value_parser = clap::builder::PossibleValuesParser::new(["lesion", "leg", "claw", "treatment", "trimmer", "season"]))]
    by: String,
}

/// Prints the comparison.
///
/// # Errors
/// When the store cannot be used or the output cannot be written.
pub fn run(arguments: &Compare, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open_store(common)?;
    let Some(animal) = &arguments.animal else { return all(arguments, &store, common) };
    let animal = crate::commands::animal::or_as_given(&store, animal)?;
    let mut notes = report::notes();
    let cases = store.cases(Some(&animal))?;
    let latest = cases.iter().filter(|c| c.withdrawn.is_none()).map(|c| c.case.date).max();
    let Some(at) = arguments.at.or(latest) else {
        writeln!(notes, "Cow {animal} has no case; say which day with --at DATE.")?;
        return Ok(ExitCode::NotFound);
    };
    let read = crate::case::rechecks::due::READ_DAYS.max(arguments.before + 180);
    let passages = store.passages(&PassageFilter {
        animal: Some(animal.clone()),
        from: Some(at.saturating_sub(read.days())),
        to: Some(arguments.until.unwrap_or_else(|| at.saturating_add(arguments.after.days()))),
    })?;
    let Some(last) = passages.last().map(|p| p.date) else {
        writeln!(notes, "Cow {animal} has no passages around {at}: nothing can be said of her.")?;
        return Ok(ExitCode::NotFound);
    };
    let until = arguments.until.unwrap_or_else(|| last.max(at));
    let cow = store.cow(&animal, passages)?;
    let question = cow.question(at, until, (arguments.before, arguments.after), &store.learned()?);
    let comparison = compare(&animal.0, &question);
    match common.format {
        Format::Json => report::json::write(std::io::stdout(), &comparison)?,
        Format::Csv => measures_csv(&comparison)?,
        Format::Text => print(&comparison, &cow.cases)?,
    }
    let later = PassageFilter { animal: Some(animal), from: Some(until.saturating_add(1.day())), to: None };
    if arguments.until.is_none() && common.format == Format::Text && !store.passages(&later)?.is_empty() {
        writeln!(notes, "Passages after {until} are not in this window; --after DAYS makes it longer.")?;
    }
    Ok(ExitCode::Done)
}

fn measures_csv(comparison: &Comparison) -> anyhow::Result<()> {
    let mut writer = csv::writer(std::io::stdout());
    for measure in &comparison.measures {
        writer.serialize(measure)?;
    }
    writer.flush()?;
    Ok(())
}

/// The first line: block on or off, and days since the trim.
fn first_line(c: &Comparison) -> String {
    let block = match &c.block {
        Some(BlockState { leg, on: true, off: Some(off), .. }) => {
            format!("block ON at {leg}, due off {off}")
        }
        Some(BlockState { leg, on: true, off: None, .. }) => format!("block ON at {leg}"),
        Some(BlockState { leg, off: Some(off), .. }) => format!("block OFF ({leg}, since {off})"),
        _ => "no block".to_owned(),
    };
    let days = c.days_since_trim;
    format!("Cow {}: {block}; day {days} after {}", c.animal_id, c.at)
}

/// Whose course the usual one is.
fn whose_usual(c: &Comparison) -> String {
    match (c.usual_of_own_cases, c.usual_of_same_lesion) {
        (0, _) => "(a first guess; `fourplate outcomes` learns the farm's own)".to_owned(),
        (n, true) => format!("(from {n} cases here with the same lesion)"),
        (n, false) => format!("(from {n} cases here)"),
    }
}

fn span(i: &Estimated, decimals: usize) -> String {
    format!("{:+.decimals$} ({:+.decimals$} to {:+.decimals$})", i.value, i.low, i.high)
}

fn print(c: &Comparison, cases: &[KeptCase]) -> anyhow::Result<()> {
    let mut out = report::out();
    writeln!(out, "{}", style::paint(style::STRONG, text::wrap(&first_line(c), 2)))?;
    for kept in cases.iter().filter(|k| k.case.date == c.at && k.withdrawn.is_none()) {
        writeln!(
            out,
            "{}",
            text::wrap(&format!("Case {}: {}", kept.id, crate::commands::trim::case::summary(kept)), 2)
        )?;
    }
    let look = match c.verdict.verdict {
        Verdict::AsExpected => style::GOOD,
        Verdict::CannotTellYet => style::FAINT,
        Verdict::SlowerThanExpected => style::CAUTION,
        _ => style::BAD,
    };
    let again = c.verdict.ask_again.map_or(String::new(), |day| format!(" Ask again on {day}."));
    let words = text::wrap(&format!("{}: {}.{again}", c.verdict.verdict.words(), c.verdict.reason), 2);
    writeln!(out, "{}", style::paint(look, words))?;
    if c.unsettled_passages > 0 {
        let days = crate::case::before_after::series::UNSETTLED_DAYS;
        writeln!(
            out,
            "The day itself and {days} days after are not judged ({} passages).",
            c.unsettled_passages
        )?;
    }
    if let Some(first) = &c.first_after {
        let shares = first.share_pct.map_or("walked through".to_owned(), |s| {
            format!("LF {:.1}  RF {:.1}  LR {:.1}  RR {:.1} % of body weight", s[0], s[1], s[2], s[3])
        });
        writeln!(out, "First after, {}: {shares}", first.date)?;
    }
    if !c.legs.is_empty() {
        writeln!(out)?;
        writeln!(out, "Load of each leg, % above or below her own usual, the block's effect taken out")?;
        let mut table = text::table(&["Leg", "Before", "Now", "Normal", "Back", "Half-time, days"]);
        for leg in &c.legs {
            let half = leg.half_time_days.map_or(String::new(), |h| {
                let day = |d: f64| if d.is_finite() { format!("{d:.0}") } else { "never".to_owned() };
                format!("{} ({} to {})", day(h.value), day(h.low), day(h.high))
            });
            table.add_row([
                if Some(leg.leg) == c.leg { format!("{}*", leg.leg) } else { leg.leg.to_owned() },
                span(&leg.before_pct, 0),
                span(&leg.now_pct, 0),
                format!("within {:.0}", leg.normal_range_pct),
                format!("{:.0} %", 100.0 * leg.back_probability),
                half,
            ]);
        }
        write!(out, "{}", text::render(&table))?;
        if let Some(treated) = c.legs.iter().find(|l| Some(l.leg) == c.leg) {
            if let Some(block) = &treated.block_effect_pct {
                writeln!(out, "The block itself: {} % on {}.", span(block, 0), treated.leg)?;
            }
            let (low, high) = (100.0 * c.usual_left.0, 100.0 * c.usual_left.1);
            let before = treated.before_pct.value;
            if before < -treated.normal_range_pct {
                // Adding 0 makes -0 plain.
                let left = (100.0 * treated.now_pct.value / before).round() + 0.0;
                let line = format!(
                    "Left of what was missing: {left:.0} %; usual by now: {low:.0} to {high:.0} % {}.",
                    whose_usual(c)
                );
                writeln!(out, "{}", text::wrap(&line, 2))?;
            }
        }
    }
    if c.measures.is_empty() {
        writeln!(out, "\nToo few passages in one of the windows to compare measures.")?;
    } else {
        writeln!(out, "\nAs measured, whatever was on the foot (95 %; MDC = least telling change)")?;
        let mut table = text::table(&["Measure", "Before", "After", "Change", "MDC", "Passages"]);
        text::align_right(&mut table, &[1, 2, 4]);
        for m in &c.measures {
            let d = m.decimals;
            let change = Estimated { value: m.change, low: m.change_low, high: m.change_high };
            table.add_row([
                m.measure.to_owned(),
                format!("{:.d$}", m.before),
                format!("{:.d$}", m.after),
                span(&change, d),
                format!("{:.d$}", m.least_telling_change),
                format!("{}, {}", m.passages_before, m.passages_after),
            ]);
        }
        write!(out, "{}", text::render(&table))?;
    }
    Ok(())
}

/// Follows every case of the farm; the rows of the day table tell whether the lane was first.
///
/// # Errors
/// When the store cannot be read.
pub fn follow_all(store: &Store, days: Vec<CowDay>) -> anyhow::Result<Vec<(String, follow::Followed)>> {
    let until = today(store)?;
    let mut by_cow: BTreeMap<AnimalId, Vec<KeptCase>> = BTreeMap::new();
    for kept in store.cases(None)? {
        by_cow.entry(kept.case.animal.clone()).or_default().push(kept);
    }
    let bar = report::progress::steps("cases", by_cow.len() as u64);
    let mut followed = Vec::new();
    let mut rows: BTreeMap<AnimalId, Vec<CowDay>> = BTreeMap::new();
    for row in days.into_iter().filter(|row| by_cow.contains_key(&row.animal)) {
        rows.entry(row.animal.clone()).or_default().push(row);
    }
    for animal in by_cow.keys() {
        let rows = rows.get(animal).map_or(&[][..], Vec::as_slice);
        let filter = PassageFilter { animal: Some(animal.clone()), from: None, to: Some(until) };
        let cow = store.cow(animal, store.passages(&filter)?)?;
        let last = cow.passages.last().map_or(until, |p| p.date);
        for kept in &cow.cases {
            followed.extend(follow::follow(&cow, kept, rows, last).map(|f| (animal.0.clone(), f)));
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    Ok(followed)
}

fn all(arguments: &Compare, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let groups = group::groups(&follow::changes(&follow_all(store, Vec::new())?, &arguments.by));
    match common.format {
        Format::Json => report::json::write(std::io::stdout(), &groups)?,
        Format::Csv => {
            let mut writer = csv::writer(std::io::stdout());
            groups.iter().try_for_each(|g| writer.serialize(g))?;
            writer.flush()?;
        }
        Format::Text => {
            let mut out = report::out();
            writeln!(out, "Load of the treated leg, % of her usual, after less before, by {}", arguments.by)?;
            writeln!(out, "(the block's effect taken out; cows with several cases count once)\n")?;
            for g in &groups {
                writeln!(
                    out,
                    "{}: {} of {}",
                    style::paint(style::STRONG, &g.group),
                    words::count(g.cases, "case", "cases"),
                    words::count(g.cows, "cow", "cows")
                )?;
                if g.low.is_finite() {
                    writeln!(
                        out,
                        "  {:+.1} ({:+.1} to {:+.1}); one cow's change tells from {:.0} on",
                        g.change_pct, g.low, g.high, g.detectable_pct
                    )?;
                }
                writeln!(out, "  {}.", text::wrap(&g.sentence, 2))?;
            }
            if groups.is_empty() {
                writeln!(out, "No case has passages after it yet.")?;
            }
        }
    }
    Ok(ExitCode::Done)
}
