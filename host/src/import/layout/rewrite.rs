//! Lines written anew in the documented form, as they are read.

use crate::import::layout::Unit;
use crate::import::layout::plan::{LayoutPlan, quoted};
use std::io::{self, BufRead, BufReader, Read};

/// Longest line that is taken apart; a longer one is passed on as it is, to be told of.
const LONGEST: u64 = 1 << 16;
/// Readings within one second at most: above the fastest rate. Our choice.
const MOST_A_SECOND: usize = 2048;
const MICROS: i64 = 1_000_000;

/// A file in the documented form.
pub(super) struct Rewritten<R> {
    input: BufReader<R>,
    plan: LayoutPlan,
    line: usize,
    ready: Vec<u8>,
    given: usize,
    /// Rows of the second that is being read: their fields.
    second: Vec<Vec<String>>,
    /// Readings in the second before; 0 for the first.
    before: usize,
    /// The first second, held until the next says how many readings a second has.
    first: Option<Vec<Vec<String>>>,
    ended: bool,
}

impl<R: Read> Rewritten<R> {
    pub(super) fn new(input: R, plan: LayoutPlan) -> Self {
        Self {
            input: BufReader::new(input),
            plan,
            line: 0,
            ready: Vec::new(),
            given: 0,
            second: Vec::new(),
            before: 0,
            first: None,
            ended: false,
        }
    }

    fn next_line(&mut self) -> io::Result<()> {
        let mut bytes = Vec::new();
        if self.input.by_ref().take(LONGEST).read_until(b'\n', &mut bytes)? == 0 {
            self.ended = true;
            self.end_second(true);
            return Ok(());
        }
        let ended = bytes.last() == Some(&b'\n');
        let text = String::from_utf8_lossy(&bytes).trim_end_matches(['\n', '\r']).to_owned();
        let text = text.trim_start_matches('\u{feff}');
        let place = self.line;
        self.line += 1;
        let end = if ended { "\n" } else { "" };
        if place < self.plan.above {
            self.ready.extend_from_slice(end.as_bytes());
        } else if place == self.plan.above {
            self.ready.extend_from_slice(self.plan.header.as_bytes());
            self.ready.extend_from_slice(end.as_bytes());
        } else {
            let fields = self.fields(text);
            self.row(fields, end);
        }
        Ok(())
    }

    fn fields(&self, text: &str) -> Vec<String> {
        let own: Vec<String> = if text.contains('"') {
            let mut reader = csv::ReaderBuilder::new()
                .delimiter(self.plan.delimiter)
                .has_headers(false)
                .flexible(true)
                .from_reader(text.as_bytes());
            let record = reader.records().next().and_then(Result::ok);
            record.map(|record| record.iter().map(str::to_owned).collect()).unwrap_or_default()
        } else {
            text.split(char::from(self.plan.delimiter)).map(str::to_owned).collect()
        };
        own.iter()
            .map(|field| {
                let field = field.trim();
                if self.plan.decimal_comma
                    && field.contains(',')
                    && !field.contains(|c: char| c.is_alphabetic())
                {
                    field.replacen(',', ".", 1)
                } else {
                    field.to_owned()
                }
            })
            .collect()
    }

    fn row(&mut self, mut fields: Vec<String>, end: &str) {
        if self.plan.unit != Unit::Kg {
            for &place in &self.plan.loads {
                if let Some(load) = fields.get(place).and_then(|field| field.parse::<f64>().ok()) {
                    fields[place] = (load * self.plan.unit.kg()).to_string();
                }
            }
        }
        for &place in &self.plan.days {
            if let Some(field) = fields.get_mut(place) {
                *field = self.plan.stamps.day(field);
            }
        }
        let Some(time) = self.plan.time.filter(|time| *time < fields.len()) else {
            return self.write(&fields, end);
        };
        if !self.plan.stamps.spread {
            fields[time] = self.plan.stamps.documented(&fields[time], 0);
            return self.write(&fields, end);
        }
        if self.second.first().is_some_and(|of| of[time] != fields[time])
            || self.second.len() >= MOST_A_SECOND
        {
            self.end_second(false);
        }
        self.second.push(fields);
    }

    /// Gives the readings of a second their places in it: evenly, and those of a first second that is cut off at its
    /// beginning at its end.
    fn end_second(&mut self, last: bool) {
        let rows = std::mem::take(&mut self.second);
        if rows.is_empty() && self.first.is_none() {
            return;
        }
        if self.before == 0 && self.first.is_none() && !last {
            self.first = Some(rows);
            return;
        }
        if let Some(first) = self.first.take() {
            let whole = first.len().max(if last && !rows.is_empty() { first.len() } else { rows.len() });
            self.spread(&first, whole - first.len(), whole);
            self.before = whole;
        }
        let whole = if last { rows.len().max(self.before) } else { rows.len() };
        self.spread(&rows, 0, whole);
        self.before = rows.len();
    }

    fn spread(&mut self, rows: &[Vec<String>], from: usize, whole: usize) {
        let Some(time) = self.plan.time else { return };
        for (place, fields) in rows.iter().enumerate() {
            let mut fields = fields.clone();
            let offset = MICROS * (from + place) as i64 / whole.max(1) as i64;
            fields[time] = self.plan.stamps.documented(&fields[time], offset);
            self.write(&fields, "\n");
        }
    }

    fn write(&mut self, fields: &[String], end: &str) {
        let line = fields.iter().map(|field| quoted(field)).collect::<Vec<_>>().join(",");
        self.ready.extend_from_slice(line.as_bytes());
        self.ready.extend_from_slice(end.as_bytes());
    }
}

impl<R: Read> Read for Rewritten<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.given == self.ready.len() && !self.ended {
            self.ready.clear();
            self.given = 0;
            self.next_line()?;
        }
        let length = buffer.len().min(self.ready.len() - self.given);
        buffer[..length].copy_from_slice(&self.ready[self.given..self.given + length]);
        self.given += length;
        Ok(length)
    }
}
