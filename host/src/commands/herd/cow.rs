//! One cow's history.

use crate::commands::cli::Common;
use crate::commands::day::Day;
use crate::commands::exit_code::ExitCode;
use crate::commands::open;
use crate::record::Flag;
use crate::record::finding::cell;
use crate::report;
use crate::report::cow::{Card, CardDay, card_text};
use crate::report::farm::{Farm, Part};
use crate::report::output::Column;
use crate::report::output::csv::number;
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
    let (from, to) = (Day::maybe(args.from.as_ref(), &store)?, Day::been(args.to.as_ref(), &store)?);
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
    let words = common.words(&store)?;
    common.format.print(
        &card,
        |table| table.columns(&columns(), &card.days.iter().map(|day| (&card, day)).collect::<Vec<_>>()),
        || {
            let utf8 = spark::locale_is_utf8(|name| std::env::var(name).ok());
            Ok(card_text::render(&card, farm.card_from(from), farm.date, &words, utf8))
        },
    )?;
    Ok(ExitCode::Done)
}

fn columns<'a>() -> [Column<(&'a Card, &'a CardDay)>; 15] {
    [
        ("animal_id", |(card, _)| card.animal_id.to_string()),
        ("date", |(_, day)| day.date.to_string()),
        ("flag", |(_, day)| day.flag.map(Flag::name).unwrap_or_default().to_owned()),
        ("probability", |(_, day)| number(day.probability, 4)),
        ("leg", |(_, day)| day.leg.unwrap_or_default().to_owned()),
        ("passages", |(_, day)| day.passages.to_string()),
        ("trusted", |(_, day)| day.trusted.to_string()),
        ("lf_share_pct", |(_, day)| number(day.lf_share_pct, 2)),
        ("rf_share_pct", |(_, day)| number(day.rf_share_pct, 2)),
        ("lr_share_pct", |(_, day)| number(day.lr_share_pct, 2)),
        ("rr_share_pct", |(_, day)| number(day.rr_share_pct, 2)),
        ("body_weight_kg", |(_, day)| number(day.body_weight_kg, 1)),
        ("block_on", |(_, day)| day.block_on.to_string()),
        ("days_since_trim", |(_, day)| day.days_since_trim.map(|days| days.to_string()).unwrap_or_default()),
        ("events", |(_, day)| cell(&day.events)),
    ]
}
