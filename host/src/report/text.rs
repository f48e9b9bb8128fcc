//! Tables and paragraphs for people, never wider than [`WIDTH`].

use comfy_table::{Attribute, Cell, CellAlignment, ContentArrangement, Table, presets};

/// Columns that fit any terminal.
pub const WIDTH: u16 = 80;

/// An empty table with a header, no lines between columns, wrapped to [`WIDTH`].
#[must_use]
pub fn table(header: &[&str]) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(WIDTH)
        .enforce_styling()
        .set_header(header.iter().map(|name| Cell::new(name).add_attribute(Attribute::Bold)));
    for column in table.column_iter_mut() {
        column.set_padding((0, 2));
    }
    table
}

/// Aligns columns (numbers, mostly) to the right.
pub fn align_right(table: &mut Table, columns: &[usize]) {
    for &index in columns {
        if let Some(column) = table.column_mut(index) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
}

/// The table as text, without blanks at line ends, with a last line end.
#[must_use]
pub fn render(table: &Table) -> String {
    table.lines().fold(String::new(), |text, line| text + line.trim_end() + "\n")
}

/// Breaks a paragraph into lines of at most [`WIDTH`]; lines after the first begin with `indent` blanks.
#[must_use]
pub fn wrap(paragraph: &str, indent: usize) -> String {
    let rest = " ".repeat(indent);
    textwrap::fill(paragraph, options("", &rest))
}

/// Adds a paragraph of lines of at most [`WIDTH`], with `first` before the first and as many blanks before the others.
pub fn wrapped(out: &mut String, first: &str, paragraph: &str) {
    let rest = " ".repeat(first.chars().count());
    out.push_str(&textwrap::fill(paragraph, options(first, &rest)));
    out.push('\n');
}

fn options<'o>(first: &'o str, rest: &'o str) -> textwrap::Options<'o> {
    textwrap::Options::new(usize::from(WIDTH))
        .initial_indent(first)
        .subsequent_indent(rest)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
}

/// `1 cow`, `2 cows`: English, for the views of analysts and for notes of commands.
#[must_use]
pub fn count(number: usize, one: &str, many: &str) -> String {
    format!("{} {}", thousands(number), if number == 1 { one } else { many })
}

/// A whole number with commas between thousands.
#[must_use]
pub fn thousands(number: usize) -> String {
    let digits = number.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::style::{BAD, paint};

    #[test]
    fn numbers_are_grouped() {
        assert_eq!(count(1, "cow", "cows"), "1 cow");
        assert_eq!(thousands(1_234_567), "1,234,567");
        assert_eq!(thousands(123_456), "123,456");
        assert_eq!(thousands(12), "12");
    }

    fn width(text: &str) -> usize {
        anstream::adapter::strip_str(text).to_string().lines().map(|l| l.chars().count()).max().unwrap_or(0)
    }

    #[test]
    fn tables_fit_and_styles_take_no_room() {
        let mut table = table(&["animal_id", "flag", "reasons"]);
        align_right(&mut table, &[0]);
        table.add_row(vec!["982000123456789".into(), paint(BAD, "urgent"), "hind left lighter ".repeat(12)]);
        table.add_row(vec!["7".into(), "clear".into(), String::new()]);
        let text = render(&table);
        assert!(width(&text) <= usize::from(WIDTH), "{text}");
        assert!(text.contains("\u{1b}["));
        let plain = anstream::adapter::strip_str(&text).to_string();
        let column = |line: &str| line.find("clear").or_else(|| line.find("urgent"));
        let lines: Vec<_> = plain.lines().filter_map(column).collect();
        assert_eq!(lines.len(), 2);
        assert_eq!(lines[0], lines[1], "{plain}");
    }

    #[test]
    fn paragraphs_fit() {
        let text = wrap(&"four plates ".repeat(30), 2);
        assert!(width(&text) <= usize::from(WIDTH));
        assert!(text.lines().skip(1).all(|line| line.starts_with("  f") || line.starts_with("  p")));
        assert_eq!(text.split_whitespace().count(), 60);
    }
}
