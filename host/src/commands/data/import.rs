//! Bring in files.

use crate::commands::cli::{Common, Format};
use crate::commands::exit_code::ExitCode;
use crate::import::{Input, Outcome, capture, passages, readings, registers, trims};
use crate::report;
use crate::report::{json, style, text};
use clap::{Args, Subcommand};
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
    /// The herd register: animal_id,parity,calving_date
    Herd(Files),
    /// Mobility scores given by people: date,animal_id,score
    Scores(Files),
    /// The passage table, as exported: animal_id,time and what else is there
    Passages(LaneFiles),
    /// Trims: date,animal_id,leg,claw,lesion,zone,treatment,block_claw,note
    Trims(Files),
}

#[derive(Debug, Args)]
struct Files {
    /// Files; - is standard input
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
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
    let store = crate::commands::open_store(common)?;
    match &args.what {
        What::Readings(lane) => {
            let mut importer = readings::Importer::new(&store, &lane.lane);
            each(&lane.files, common, |input| Ok(importer.file(input)?))
        }
        What::Tags(lane) => {
            each(&lane.files, common, |input| Ok(registers::tags(&store, input, &lane.lane)?))
        }
        What::Passages(lane) => {
            each(&lane.files, common, |input| Ok(passages::passages(&store, input, &lane.lane)?))
        }
        What::Capture(files) => each(files, common, |input| Ok(capture::import(&store, input)?)),
        What::Herd(files) => each(files, common, |input| Ok(registers::herd(&store, input)?)),
        What::Scores(files) => each(files, common, |input| Ok(registers::scores(&store, input)?)),
        What::Trims(files) => each(files, common, |input| Ok(trims::import(&store, input)?)),
    }
}

/// Brings in each file and prints what that did. A file that cannot be opened does not keep back the others.
fn each(
    files: &Files,
    common: &Common,
    mut import: impl FnMut(Input) -> anyhow::Result<Outcome>,
) -> anyhow::Result<ExitCode> {
    let mut outcomes = Vec::new();
    let mut unopened = None;
    for path in &files.files {
        match Input::open(path) {
            Ok(input) => {
                let outcome = import(input).map_err(|error| error.context(path.display().to_string()))?;
                if common.format == Format::Text {
                    print_text(&outcome)?;
                }
                outcomes.push(outcome);
            }
            Err(error) => {
                writeln!(report::notes(), "fourplate: {error:#}")?;
                unopened = Some(ExitCode::BadInput);
            }
        }
    }
    match common.format {
        Format::Text => {}
        Format::Json => json::write(report::out(), &outcomes)?,
        Format::Csv => print_csv(&outcomes)?,
    }
    let bad = outcomes.iter().any(|outcome| outcome.bad > 0);
    Ok(unopened.unwrap_or(if bad { ExitCode::BadInput } else { ExitCode::Done }))
}

fn print_text(outcome: &Outcome) -> anyhow::Result<()> {
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
        writeln!(notes, "  {mark} {problem}")?;
    }
    let more = outcome.bad.saturating_sub(outcome.problems.len() as u64);
    if more > 0 {
        writeln!(notes, "  and {more} more problems")?;
    }
    for note in &outcome.notes {
        writeln!(notes, "  {} {}: {note}", style::paint(style::CAUTION, "note:"), outcome.file)?;
    }
    if outcome.bad > 0 {
        writeln!(notes, "  Everything else is kept. Put the rows right and import the file again.")?;
    }
    Ok(())
}

fn print_csv(outcomes: &[Outcome]) -> anyhow::Result<()> {
    let mut out = report::csv::writer(report::out());
    out.write_record(["file", "kind", "rows", "added", "already", "bad"])?;
    for one in outcomes {
        let counts = [one.rows, one.added, one.already, one.bad].map(|count| count.to_string());
        out.write_record([&[one.file.clone(), one.kind.to_owned()][..], &counts].concat())?;
    }
    out.flush()?;
    Ok(())
}
