//! How a file is to be read: by what was said of it, and by its first lines.

use crate::import::layout::stamp::Stamps;
use crate::import::layout::{Layout, Unit};
use crate::import::{Column, Problems, RowFault};
use crate::record::day_words::DayOrder;
use std::io::{self, Read};

/// Bytes looked at for the header and the first rows. Our choice.
const HEAD: usize = 16 * 1024;
/// Lines above the header at most. Our choice.
const MOST_ABOVE: usize = 50;
const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];
/// How the names of columns end that hold days.
const DAYS: [&str; 6] = ["date", "_from", "block_off", "block_due", "withdrawal_end", "recheck"];
const PLATES: [&str; 4] = ["lf", "rf", "lr", "rr"];

/// The first bytes of a file, and whether that is all of it.
pub(super) fn head(input: &mut (dyn Read + Send)) -> io::Result<(Vec<u8>, bool)> {
    let mut head = Vec::new();
    input.take(HEAD as u64).read_to_end(&mut head)?;
    let whole = head.len() < HEAD;
    Ok((head, whole))
}

/// How the lines are to be written anew.
pub(super) struct LayoutPlan {
    /// Lines above the header.
    pub above: usize,
    /// The header in the documented words.
    pub header: String,
    pub delimiter: u8,
    pub decimal_comma: bool,
    /// Field of the time.
    pub time: Option<usize>,
    /// Fields that hold days.
    pub days: Vec<usize>,
    /// Fields that hold loads, and kilograms in their unit.
    pub loads: Vec<usize>,
    pub unit: Unit,
    pub stamps: Stamps,
}

impl LayoutPlan {
    /// `None` for a file in the documented form already, or one without a header: its reader says what is missing.
    pub(super) fn of(
        head: &[u8],
        whole: bool,
        layout: &Layout,
        columns: &[Column],
        problems: &mut Problems,
    ) -> Option<Self> {
        let text = String::from_utf8_lossy(head);
        let text = text.trim_start_matches('\u{feff}');
        let mut lines: Vec<&str> = text.lines().collect();
        if !whole {
            lines.pop();
        }
        let (above, delimiter, names) =
            lines.iter().take(MOST_ABOVE).enumerate().find_map(|(above, line)| {
                let given = layout.delimiter.map(|one| vec![one]);
                let tried = given.unwrap_or_else(|| DELIMITERS.to_vec());
                tried.into_iter().find_map(|delimiter| {
                    let names = names(line, delimiter, layout);
                    is_header(&names, columns).then_some((above, delimiter, names))
                })
            })?;
        let rows: Vec<Vec<&str>> = lines[above + 1..]
            .iter()
            .filter(|line| !line.trim().is_empty())
            .map(|line| {
                line.split(char::from(delimiter)).map(|field| field.trim().trim_matches('"')).collect()
            })
            .collect();
        let comma = layout.decimal_comma
            || delimiter != b',' && rows.iter().flatten().any(|field| is_comma_number(field));
        let time = names.iter().position(|name| name == "time");
        let times: Vec<&str> = time
            .map(|time| rows.iter().filter_map(|row| row.get(time).copied()).collect())
            .unwrap_or_default();
        let days: Vec<usize> =
            (0..names.len()).filter(|place| DAYS.iter().any(|end| names[*place].ends_with(end))).collect();
        let dates: Vec<&str> = rows
            .iter()
            .flat_map(|row| days.iter().filter_map(|place| row.get(*place).copied()))
            .filter(|text| !text.is_empty())
            .collect();
        let loads: Vec<usize> =
            (0..names.len()).filter(|place| PLATES.contains(&names[*place].as_str())).collect();
        // Readings come many to a second; other files have their times as they are.
        let stamps = Stamps::of(&times, &dates, layout, loads.len() == PLATES.len());
        let needed = layout.is_said() || above > 0 || delimiter != b',' || comma || stamps.is_needed();
        if !needed {
            return None;
        }
        if above > 0 && lines[..above].iter().any(|line| !line.trim().is_empty()) {
            problems.note(format!("{above} lines above the header were passed over"));
        }
        tell(layout, delimiter, comma, &stamps, problems);
        if stamps.day_order_is_open() {
            let what =
                "dates such as 03/04/2026 can be read in two ways; say --dates day-first or month-first";
            problems.add(0, RowFault::of("time", what));
        }
        let header = names.iter().map(|name| quoted(name)).collect::<Vec<_>>().join(",");
        Some(Self {
            above,
            header,
            delimiter,
            decimal_comma: comma,
            time,
            days,
            loads,
            unit: layout.unit,
            stamps,
        })
    }
}

/// Says what was guessed.
fn tell(layout: &Layout, delimiter: u8, comma: bool, stamps: &Stamps, problems: &mut Problems) {
    if layout.delimiter.is_none() && delimiter != b',' {
        let name = if delimiter == b';' { "semicolons" } else { "tabs" };
        problems.note(format!("fields are parted by {name}"));
    }
    if comma && !layout.decimal_comma {
        problems.note("numbers have decimal commas".to_owned());
    }
    if stamps.local {
        let zone = layout.zone.as_ref().and_then(|zone| zone.iana_name()).unwrap_or("the farm's zone");
        problems.note(format!("times do not say their zone and were read as those of {zone}"));
    }
    if stamps.spread {
        problems
            .note("times are whole seconds; the readings of a second were spread evenly over it".to_owned());
    }
    if stamps.order == Some(DayOrder::DayFirst) && layout.days.is_none() {
        problems.note("dates have the day first".to_owned());
    }
}

/// The names of a header line in the documented words.
fn names(line: &str, delimiter: u8, layout: &Layout) -> Vec<String> {
    let own = line.split(char::from(delimiter)).map(|name| name.trim().trim_matches('"').to_lowercase());
    own.map(|own| {
        let said = layout.columns.iter().find(|(_, theirs)| theirs.to_lowercase() == own);
        let name = said.map_or(own, |(ours, _)| ours.to_lowercase());
        layout.swap.map_or_else(|| name.clone(), |swap| swap.of(&name))
    })
    .collect()
}

fn is_header(names: &[String], columns: &[Column]) -> bool {
    let has = |name: &str| names.iter().any(|own| own == name);
    let needed = columns.iter().filter(|column| column.needed);
    if needed.clone().count() == 0 {
        return columns.iter().any(|column| has(column.name));
    }
    needed.clone().all(|column| has(column.name))
}

fn is_comma_number(field: &str) -> bool {
    field.split_once(',').is_some_and(|(whole, part)| {
        let whole = whole.strip_prefix('-').unwrap_or(whole);
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        digits(whole) && digits(part)
    })
}

pub(super) fn quoted(field: &str) -> String {
    if field.contains([',', '"']) { format!("\"{}\"", field.replace('"', "\"\"")) } else { field.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_with_a_decimal_comma_has_digits_on_both_sides_of_its_one_comma() {
        for number in ["1,5", "-1,25", "0,0", "12,345"] {
            assert!(is_comma_number(number), "{number}");
        }
        for other in ["", "15", "1.5", "1,", ",5", "-,5", "--1,5", "+1,5", "1,-5", "1,5,2", "a,5", "5,a"] {
            assert!(!is_comma_number(other), "{other}");
        }
    }
}
