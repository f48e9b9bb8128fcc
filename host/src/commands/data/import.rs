//! Bring in files.

use crate::commands::cli::{Common, Format};
use crate::commands::data::form::Form;
use crate::commands::exit_code::ExitCode;
use crate::import::records::{ade, follow_ups, herd, registers, trims};
use crate::import::{Input, Outcome, capture, passages, readings, undo};
use crate::report;
use crate::report::output::Columns;
use crate::report::words::Words;
use crate::report::{style, text};
use crate::store::{Source, SourceCounts, Store};
use clap::{Args, Subcommand};
use jiff::{Timestamp, tz::TimeZone};
use serde::Serialize;
use serde_json::json;
use std::{io::Write, path::PathBuf};

/// Files to bring in; what is there already is not added again.
#[derive(Debug, Args)]
pub struct ImportArgs {
    #[command(subcommand)]
    what: What,
}

/// What the files hold.
#[derive(Debug, Subcommand)]
enum What {
    /// Plate readings of a lane: time,lf,rf,lr,rr (kg)
    Readings(LaneFiles),
    /// Ear tag reads of a lane: time,animal_id
    Tags(LaneFiles),
    /// Captures of lane devices: what came over their link, byte for byte
    Capture(Files),
    /// The herd register: animal_id,number,name,tag,tag_from,state,state_date,parity,calving_date, or some of them
    Herd(Files),
    /// ICAR ADE JSON: animals with numbers, names and states; diagnoses and treatments of feet; weights; attention to
    /// lameness; devices
    Ade(Files),
    /// Mobility scores given by people: date,animal_id,score
    Scores(Files),
    /// Marks: date,animal_id,mark,who
    Marks(Files),
    /// The passage table, as exported: animal_id,time and what else is there
    Passages(LaneFiles),
    /// Trims: date,animal_id,leg,claw,lesion,zone,treatment,block_claw,note
    Trims(Files),
    /// Later looks at treated feet: case_date,animal_id,leg,claw,lesion,date,block,block_height_mm,course,note,who
    FollowUps(Files),
    /// Show what came in when, from which file
    List,
    /// Take back what one import alone brought, by its number in `import list`
    Undo {
        /// The import
        #[arg(value_name = "N")]
        number: i64,
    },
}

#[derive(Debug, Args)]
struct Files {
    /// Files; - is standard input
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    #[command(flatten)]
    form: Form,
}

#[derive(Debug, Args)]
struct LaneFiles {
    #[command(flatten)]
    files: Files,
    /// The lane they come from
    #[arg(long, value_name = "NAME", default_value = "lane")]
    lane: String,
}

/// Brings in the files, one after another.
///
/// # Errors
/// When a file cannot be opened or read, or the store cannot be written.
pub fn run(args: &ImportArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = match &args.what {
        What::List | What::Undo { .. } => crate::commands::open::existing(common)?,
        _ => crate::commands::open_store(common)?,
    };
    match &args.what {
        What::Readings(lane) => {
            let mut importer = readings::Importer::new(&store, &lane.lane);
            each(&store, &lane.files, common, |input| Ok(importer.file(input)?))
        }
        What::Tags(lane) => {
            each(&store, &lane.files, common, |input| Ok(registers::tags(&store, input, &lane.lane)?))
        }
        What::Passages(lane) => {
            each(&store, &lane.files, common, |input| Ok(passages::passages(&store, input, &lane.lane)?))
        }
        What::Capture(files) => each(&store, files, common, |input| Ok(capture::import(&store, input)?)),
        What::Herd(files) => each(&store, files, common, |input| Ok(herd::herd(&store, input)?)),
        What::Ade(files) => each(&store, files, common, |input| Ok(ade::import(&store, input)?)),
        What::Marks(files) => each(&store, files, common, |input| Ok(registers::marks(&store, input)?)),
        What::Scores(files) => each(&store, files, common, |input| Ok(registers::scores(&store, input)?)),
        What::Trims(files) => each(&store, files, common, |input| Ok(trims::import(&store, input)?)),
        What::FollowUps(files) => each(&store, files, common, |input| Ok(follow_ups::import(&store, input)?)),
        What::List => list(&store, common.format),
        What::Undo { number } => take_back(&store, *number, common.format),
    }
}

/// What was taken back.
#[derive(Serialize)]
struct TakenBack {
    number: i64,
    removed: u64,
    withdrawn: u64,
}

/// One import as printed.
#[derive(Serialize)]
struct OutcomeLine {
    number: i64,
    begun: String,
    kind: String,
    file: String,
    rows: u64,
    added: u64,
    already: u64,
    bad: u64,
    /// `done`, `cut off` or `taken back`.
    state: &'static str,
}

impl OutcomeLine {
    fn of(source: Source, zone: &TimeZone) -> Self {
        let begun = zone.to_datetime(source.begun).strftime("%Y-%m-%d %H:%M").to_string();
        let state = match (source.undone, source.finished) {
            (Some(_), _) => "taken back",
            (None, None) => "cut off",
            (None, Some(_)) => "done",
        };
        let SourceCounts { rows, added, already, bad, .. } = source.counts;
        let (number, kind, file) = (source.id.0, source.kind, source.name);
        Self { number, begun, kind, file, rows, added, already, bad, state }
    }
}

fn list(store: &Store, format: Format) -> anyhow::Result<ExitCode> {
    let zone = store.time_zone()?;
    let lines: Vec<OutcomeLine> =
        store.sources()?.into_iter().map(|source| OutcomeLine::of(source, &zone)).collect();
    format.print(&lines, |table| table.rows(&lines), || Ok(listed(&lines)))?;
    Ok(ExitCode::Done)
}

