//! Cases as printed.

use crate::commands::animal::the_one;
use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::record::case::block;
use crate::record::case::field::NAMES;
use crate::record::case::{BlockSeen, Course, KeptCase};
use crate::report;
use crate::report::text;
use crate::report::trim::case_line::{done, seen, summary};
use crate::store::Store;
use clap::Args;
use serde_json::{Map, Value, json};
use std::io::Write;

/// What the case in one line tells already.
const SUMMARIZED: [&str; 10] =
    ["date", "animal_id", "leg", "claw", "lesion", "zone", "treatment", "block_claw", "dd_stage", "other"];

/// Which cases.
#[derive(Debug, Args)]
pub struct List {
    /// Of this cow only
    #[arg(long)]
    animal: Option<String>,
    /// From this day on
    #[arg(long)]
    from: Option<Day>,
    /// Up to and with this day
    #[arg(long)]
    to: Option<Day>,
}

/// The fields of a case for programs.
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
        .map(|f| {
            json!({
                "date": f.date.to_string(), "block": f.block.map(BlockSeen::name), "block_height_mm": f.height_mm,
                "course": f.course.map(Course::name), "note": f.note, "who": f.who,
            })
        })
        .collect();
    map.insert("follow_ups".into(), Value::Array(looks));
    Value::Object(map)
}

/// Shows one case.
pub fn one(id: i64, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let Some(kept) = store.case(id)? else {
        writeln!(report::notes(), "There is no case {id}; `fourplate case list` shows them.")?;
        return Ok(ExitCode::NotFound);
    };
    let corrections = store.corrections(id)?;
    if common.format == Format::Json {
        let mut value = fields(&kept);
        value["corrections"] = corrections
            .iter()
            .map(|c| json!({"at": c.at.to_string(), "who": c.who, "field": c.change.field, "was": c.change.was, "is": c.change.is}))
            .collect();
        report::json::write(std::io::stdout(), &value)?;
        return Ok(ExitCode::Done);
    }
    if common.format == Format::Csv {
        return case_table(std::io::stdout(), &[kept]);
    }
    let (mut out, words) = (report::out(), common.words(store)?);
    writeln!(out, "{}", text::wrap(&format!("Case {id}: {}", summary(&kept, &store.names()?, &words)), 2))?;
    if let Some(why) = &kept.withdrawn {
        writeln!(out, "Withdrawn: {why}")?;
    }
    for name in NAMES.into_iter().filter(|name| !SUMMARIZED.contains(name)) {
        let value = kept.case.field(name);
        if !value.is_empty() {
            let ours = if name == "severity" { " of 3 (fourplate's own scale)" } else { "" };
            writeln!(out, "  {:<20} {value}{ours}", name.replace('_', " "))?;
        }
    }
    if let Some(worn) =
        crate::case::rechecks::wear::forecast(&kept).filter(|_| block::known_off(&kept).is_none())
    {
        writeln!(out, "  {:<20} {} ({} to {})", "block worn through", worn.day, worn.earliest, worn.latest)?;
    }
    for look in &kept.follow_ups {
        writeln!(out, "{} looked at: {}", look.date, seen(look, &words))?;
    }
    for c in &corrections {
        let time = c.at.strftime("%Y-%m-%d %H:%M UTC");
        writeln!(out, "{time} {}: {} was {:?}, now {:?}", c.who, c.change.field, c.change.was, c.change.is)?;
    }
    Ok(ExitCode::Done)
}

/// Lists cases.
pub fn list(arguments: &List, store: &Store, common: &Common) -> anyhow::Result<ExitCode> {
    let animal = match arguments.animal.as_deref().map(|text| the_one(store, text)).transpose()? {
        Some(None) => return Ok(ExitCode::BadInput),
        Some(animal) => animal,
        None => None,
    };
    let (names, words) = (store.names()?, common.words(store)?);
    let mut cases = store.cases(animal.as_ref())?;
    let (from, to) = (Day::maybe(arguments.from.as_ref(), store)?, Day::maybe(arguments.to.as_ref(), store)?);
    cases.retain(|c| from.is_none_or(|from| c.case.date >= from) && to.is_none_or(|to| c.case.date <= to));
    cases.reverse();
    match common.format {
        Format::Json => report::json::write_rows(std::io::stdout(), cases.iter().map(fields))?,
        Format::Csv => return case_table(std::io::stdout(), &cases),
        Format::Text => {
            let mut table = text::table(&["Case", "Date", "Cow", "Foot", "Lesion", "Done", "Block"]);
            for kept in &cases {
                let case = &kept.case;
                let foot = [case.field("leg"), case.field("claw")].join(" ");
                let block = match (block::known_off(kept), block::due(kept)) {
                    (Some(off), _) => format!("off {off}"),
                    (None, Some(due)) => format!("due off {due}"),
                    (None, None) => String::new(),
                };
                let done_words =
                    if kept.withdrawn.is_some() { "withdrawn".to_owned() } else { done(case, &words) };
                table.add_row([
                    kept.id.to_string(),
                    case.date.to_string(),
                    names.short(&case.animal),
                    foot,
                    [case.field("lesion"), case.field("zone")].join(" "),
                    done_words,
                    block,
                ]);
            }
            write!(report::out(), "{}", text::render(&table))?;
        }
    }
    Ok(ExitCode::Done)
}

/// Writes cases as a table that `import trims` reads.
pub fn case_table(out: impl Write, cases: &[KeptCase]) -> anyhow::Result<ExitCode> {
    let mut writer = report::csv::writer(out);
    writer.write_record(["case"].into_iter().chain(NAMES).chain(["withdrawn"]))?;
    for kept in cases {
        let fields = NAMES.map(|name| kept.case.field(name));
        let withdrawn = kept.withdrawn.clone().unwrap_or_default();
        writer.write_record([kept.id.to_string()].into_iter().chain(fields).chain([withdrawn]))?;
    }
    writer.flush()?;
    Ok(ExitCode::Done)
}
