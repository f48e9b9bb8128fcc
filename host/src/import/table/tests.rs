use crate::import::table::*;

const COLUMNS: &[Column] =
    &[Column::needed("time"), Column::needed("lf"), Column::needed("rf"), Column::optional("note")];

fn read(text: &[u8]) -> (Vec<(u64, String, String)>, Problems) {
    let mut problems = Problems::of("t.csv");
    let mut rows = Vec::new();
    if let Some(mut table) = Table::open(text, COLUMNS, &mut problems).unwrap() {
        while let Some(row) = table.next_row(&mut problems).unwrap() {
            let text = |column| row.text(column).unwrap().unwrap_or_default().to_owned();
            rows.push((row.line, text(0), text(3)));
        }
    }
    (rows, problems)
}

fn only_problem(text: &[u8]) -> String {
    let (_, problems) = read(text);
    assert_eq!(problems.count, 1, "{:?}", problems.first);
    problems.first[0].to_string()
}

#[test]
fn columns_in_any_order_with_blanks_bom_and_mixed_ends() {
    let text = b"\xef\xbb\xbfRF, time ,lf,note\r\n1,a,2,\"x, \"\"y\"\"\"\n\n3,b,4,\r5,c,6,z";
    let (rows, problems) = read(text);
    assert_eq!(problems.count, 0, "{:?}", problems.first);
    let row = |line, time: &str, note: &str| (line, time.to_owned(), note.to_owned());
    assert_eq!(rows, [row(2, "a", "x, \"y\""), row(4, "b", ""), row(5, "c", "z")]);
}

#[test]
fn unknown_columns_are_said_and_ignored() {
    let (rows, problems) = read(b"time,lf,rf,notes,colour\na,1,2,x,y\n");
    assert_eq!((rows.len(), problems.count), (1, 0));
    assert_eq!(problems.notes.len(), 2);
    assert!(problems.notes[0].contains("did you mean `note`"), "{:?}", problems.notes);
}

#[test]
fn useless_files_are_said() {
    for (text, expected) in [
        (&b""[..], "empty"),
        (b"\n\n", "empty"),
        (b"time,ls,rf\na,1,2\n", "t.csv, line 1, column lf: the header lacks it"),
        (b"tine,lf,rf\na,1,2\n", "is it `tine`?"),
        (b"time,lf,rf,lf\na,1,2,3\n", "more than once"),
        (b"17,1,2\n", "no header"),
        (b"PK\x03\x04rest", "spreadsheet"),
    ] {
        let said = only_problem(text);
        assert!(said.contains(expected), "{said}");
    }
}

#[test]
fn bad_rows_are_said_and_the_rest_is_kept() {
    for (text, expected, kept) in [
        (&b"time,lf,rf\na,1\nb,1,2\n"[..], "t.csv, line 2: 2 fields where the header has 3", 1),
        (b"time,lf,rf\na,1,5,2,5\nb,1,2\n", "decimal points", 1),
        (b"time,lf,rf\nb,1,2\na,1", "line 3: the file ends in the middle of this line", 1),
        (b"time,lf,rf\na,\"1,2\nb,1,2\n", "quote", 1),
    ] {
        assert!(only_problem(text).contains(expected), "{}", only_problem(text));
        assert_eq!(read(text).0.len(), kept);
    }
}

#[test]
fn only_the_first_problems_are_held() {
    let text = format!("time,lf,rf\n{}", "a\n".repeat(500));
    let (_, problems) = read(text.as_bytes());
    assert_eq!((problems.count, problems.first.len()), (500, crate::import::problems::SHOWN));
}

#[test]
fn a_line_with_quotes_is_taken_whole_where_no_comma_makes_its_text_shorter() {
    let fields = |line: &[u8]| {
        let (mut text, mut found) = (Vec::new(), Vec::new());
        unquote(line, &mut text, &mut found).expect("closed");
        found.into_iter().map(|one| String::from_utf8_lossy(&text[one]).into_owned()).collect::<Vec<_>>()
    };
    // Quotes within a field that does not begin with one stay: as many bytes as the line has.
    assert_eq!(fields(b"a \"b\""), ["a \"b\""]);
    assert_eq!(fields(b"a \"b\","), ["a \"b\"", ""]);
    assert_eq!(fields(b"\"a,b\",c"), ["a,b", "c"]);
    assert_eq!(fields(b"\"\""), [""]);
}
