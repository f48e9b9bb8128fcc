use super::*;

const READINGS: &[Column] = &[
    Column::needed("time"),
    Column::needed("lf"),
    Column::needed("rf"),
    Column::needed("lr"),
    Column::needed("rr"),
];

/// The documented form of a file, and what was said of it.
fn read(bytes: impl Into<Vec<u8>>, layout: Layout, columns: &[Column]) -> (String, Problems) {
    let mut input = Input::of("a file", Box::new(io::Cursor::new(bytes.into())), None);
    input.layout = layout;
    let mut problems = Problems::of("a file");
    let mut text = String::new();
    documented(input, columns, &mut problems).unwrap().read_to_string(&mut text).unwrap();
    (text, problems)
}

fn dublin() -> Layout {
    Layout { zone: Some(TimeZone::get("Europe/Dublin").unwrap()), ..Layout::default() }
}

const PLAIN: &str = "time,lf,rf,lr,rr\n2026-07-01T05:00:00Z,1.5,2,3,4\n2026-07-01T05:00:00.02Z,1.5,2,3,4\n";

#[test]
fn a_documented_file_stays_as_it_is() {
    let (text, problems) = read(PLAIN, dublin(), READINGS);
    assert_eq!(text, PLAIN);
    assert!(problems.notes.is_empty() && problems.count == 0);
}

#[test]
fn packed_and_utf16_files_are_read() {
    use std::io::Write;
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packed.write_all(PLAIN.as_bytes()).unwrap();
    let (text, problems) = read(packed.finish().unwrap(), dublin(), READINGS);
    assert_eq!(text, PLAIN);
    assert!(problems.notes[0].contains("gzip"));
    let mut wide = vec![0xff, 0xfe];
    wide.extend(PLAIN.encode_utf16().flat_map(u16::to_le_bytes));
    let (text, problems) = read(wide, dublin(), READINGS);
    assert_eq!(text, PLAIN);
    assert!(problems.notes[0].contains("UTF-16"));
}

#[test]
fn a_loggers_own_form_is_guessed_where_only_one_reading_fits() {
    let file = "# logger 7\n# exit lane\nTime;LF;RF;LR;RR\n01.07.2026 06:00:00,00;1,5;2;3;4\n01.07.2026 06:00:00,02;1,5;2;3;-4,25\n";
    let (text, problems) = read(file, dublin(), READINGS);
    // Dublin is an hour ahead in July.
    let wanted =
        "\n\ntime,lf,rf,lr,rr\n2026-07-01T05:00:00Z,1.5,2,3,4\n2026-07-01T05:00:00.02Z,1.5,2,3,-4.25\n";
    assert_eq!(text, wanted, "{:?}", problems.notes);
    for said in ["2 lines above", "semicolons", "decimal commas", "Europe/Dublin", "day first"] {
        assert!(problems.notes.iter().any(|note| note.contains(said)), "{said}: {:?}", problems.notes);
    }
}

#[test]
fn what_is_said_is_done() {
    let columns = [("lf", "A"), ("rf", "B"), ("lr", "C"), ("rr", "D")];
    let columns = columns.map(|(ours, theirs)| (ours.to_owned(), theirs.to_owned())).to_vec();
    let layout = Layout { unit: Unit::G, columns, swap: Some(PlateSwap::LeftRight), ..dublin() };
    let (text, _) = read("time,A,B,C,D\n2026-07-01T05:00:00Z,1500,2000,3000,4000\n", layout, READINGS);
    assert_eq!(text, "time,rf,lf,rr,lr\n2026-07-01T05:00:00Z,1.5,2,3,4\n");
    let layout = Layout { swap: Some(PlateSwap::FrontRear), unit: Unit::Lb, ..dublin() };
    let (text, _) = read("time,lf,rf,lr,rr\n2026-07-01T05:00:00Z,100,0,0,1000\n", layout, READINGS);
    assert_eq!(text, "time,lr,rr,lf,rf\n2026-07-01T05:00:00Z,45.359237,0,0,453.59237\n");
    let layout = Layout { unit: Unit::N, ..dublin() };
    let (text, _) = read("time,lf,rf,lr,rr\n2026-07-01T05:00:00Z,980.665,0,0,0\n", layout, READINGS);
    let load: f64 = text.lines().nth(1).unwrap().split(',').nth(1).unwrap().parse().unwrap();
    assert!((load - 100.0).abs() < 1e-9);
}

#[test]
fn whole_seconds_are_spread() {
    let mut file = "time,lf,rf,lr,rr\n".to_owned();
    // The first second is cut off at its beginning, the last at its end.
    for (second, rows) in [(0, 2), (1, 4), (2, 4), (3, 1)] {
        for _ in 0..rows {
            file += &format!("2026-07-01T05:00:0{second}Z,1,1,1,1\n");
        }
    }
    let (text, problems) = read(file, dublin(), READINGS);
    let times: Vec<&str> = text.lines().skip(1).map(|line| line.split(',').next().unwrap()).collect();
    let wanted = ["00.5", "00.75", "01", "01.25", "01.5", "01.75", "02", "02.25", "02.5", "02.75", "03"];
    assert_eq!(times, wanted.map(|second| format!("2026-07-01T05:00:{second}Z")));
    assert!(problems.notes[0].contains("whole seconds"));
}

