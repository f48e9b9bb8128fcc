//! Tables for programs.

use std::io::Write;

/// A CSV writer; call `flush` when done.
pub fn writer<W: Write>(out: W) -> csv::Writer<W> {
    csv::Writer::from_writer(out)
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
    use crate::report::csv::number;

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
