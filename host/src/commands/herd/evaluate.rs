//! How good the tool is here.

use crate::commands::cli::Common;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::evaluate;
use crate::evaluate::figures::Figure;
use crate::evaluate::plain::{self, PlainPoint};
use crate::evaluate::{Evaluation, Options, figures, pair, pairing};
use crate::report;
use crate::report::evaluation::{plot, text};
use crate::report::farm::{Farm, Part};
use crate::report::output::Columns;
use crate::report::output::csv::number;
use crate::store::PassageFilter;
use anyhow::Context;
use std::fs::{self, File};
use std::io::Write;
use std::path::PathBuf;

/// What in the store is the truth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Against {
    /// Mobility scores of trained observers.
    Scores,
    /// Feet lifted: a lesion found or not. Lifted cows are chosen cows.
    Lesions,
}

/// Against what, and how.
#[derive(Debug, clap::Args)]
pub struct EvaluateArgs {
    /// An outside truth: CSV with `animal_id,date,true_score,true_leg`
    #[arg(long, value_name = "FILE")]
    truth: Option<PathBuf>,
    /// What in the store is the truth, without --truth
    #[arg(long, value_enum, default_value_t = Against::Scores)]
    against: Against,
    /// Call a cow flagged from this probability up (default: by the flags check and urgent)
    #[arg(long, value_name = "P", value_parser = share)]
    limit: Option<f64>,
    /// The herd's prevalence, 0 to 1, for the predictive values (default: that of the truth)
    #[arg(long, value_name = "P", value_parser = share)]
    prevalence: Option<f64>,
    /// Draws of cows for the intervals
    #[arg(long, value_name = "N", default_value_t = figures::DRAWS)]
    draws: usize,
    /// Seed of the draws
    #[arg(long, value_name = "N", default_value_t = figures::SEED)]
    seed: u64,
    /// Write the curves as a picture
    #[arg(long, value_name = "FILE.svg")]
    plot: Option<PathBuf>,
}

fn share(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.0..=1.0).contains(&value) => Ok(value),
        _ => Err(format!("`{text}` is not between 0 and 1")),
    }
}

/// Evaluates and prints.
///
/// # Errors
/// When the truth cannot be read, nothing can be compared, or the output cannot be written.
pub fn run(args: &EvaluateArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let Some(farm) = Farm::load_part(&store, None, Part::Days)? else {
        writeln!(report::notes(), "fourplate: the store has no passage; nothing can be evaluated")?;
        return Ok(ExitCode::NotFound);
    };
    let feet = "lesions found (of chosen cows)";
    let (truths, against) = match (&args.truth, args.against) {
        (Some(path), _) => {
            let file = File::open(path).with_context(|| format!("cannot open {}", path.display()))?;
            let truths = evaluate::read_truth(file).with_context(|| path.display().to_string())?;
            (truths, "the truth file")
        }
        (None, Against::Scores) => (pairing::from_scores(&farm.scores), "mobility scores"),
        (None, Against::Lesions) => (pairing::from_lesions(&farm.work), feet),
    };
    let options =
        Options { limit: args.limit, prevalence: args.prevalence, draws: args.draws, seed: args.seed };
    let lifted = (against != feet)
        .then(|| evaluate::evaluate(&pair(&pairing::from_lesions(&farm.work), &farm.days), &options).ok())
        .flatten();
    let pairs = pair(&truths, &farm.days);
    let evaluation = evaluate::evaluate(&pairs, &options).map_err(|error| match lifted {
        Some(_) => error.context("the feet that were lifted can be compared: --against lesions"),
        None => error,
    })?;
    let plain = plain::at_the_same_price(&pairs, &store.passages(&PassageFilter::default())?);
    if let Some(path) = &args.plot {
        fs::write(path, plot::svg(&evaluation)?)
            .with_context(|| format!("cannot write {}", path.display()))?;
    }
    common.format.print(
        &Output { evaluation: &evaluation, plain_rules: &plain, lifted_feet: lifted.as_ref() },
        |table| table.columns(COLUMNS, &evaluation.figures),
        || {
            let beside = lifted.as_ref().map(|lifted| text::beside(lifted, feet));
            Ok(text::render(&evaluation, &plain, against) + &beside.unwrap_or_default())
        },
    )?;
    Ok(ExitCode::Done)
}

/// The JSON output: the fields of the evaluation, and beside them that of the feet that were lifted, where there are any.
#[derive(serde::Serialize)]
struct Output<'a> {
    #[serde(flatten)]
    evaluation: &'a Evaluation,
    plain_rules: &'a [PlainPoint],
    lifted_feet: Option<&'a Evaluation>,
}

const COLUMNS: &Columns<(&str, Figure)> = &[
    ("figure", |(name, _)| (*name).to_owned()),
    ("value", |(_, figure)| number(figure.value, 6)),
    ("by_cow_lower", |(_, figure)| number(figure.by_cow.map(|interval| interval.lower), 6)),
    ("by_cow_upper", |(_, figure)| number(figure.by_cow.map(|interval| interval.upper), 6)),
    ("by_row_lower", |(_, figure)| number(figure.by_row.map(|interval| interval.lower), 6)),
    ("by_row_upper", |(_, figure)| number(figure.by_row.map(|interval| interval.upper), 6)),
];