#[test]
fn days_that_can_be_read_in_two_ways_are_asked_about() {
    const SCORES: &[Column] = &[Column::needed("date"), Column::needed("animal_id"), Column::needed("score")];
    let file = "date,animal_id,score\n03/04/2026,412,1\n05/04/2026,412,1\n";
    assert_eq!(read(file, dublin(), SCORES).1.count, 1);
    let said = |days| read(file, Layout { days: Some(days), ..dublin() }, SCORES);
    let (text, problems) = said(DayOrder::DayFirst);
    assert_eq!((text.lines().nth(1), problems.count), (Some("2026-04-03,412,1"), 0));
    assert_eq!(said(DayOrder::MonthFirst).0.lines().nth(1), Some("2026-03-04,412,1"));
    let clear = "date,animal_id,score\n03/04/2026,412,1\n25/04/2026,412,1\n";
    assert_eq!(read(clear, dublin(), SCORES).0.lines().nth(1), Some("2026-04-03,412,1"));
    let words = "date,animal_id,score,note\n03.04.2026,412,1,\"so, so\"\n";
    assert_eq!(read(words, dublin(), SCORES).0.lines().nth(1), Some("2026-04-03,412,1,\"so, so\""));
}

#[test]
fn times_without_a_zone_are_left_alone_where_none_is_known() {
    let file = "time,lf,rf,lr,rr\n2026-07-01T05:00:00,1,2,3,4\n2026-07-01T05:00:01,1,2,3,4\n";
    assert_eq!(read(file, Layout::default(), READINGS).0, file);
    assert!(read(file, dublin(), READINGS).0.contains("2026-07-01T04:00:00Z,1,2,3,4"));
}

/// The times of readings in a logger's file.
fn times(rows: &str) -> (Vec<String>, Problems) {
    let (text, problems) = read(format!("time,lf,rf,lr,rr\n{rows}"), dublin(), READINGS);
    let time = |line: &str| line.split(',').next().unwrap_or_default().to_owned();
    (text.lines().skip(1).map(time).collect(), problems)
}

#[test]
fn a_first_second_that_is_cut_off_ends_with_its_second() {
    // Five readings a second; of the first second the last two came: the fourth and the fifth of it.
    let second = |second: u32, rows: usize| format!("2026-07-01T05:00:0{second}Z,1,1,1,1\n").repeat(rows);
    let (found, _) = times(&[second(0, 2), second(1, 5), second(2, 1)].concat());
    let wanted = ["00.6", "00.8", "01", "01.2", "01.4", "01.6", "01.8", "02"];
    assert_eq!(found, wanted.map(|second| format!("2026-07-01T05:00:{second}Z")));
}

#[test]
fn points_of_a_date_are_no_part_of_a_second() {
    let row = |second: &str| format!("01.07.2026 06:00:{second},1,1,1,1\n");
    let wanted = |seconds: [&str; 4]| seconds.map(|second| format!("2026-07-01T05:00:{second}Z"));
    // Whole seconds, two readings to each.
    let (found, problems) = times(&["00", "00", "01", "01"].map(row).concat());
    assert_eq!(found, wanted(["00", "00.5", "01", "01.5"]));
    assert!(problems.notes.iter().any(|note| note.contains("whole seconds")), "{:?}", problems.notes);
    // Parts of seconds, one of them twice: they stay.
    let (found, problems) = times(&["00.50", "00.50", "00.52", "00.54"].map(row).concat());
    assert_eq!(found, wanted(["00.5", "00.5", "00.52", "00.54"]));
    assert!(!problems.notes.iter().any(|note| note.contains("whole seconds")), "{:?}", problems.notes);
}

#[test]
fn semicolons_alone_make_no_decimal_commas() {
    let said = |load: &str| {
        let file = format!("time;lf;rf;lr;rr\n2026-07-01T05:00:00Z;{load};2;3;4\n");
        let (text, problems) = read(file, dublin(), READINGS);
        let commas = problems.notes.iter().any(|note| note.contains("decimal commas"));
        (text.lines().nth(1).unwrap_or_default().to_owned(), commas)
    };
    assert_eq!(said("1.5"), ("2026-07-01T05:00:00Z,1.5,2,3,4".to_owned(), false));
    assert_eq!(said("1,5"), ("2026-07-01T05:00:00Z,1.5,2,3,4".to_owned(), true));
    // A comma that is none of a number stays one.
    assert_eq!(said("1,5,2").0, "2026-07-01T05:00:00Z,\"1,5,2\",2,3,4");
}
