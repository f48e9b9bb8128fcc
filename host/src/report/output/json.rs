//! JSON for programs.

use serde::Serialize;
use std::io::Write;

/// Writes a value as JSON, indented, with a line end.
///
/// # Errors
/// When it cannot be written.
pub fn write<W: Write>(mut out: W, value: &impl Serialize) -> anyhow::Result<()> {
    serde_json::to_writer_pretty(&mut out, value)?;
    writeln!(out)?;
    // What is still on its way when it is dropped fails without a word.
    Ok(out.flush()?)
}

/// Writes values one after another as a JSON array, one a line, without holding them all.
///
/// # Errors
/// When it cannot be written.
pub fn write_rows<W: Write, T: Serialize>(
    mut out: W,
    rows: impl IntoIterator<Item = T>,
) -> anyhow::Result<()> {
    let mut before = "[\n";
    for row in rows {
        write!(out, "{before}")?;
        serde_json::to_writer(&mut out, &row)?;
        before = ",\n";
    }
    writeln!(out, "{}", if before == "[\n" { "[]" } else { "\n]" })?;
    Ok(out.flush()?)
}

#[cfg(test)]
mod tests {
    use crate::report::output::json::write_rows;

    #[test]
    fn rows_make_an_array() {
        for rows in [vec![], vec![1], vec![1, 2, 3]] {
            let mut bytes = Vec::new();
            write_rows(&mut bytes, &rows).unwrap();
            assert_eq!(serde_json::from_slice::<Vec<i32>>(&bytes).unwrap(), rows);
        }
    }
}
