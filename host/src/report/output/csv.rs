//! Tables for programs and for people, who open them in a spreadsheet.

use std::io::Write;
use std::sync::atomic::{AtomicBool, Ordering};

/// Whether cells are written as they are.
static RAW: AtomicBool = AtomicBool::new(false);

/// From now on cells are written as they are, also those that a spreadsheet would run.
pub fn write_raw() {
    RAW.store(true, Ordering::Relaxed);
}

/// A CSV writer; call `flush` when done. A cell that a spreadsheet would take for a formula begins with `'`.
pub fn writer<W: Write>(out: W) -> csv::Writer<Guarded<W>> {
    csv::Writer::from_writer(Guarded {
        out,
        raw: RAW.load(Ordering::Relaxed),
        cell: Vec::new(),
        quoted: false,
    })
}

/// CSV on its way out, looked at cell by cell.
pub struct Guarded<W: Write> {
    out: W,
    raw: bool,
    /// The cell so far, with its quotes.
    cell: Vec<u8>,
    quoted: bool,
}

impl<W: Write> Guarded<W> {
    fn end_cell(&mut self) -> std::io::Result<()> {
        let (quote, content) = match self.cell.strip_prefix(b"\"") {
            Some(content) => ("\"", content),
            None => ("", &self.cell[..]),
        };
        let formula = matches!(content.first(), Some(b'=' | b'+' | b'-' | b'@' | b'\t' | b'\r'));
        let number = std::str::from_utf8(content).is_ok_and(|text| text.parse::<f64>().is_ok());
        let guard = if formula && content.len() > 1 && !number { "'" } else { "" };
        self.out.write_all(quote.as_bytes())?;
        self.out.write_all(guard.as_bytes())?;
        self.out.write_all(content)?;
        self.cell.clear();
        Ok(())
    }
}

impl<W: Write> Write for Guarded<W> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        if self.raw {
            return self.out.write(bytes);
        }
        for &byte in bytes {
            self.quoted ^= byte == b'"';
            if !self.quoted && matches!(byte, b',' | b'\n') {
                self.end_cell()?;
                self.out.write_all(&[byte])?;
            } else {
                self.cell.push(byte);
            }
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.out.flush()
    }
}

/// A number with at most `decimals` digits after the point, without the zeros that say nothing; empty for none.
#[must_use]
pub fn number(value: Option<f64>, decimals: usize) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else { return String::new() };
    let text = format!("{value:.decimals$}");
    let short = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if short == "-0" { "0".to_owned() } else { short.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(cells: &[&str]) -> String {
        let mut out = Vec::new();
        let mut writer = writer(&mut out);
        writer.write_record(cells).unwrap();
        writer.flush().unwrap();
        drop(writer);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn a_cell_that_a_spreadsheet_would_run_is_guarded_and_a_number_is_not() {
        assert_eq!(written(&["=1+1", "+2", "-3.5", "@x", "a=b", ""]), "'=1+1,+2,-3.5,'@x,a=b,\n");
        assert_eq!(
            written(&["-1+2", "=\"a\",1", "x,=y", "- hen\n=z"]),
            "'-1+2,\"'=\"\"a\"\",1\",\"x,=y\",\"'- hen\n=z\"\n"
        );
        assert_eq!(written(&["\t=1", "-", "-inf"]), "'\t=1,-,-inf\n");
    }

    #[test]
    fn numbers_are_short() {
        assert_eq!(number(Some(25.0), 2), "25");
        assert_eq!(number(Some(100.0), 0), "100");
        assert_eq!(number(Some(0.126), 2), "0.13");
        assert_eq!(number(Some(-0.001), 2), "0");
        assert_eq!(number(Some(f64::NAN), 2), "");
        assert_eq!(number(None, 2), "");
    }
}
