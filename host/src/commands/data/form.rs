//! What is said on the command line of the form of a file.

use crate::import::layout::{Layout, PlateSwap, Unit};
use crate::record::day_words::DayOrder;
use crate::store::Store;
use clap::{Args, builder::PossibleValuesParser};
use jiff::tz::TimeZone;

/// How the files are written, where that is not the documented form. What only one reading fits is found unasked:
/// packed and UTF-16 files, semicolons and tabs, decimal commas, lines above the header, whole-second times.
#[derive(Debug, Args)]
pub struct Form {
    /// Unit of the loads
    #[arg(long, value_enum, default_value_t = Unit::Kg)]
    unit: Unit,
    /// What parts the fields: one character, or tab
    #[arg(long, value_name = "CHARACTER", value_parser = delimiter)]
    delimiter: Option<u8>,
    /// Decimals after a point or a comma
    #[arg(long, value_name = "point|comma", value_parser = PossibleValuesParser::new(["point", "comma"]))]
    decimal: Option<String>,
    /// The zone of times that do not say theirs (default: the farm's)
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
    /// The file's own names of columns, such as lf=A,rf=B,lr=C,rr=D
    #[arg(long, value_name = "NAME=OWN,...", value_delimiter = ',', value_parser = column)]
    columns: Vec<(String, String)>,
    /// Plates that are wired the wrong way round
    #[arg(long, value_enum)]
    swap: Option<PlateSwap>,
    /// Order of day and month in dates such as 03/04/2026 (default: the farm's)
    #[arg(long, value_enum, value_name = "ORDER")]
    dates: Option<DayOrder>,
}

fn delimiter(text: &str) -> Result<u8, String> {
    match text.as_bytes() {
        [one] if one.is_ascii_punctuation() || *one == b' ' => Ok(*one),
        _ if text == "tab" => Ok(b'\t'),
        _ => Err("write one character, or tab".to_owned()),
    }
}

fn column(text: &str) -> Result<(String, String), String> {
    let (ours, theirs) = text.split_once('=').ok_or("write NAME=OWN")?;
    Ok((ours.trim().to_owned(), theirs.trim().to_owned()))
}

impl Form {
    /// What is said, for the importers.
    ///
    /// # Errors
    /// When the zone is none, or the store cannot be read.
    pub fn layout(&self, store: &Store) -> anyhow::Result<Layout> {
        let zone = match &self.zone {
            Some(name) => TimeZone::get(name).map_err(|_| anyhow::anyhow!("{name} is no time zone"))?,
            None => store.time_zone()?,
        };
        Ok(Layout {
            unit: self.unit,
            delimiter: self.delimiter,
            decimal_comma: self.decimal.as_deref() == Some("comma"),
            zone: Some(zone),
            days: match self.dates {
                Some(order) => Some(order),
                None => store.day_order()?,
            },
            columns: self.columns.clone(),
            swap: self.swap,
        })
    }
}
