//! The front end of every CSV import: header, rows, and what is wrong with them.

use crate::import::lines::{LONGEST_LINE, Lines};
use crate::import::problems::{Problems, RowFault};
use crate::import::value;
use crate::record::AnimalId;
use jiff::{Timestamp, civil::Date};
use memchr::{memchr, memchr_iter};
use std::{
    convert::Infallible,
    io::{self, Read},
    ops::Range,
};

/// Columns that a file may have at most. Our choice.
const MOST_COLUMNS: usize = 512;
/// How alike a misspelt name must be to be suggested, 0 to 1. Our choice.
const ALIKE: f64 = 0.75;

/// A column that a file may have.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Its name in the header.
    pub name: &'static str,
    /// Whether the file is useless without it.
    pub needed: bool,
}

impl Column {
    /// A column that must be there.
    #[must_use]
    pub const fn needed(name: &'static str) -> Self {
        Self { name, needed: true }
    }

    /// A column that may be left out.
    #[must_use]
    pub const fn optional(name: &'static str) -> Self {
        Self { name, needed: false }
    }
}

/// A CSV file with a header, read row by row without allocation.
pub struct Table<'c, R> {
    lines: Lines<R>,
    columns: &'c [Column],
    /// For each of `columns`, its field in a row.
    places: Vec<Option<usize>>,
    width: usize,
    /// Whether the file has `columns` and no others, in their order.
    as_documented: bool,
    fields: Vec<Range<usize>>,
    unquoted: Vec<u8>,
    rows: u64,
}

/// What comes next of a table.
#[derive(Debug)]
pub enum NextRow<'a, T> {
    /// What the quick way made of a line.
    Quick {
        /// Its number, from 1.
        line: u64,
        /// What was made of it.
        taken: T,
    },
    /// Any other row.
    Row(Row<'a>),
}

/// A row with as many fields as the header.
#[derive(Debug)]
pub struct Row<'a> {
    /// Its line, from 1.
    pub line: u64,
    /// Whether its line had an end; the last row of a file that was cut off has none.
    pub ended: bool,
    columns: &'a [Column],
    places: &'a [Option<usize>],
    bytes: &'a [u8],
    fields: &'a [Range<usize>],
}

impl<'c, R: Read> Table<'c, R> {
    /// Reads the header. `None` where the file cannot be used; the problems say why.
    ///
    /// # Errors
    /// When the input cannot be read.
    pub fn open(input: R, columns: &'c [Column], problems: &mut Problems) -> io::Result<Option<Self>> {
        let mut lines = Lines::new(input);
        if let Some(what) = foreign(lines.peek(4)?) {
            problems.add(0, RowFault::row(what));
            return Ok(None);
        }
        if lines.peek(3)? == b"\xef\xbb\xbf" {
            lines.skip(3);
        }
        let wanted = || columns.iter().map(|column| column.name).collect::<Vec<_>>().join(",");
        let (number, header) = loop {
            match lines.next_line()? {
                None => {
                    let what = format!("the file is empty; its first line must be {}", wanted());
                    problems.add(0, RowFault::row(what));
                    return Ok(None);
                }
                Some(line) if line.bytes.trim_ascii().is_empty() && !line.too_long => {}
                Some(line) => break (line.number, String::from_utf8_lossy(line.bytes).into_owned()),
            }
        };
        let names: Vec<String> =
            header.split(',').map(|name| name.trim().trim_matches('"').to_ascii_lowercase()).collect();
        let find = |column: &Column| names.iter().position(|name| name == column.name);
        let places: Vec<_> = columns.iter().map(find).collect();
        let faults = header_faults(&names, columns, &places);
        if !faults.is_empty() {
            faults.into_iter().for_each(|fault| problems.add(number, fault));
            return Ok(None);
        }
        for name in names.iter().filter(|name| !columns.iter().any(|column| column.name == **name)) {
            let close = alike(name, columns.iter().map(|column| column.name));
            let hint = close.map(|close| format!("; did you mean `{close}`?")).unwrap_or_default();
            let shown = if name.is_empty() { "without a name" } else { name };
            problems.note(format!("column `{shown}` is not known and was ignored{hint}"));
        }
        let width = names.len();
        let as_documented = places.iter().copied().eq((0..width).map(Some));
        let (fields, unquoted) = (Vec::new(), Vec::new());
        Ok(Some(Self { lines, columns, places, width, as_documented, fields, unquoted, rows: 0 }))
    }

    /// Rows read so far, good and bad.
    #[must_use]
    pub const fn rows(&self) -> u64 {
        self.rows
    }