fn listed(lines: &[OutcomeLine]) -> String {
    if lines.is_empty() {
        return "Nothing has come in yet.\n".to_owned();
    }
    let mut table = text::table(&["No", "When", "What", "File", "Added", "There", "Bad", ""]);
    text::align_right(&mut table, &[0, 4, 5, 6]);
    for line in lines {
        let [added, already, bad] = [line.added, line.already, line.bad].map(|count| count.to_string());
        let state = if line.state == "done" { "" } else { line.state };
        let number = line.number.to_string();
        table.add_row([&number, &line.begun, &line.kind, &line.file, &added, &already, &bad, state]);
    }
    text::render(&table)
}

fn take_back(store: &Store, number: i64, format: Format) -> anyhow::Result<ExitCode> {
    let source = store.sources()?.into_iter().find(|source| source.id.0 == number);
    let why = match &source {
        None => Some("there is no such import"),
        Some(source) if source.undone.is_some() => Some("it is taken back already"),
        Some(source) if source.kind == "link" => {
            Some("what came over a link is kept: the device gives it once")
        }
        Some(source) if !source.noted => Some("it came in before it was noted what each import brings"),
        Some(_) => None,
    };
    let (Some(source), None) = (source, why) else {
        let why = why.unwrap_or_default();
        writeln!(report::notes(), "fourplate: {number}: {why}; `fourplate import list` shows the imports")?;
        return Ok(ExitCode::NotFound);
    };
    let done = undo::undo(store, source.id, Timestamp::now())?.unwrap_or_default();
    let fields = TakenBack { number, removed: done.rows, withdrawn: done.withdrawn };
    let words = || {
        let mut line =
            format!("{}: {} taken back", source.name, text::count(done.rows as usize, "row", "rows"));
        if done.withdrawn > 0 {
            let cases = text::count(done.withdrawn as usize, "case", "cases");
            line += &format!("; {cases} withdrawn and kept, since somebody has worked on them");
        }
        Ok(line + ".\n")
    };
    format.print(&fields, |table| table.rows([&fields]), words)?;
    Ok(ExitCode::Done)
}

/// Brings in each file and prints what that did. A file that cannot be opened does not keep back the others.
fn each(
    store: &Store,
    files: &Files,
    common: &Common,
    mut import: impl FnMut(Input) -> anyhow::Result<Outcome>,
) -> anyhow::Result<ExitCode> {
    let (layout, words) = (files.form.layout(store)?, common.words(store)?);
    let mut outcomes = Vec::new();
    let mut unopened = None;
    for path in &files.files {
        match Input::open(path) {
            Ok(mut input) => {
                input.layout = layout.clone();
                let outcome = import(input).map_err(|error| error.context(path.display().to_string()))?;
                if common.format.for_people() {
                    print_text(&outcome, &words)?;
                }
                outcomes.push(outcome);
            }
            Err(error) => {
                writeln!(report::notes(), "fourplate: {error:#}")?;
                unopened = Some(ExitCode::BadInput);
            }
        }
    }
    // For people each file was told of as it came in.
    common.format.print(&outcomes, |table| table.columns(COLUMNS, &outcomes), || Ok(String::new()))?;
    let bad = outcomes.iter().any(|outcome| outcome.bad > 0);
    Ok(unopened.unwrap_or(if bad { ExitCode::BadInput } else { ExitCode::Done }))
}

fn print_text(outcome: &Outcome, words: &Words) -> anyhow::Result<()> {
    let unit = match outcome.kind {
        "readings" | "passages" => "passages",
        "tags" => "tag reads",
        "capture" => "device messages",
        "herd" => "cows",
        "trims" => "cases",
        other => other,
    };
    let line = format!(
        "{}: {} rows; {} {unit} added, {} already there, {} problems",
        outcome.file, outcome.rows, outcome.added, outcome.already, outcome.bad
    );
    writeln!(report::out(), "{}", text::wrap(&line, 2))?;
    let mut notes = report::notes();
    for problem in &outcome.problems {
        let mark = style::paint(style::BAD, "problem:");
        match &problem.objection {
            Some(objection) => {
                writeln!(notes, "  {mark} {}: {}", problem.place(), words.finding(objection))?;
            }
            None => writeln!(notes, "  {mark} {problem}")?,
        }
    }
    let more = outcome.bad.saturating_sub(outcome.problems.len() as u64);
    if more > 0 {
        writeln!(notes, "  and {more} more problems")?;
    }
    for note in &outcome.notes {
        writeln!(notes, "  {} {}: {note}", style::paint(style::CAUTION, "note:"), outcome.file)?;
    }
    for odd in &outcome.odd {
        let line = json!({ "line": odd.line.to_string(), "what": words.finding(&odd.objection) });
        writeln!(
            notes,
            "  {} {}: {}",
            style::paint(style::CAUTION, "note:"),
            outcome.file,
            words.say("entry-taken-in", line)
        )?;
    }
    if outcome.problems.iter().any(|problem| problem.line > 1) {
        writeln!(notes, "  Everything else is kept. Put the rows right and import the file again.")?;
    }
    Ok(())
}

const COLUMNS: &Columns<Outcome> = &[
    ("file", |one| one.file.clone()),
    ("kind", |one| one.kind.to_owned()),
    ("rows", |one| one.rows.to_string()),
    ("added", |one| one.added.to_string()),
    ("already", |one| one.already.to_string()),
    ("bad", |one| one.bad.to_string()),
];
