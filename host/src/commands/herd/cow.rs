//! One cow's history.

use crate::commands::cli::{Common, Format};
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::record::Flag;
use crate::record::finding::cell;
use crate::report;
use crate::report::cow::{Card, card_text};
use crate::report::farm::{Farm, Part};
use crate::report::spark;
use std::io::Write;

/// Which cow, and when.
#[derive(Debug, clap::Args)]
pub struct CowArgs {
    /// Her number, or its last digits
    #[arg(value_name = "ID")]
    animal: String,
    /// First day shown (default: four weeks before the last)
    #[arg(long, value_name = "DATE")]
    from: Option<Day>,
    /// Last day shown, and the last that is used (default: the last day with a passage)
    #[arg(long, value_name = "DATE")]
    to: Option<Day>,
}

/// Prints the history.
///
/// # Errors
/// When the days are the wrong way round, the store cannot be read or the output cannot be written.
pub fn run(args: &CowArgs, common: &Common) -> anyhow::Result<ExitCode> {
    let store = open::existing(common)?;
    let (from, to) = (Day::maybe(args.from.as_ref(), &store)?, Day::maybe(args.to.as_ref(), &store)?);
    if let (Some(from), Some(to)) = (from, to) {
        anyhow::ensure!(from <= to, "--from {from} is after --to {to}");
    }
    let Some(animal) = crate::commands::animal::the_one(&store, &args.animal)? else {
        return Ok(ExitCode::BadInput);
    };
    let farm = Farm::load_part(&store, to, Part::Cow(&animal))?;
    let Some((farm, card)) = farm.and_then(|farm| farm.card(&animal, from).map(|card| (farm, card))) else {
        writeln!(report::notes(), "fourplate: nothing is known of an animal {animal}")?;
        return Ok(ExitCode::NotFound);
    };
    let mut out = report::out();
    match common.format {
        Format::Text => {
            let utf8 = spark::locale_is_utf8(|name| std::env::var(name).ok());
            let text =
                card_text::render(&card, farm.card_from(from), farm.date, &common.words(&store)?, utf8);
            out.write_all(text.as_bytes())?;
        }
        Format::Json => report::json::write(&mut out, &card)?,
        Format::Csv => csv(&mut out, &card)?,
    }
    Ok(ExitCode::Done)
}

fn csv(out: impl Write, card: &Card) -> anyhow::Result<()> {
    let mut writer = report::csv::writer(out);
    writer.write_record([
        "animal_id",
        "date",
        "flag",
        "probability",
        "leg",
        "passages",
        "trusted",
        "lf_share_pct",
        "rf_share_pct",
        "lr_share_pct",
        "rr_share_pct",
        "body_weight_kg",
        "block_on",
        "days_since_trim",
        "events",
    ])?;
    for day in &card.days {
        writer.write_record([
            card.animal_id.to_string(),
            day.date.to_string(),
            day.flag.map(Flag::name).unwrap_or_default().to_owned(),
            report::csv::number(day.probability, 4),
            day.leg.unwrap_or_default().to_owned(),
            day.passages.to_string(),
            day.trusted.to_string(),
            report::csv::number(day.lf_share_pct, 2),
            report::csv::number(day.rf_share_pct, 2),
            report::csv::number(day.lr_share_pct, 2),
            report::csv::number(day.rr_share_pct, 2),
            report::csv::number(day.body_weight_kg, 1),
            day.block_on.to_string(),
            day.days_since_trim.map(|days| days.to_string()).unwrap_or_default(),
            cell(&day.events),
        ])?;
    }
    Ok(writer.flush()?)
}