    /// The next row that has all its fields; blank lines are passed over, others go to the problems.
    ///
    /// # Errors
    /// When the input cannot be read.
    pub fn next_row(&mut self, problems: &mut Problems) -> io::Result<Option<Row<'_>>> {
        Ok(self.next_or(problems, |_| None::<Infallible>)?.map(|NextRow::Row(row)| row))
    }

    /// The same; but where `quick` makes something of a line, that. It is asked only where the file has the columns in
    /// their order and no others, and must take no line that is not a good row.
    ///
    /// # Errors
    /// When the input cannot be read.
    #[inline]
    pub fn next_or<T>(
        &mut self,
        problems: &mut Problems,
        mut quick: impl FnMut(&[u8]) -> Option<T>,
    ) -> io::Result<Option<NextRow<'_, T>>> {
        loop {
            let Some(line) = self.lines.next_line()? else { return Ok(None) };
            if self.as_documented
                && let Some(taken) = quick(line.bytes)
            {
                self.rows += 1;
                return Ok(Some(NextRow::Quick { line: line.number, taken }));
            }
            if line.too_long {
                self.rows += 1;
                let what = format!("the line is longer than {LONGEST_LINE} bytes; is this the right file?");
                problems.add(line.number, RowFault::row(what));
                continue;
            }
            if line.bytes.trim_ascii().is_empty() {
                continue;
            }
            self.rows += 1;
            self.fields.clear();
            let quoted = memchr(b'"', line.bytes).is_some();
            let split = if quoted {
                unquote(line.bytes, &mut self.unquoted, &mut self.fields)
            } else {
                plain(line.bytes, &mut self.fields);
                Ok(())
            };
            let fault = split.err().or_else(|| {
                (self.fields.len() != self.width).then(|| miscount(self.fields.len(), self.width, line.ended))
            });
            if let Some(fault) = fault {
                problems.add(line.number, fault);
                continue;
            }
            // The borrow checker does not see that only this path returns the borrow.
            let (line, ended) = (line.number, line.ended);
            let bytes = if quoted { &self.unquoted[..] } else { self.lines.last() };
            return Ok(Some(NextRow::Row(Row {
                line,
                ended,
                columns: self.columns,
                places: &self.places,
                bytes,
                fields: &self.fields,
            })));
        }
    }
}

/// Without the `'` that keeps a spreadsheet from running a cell.
fn unguarded(text: &str) -> &str {
    text.strip_prefix('\'').filter(|rest| rest.starts_with(['=', '+', '-', '@', '\t', '\r'])).unwrap_or(text)
}

impl Row<'_> {
    /// A field without blanks around it; empty where the file lacks the column.
    #[must_use]
    #[inline]
    pub fn bytes(&self, column: usize) -> &[u8] {
        self.places[column].map_or(&[][..], |place| self.bytes[self.fields[place].clone()].trim_ascii())
    }

    /// A field as text, `None` where it is empty.
    ///
    /// # Errors
    /// When it is no UTF-8.
    pub fn text(&self, column: usize) -> Result<Option<&str>, RowFault> {
        match std::str::from_utf8(self.bytes(column)) {
            Ok(text) => Ok(Some(unguarded(text)).filter(|text| !text.is_empty())),
            Err(_) => Err(RowFault::of(self.columns[column].name, "not UTF-8; save the file as UTF-8")),
        }
    }

    /// A number, `None` where it is empty.
    ///
    /// # Errors
    /// When it is no finite number.
    pub fn number(&self, column: usize) -> Result<Option<f32>, RowFault> {
        let bytes = self.bytes(column);
        if bytes.is_empty() { Ok(None) } else { value::number(self.columns[column].name, bytes).map(Some) }
    }

    /// A whole number from `least` to `most`, `None` where it is empty.
    ///
    /// # Errors
    /// When it is none.
    pub fn whole(&self, column: usize, least: u32, most: u32) -> Result<Option<u32>, RowFault> {
        let Some(text) = self.text(column)? else { return Ok(None) };
        match text.parse() {
            Ok(number) if (least..=most).contains(&number) => Ok(Some(number)),
            _ => {
                let what = format!("`{text}` is no whole number from {least} to {most}");
                Err(RowFault::of(self.columns[column].name, what))
            }
        }
    }

    /// A day, `None` where it is empty.
    ///
    /// # Errors
    /// When it is no day.
    pub fn date(&self, column: usize) -> Result<Option<Date>, RowFault> {
        self.text(column)?.map(|text| value::date(self.columns[column].name, text)).transpose()
    }

    /// A day, `None` where it is empty, that is not in the future.
    ///
    /// # Errors
    /// When it is no day, or in the future.
    pub fn past_date(&self, column: usize, now: Timestamp) -> Result<Option<Date>, RowFault> {
        self.date(column)?.map(|date| value::past(self.columns[column].name, date, now)).transpose()
    }

    /// A day that must be there.
    ///
    /// # Errors
    /// When it is no day or empty.
    pub fn needed_date(&self, column: usize) -> Result<Date, RowFault> {
        self.date(column)?
            .ok_or_else(|| RowFault::of(self.columns[column].name, "no day; write it as 2026-01-31"))
    }

    /// An animal's number, which must be there.
    ///
    /// # Errors
    /// When it is empty or impossible.
    pub fn animal(&self, column: usize) -> Result<AnimalId, RowFault> {
        value::animal(self.columns[column].name, self.text(column)?.unwrap_or_default())
    }
}

/// What a file is, going by its first bytes, if it is no text.
fn foreign(first: &[u8]) -> Option<String> {
    let what = match first {
        [b'P', b'K', 3, 4] => {
            "the file is a zip archive or a spreadsheet; unpack it, or save the sheet as CSV"
        }
        [0x28, 0xb5, 0x2f, 0xfd] => "the file is compressed (zstd); unpack it first",
        bytes if bytes.contains(&0) => "the file is no text; name a CSV file",
        _ => return None,
    };
    Some(what.to_owned())
}

/// What makes a header useless.
fn header_faults(names: &[String], columns: &[Column], places: &[Option<usize>]) -> Vec<RowFault> {
    let wanted = columns.iter().filter(|column| column.needed).map(|column| column.name);
    let wanted = wanted.collect::<Vec<_>>().join(",");
    if names.len() > MOST_COLUMNS {
        return vec![RowFault::row(format!("more than {MOST_COLUMNS} columns; is this the right file?"))];
    }
    let missing = || columns.iter().zip(places).filter(|(column, place)| column.needed && place.is_none());
    if places.iter().all(Option::is_none) {
        let close = names.iter().any(|name| alike(name, columns.iter().map(|column| column.name)).is_some());
        if !close {
            return vec![RowFault::row(format!("no header; the first line must name the columns {wanted}"))];
        }
    }
    let mut faults: Vec<_> = missing()
        .map(|(column, _)| {
            let others =
                names.iter().map(String::as_str).filter(|name| columns.iter().all(|c| c.name != *name));
            let hint = alike(column.name, others)
                .map(|close| format!("; is it `{close}`? Name it `{}`", column.name))
                .unwrap_or_default();
            RowFault::of(column.name, format!("the header lacks it (needed: {wanted}){hint}"))
        })
        .collect();
    for column in columns {
        if names.iter().filter(|name| *name == column.name).count() > 1 {
            faults.push(RowFault::of(column.name, "the header names it more than once; keep one"));
        }
    }
    faults
}

/// The name most like another, if any is like it.
fn alike<'n>(name: &str, others: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    others
        .map(|other| (strsim::jaro_winkler(name, other), other))
        .filter(|(likeness, other)| *likeness >= ALIKE && !other.is_empty())
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, other)| other)
}

#[cold]
fn miscount(found: usize, wanted: usize, ended: bool) -> RowFault {
    if found < wanted && !ended {
        return RowFault::row(format!(
            "the file ends in the middle of this line ({found} of {wanted} fields); copy it again and import it again"
        ));
    }
    let hint = if found > wanted { "; write decimal points, and quotes around text with commas" } else { "" };
    RowFault::row(format!("{found} fields where the header has {wanted}{hint}"))
}

/// Fields of a line without quotes.
fn plain(line: &[u8], fields: &mut Vec<Range<usize>>) {
    let mut start = 0;
    for comma in memchr_iter(b',', line) {
        fields.push(start..comma);
        start = comma + 1;
    }
    fields.push(start..line.len());
}

/// Fields of a line with quotes; `""` within quotes is a quote.
fn unquote(line: &[u8], text: &mut Vec<u8>, fields: &mut Vec<Range<usize>>) -> Result<(), RowFault> {
    if memchr_iter(b'"', line).count() % 2 == 1 {
        return Err(RowFault::row(
            "a quote is opened and not closed on this line; close it, and keep each row on one line",
        ));
    }
    text.resize(line.len() + 1, 0);
    let mut ends = vec![0; line.len() + 1];
    let mut reader = csv_core::Reader::new();
    let (_, read, mut written, mut count) = reader.read_record(line, text, &mut ends);
    debug_assert_eq!(read, line.len());
    let (_, _, more, last) = reader.read_record(&[], &mut text[written..], &mut ends[count..]);
    written += more;
    count += last;
    text.truncate(written);
    let mut start = 0;
    for &end in &ends[..count] {
        fields.push(start..end);
        start = end;
    }
    Ok(())
}

#[cfg(test)]
mod tests;
