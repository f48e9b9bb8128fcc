use crate::import::readings::rows::Timed;
use crate::import::readings::*;
use crate::store::PassageFilter;
use std::fmt::Write;

/// Readings at 100 Hz from 06:00: an empty deck, and cows of 600 kg that stand four seconds every thirty.
pub(super) fn file(cows: usize) -> String {
    let mut text = "time,lf,rf,lr,rr\n".to_owned();
    for row in 0..cows * 3000 + 1000 {
        let within = row % 3000;
        let on = (1000..1400).contains(&within) && row / 3000 < cows;
        let wave = if row % 2 == 0 { 0.2 } else { -0.2 };
        let [lf, rf, lr, rr] = if on { [160.0, 155.0, 145.0, 140.0] } else { [0.0; 4] };
        let time = 1_769_839_200.0 + row as f64 / 100.0;
        writeln!(text, "{time:.3},{:.1},{:.1},{:.1},{:.1}", lf + wave, rf - wave, lr + wave, rr).unwrap();
    }
    text
}

fn bring_in(store: &Store, text: &str) -> Outcome {
    let bytes = std::io::Cursor::new(text.to_owned().into_bytes());
    Importer::new(store, "lane").file(Input::of("readings.csv", Box::new(bytes), None)).unwrap()
}

fn table(store: &Store) -> Vec<(Timestamp, shared::analysis::PassageSummary)> {
    let all = store.passages(&PassageFilter::default()).unwrap();
    all.into_iter().map(|passage| (passage.time, passage.summary)).collect()
}

#[test]
fn twice_adds_nothing_and_pieces_add_up() {
    let text = file(6);
    let whole = Store::in_memory().unwrap();
    let first = bring_in(&whole, &text);
    assert_eq!((first.rows, first.added, first.bad), (19_000, 6, 0), "{:?}", first.problems);
    let again = bring_in(&whole, &text);
    assert_eq!((again.added, again.already), (0, 6));

    // Overlapping pieces, the later first; both cut the fourth cow in two.
    let lines: Vec<_> = text.lines().collect();
    let piece = |from: usize, to: usize| format!("{}\n{}\n", lines[0], lines[from..to].join("\n"));
    let pieces = Store::in_memory().unwrap();
    bring_in(&pieces, &piece(10_200, lines.len()));
    bring_in(&pieces, &piece(1, 10_300));
    let starts = |store: &Store| table(store).into_iter().map(|row| row.0).collect::<Vec<_>>();
    assert_eq!(starts(&pieces).len(), 6);
    // The whole file takes the place of what was cut off.
    bring_in(&pieces, &text);
    assert_eq!(starts(&pieces), starts(&whole));
}

#[test]
fn a_cow_at_the_seam_of_two_files_stays_one() {
    let text = file(3);
    let lines: Vec<_> = text.lines().collect();
    let store = Store::in_memory().unwrap();
    let mut importer = Importer::new(&store, "lane");
    for rows in [&lines[1..4200], &lines[4200..7300], &lines[7300..]] {
        let piece = format!("{}\n{}\n", lines[0], rows.join("\n"));
        let input = Input::of("hour.csv", Box::new(std::io::Cursor::new(piece.into_bytes())), None);
        assert_eq!(importer.file(input).unwrap().bad, 0);
    }
    let whole = Store::in_memory().unwrap();
    bring_in(&whole, &text);
    assert_eq!(table(&store), table(&whole));
}

#[test]
fn a_trace_is_kept_from_before_the_first_foot() {
    let store = Store::in_memory().unwrap();
    bring_in(&store, &file(1));
    let passage = &store.passages(&PassageFilter::default()).unwrap()[0];
    let trace = store.trace(passage.id).unwrap().unwrap();
    let samples: Vec<_> =
        shared::wire::trace::TraceDecoder::new(&trace).map(|sample| sample.unwrap()).collect();
    let start = passage.summary.start.0;
    assert!(samples[0].time.0 < start && samples[0].time.0 + 400 > start);
    let during = samples.iter().find(|sample| sample.time.0 >= start + 1000).unwrap();
    let total: f32 = during.loads().0.iter().map(|load| load.0).sum();
    assert!((total - 600.0).abs() < 2.0, "{total}");
}

#[test]
fn bad_rows_are_left_out_and_said() {
    let mut lines: Vec<String> = file(1).lines().map(str::to_owned).collect();
    lines.insert(50, lines[49].clone());
    lines[100] = lines[100].replacen(',', ",abc,", 1);
    let swap = |line: &str, load: &str| format!("{},{load},0,0,0", line.split(',').next().unwrap());
    lines[110] = swap(&lines[110], "NaN");
    lines[120] = swap(&lines[120], "inf");
    lines[130] = swap(&lines[130], "12kg");
    lines[140] = "1769839000.0,0,0,0,0".to_owned();
    lines[150] = "1969839000.0,0,0,0,0".to_owned();
    let store = Store::in_memory().unwrap();
    let outcome = bring_in(&store, &lines.join("\r\n"));
    let said: Vec<_> = outcome.problems.iter().map(ToString::to_string).collect();
    assert_eq!(outcome.bad, 7, "{said:#?}");
    assert_eq!(outcome.added, 1);
    for (line, words) in [
        (51, "same row twice"),
        (101, "fields"),
        (111, "not a finite number"),
        (121, "not a finite number"),
        (131, "`12kg` is no number"),
        (141, "time runs back by"),
        (151, "in the future"),
    ] {
        let place = format!("line {line}");
        assert!(said.iter().any(|one| one.contains(&place) && one.contains(words)), "{place}: {said:#?}");
    }
}

#[test]
fn a_gap_is_no_problem() {
    let text = file(2);
    let kept: Vec<_> =
        text.lines().enumerate().filter(|(at, _)| !(1800..3500).contains(at)).map(|one| one.1).collect();
    let store = Store::in_memory().unwrap();
    let outcome = bring_in(&store, &kept.join("\n"));
    assert_eq!((outcome.added, outcome.bad), (2, 0), "{:?}", outcome.problems);
}

#[test]
fn the_rate_is_measured_past_gaps() {
    let at = |step: f64| -> Vec<Timed> {
        (0..500)
            .map(|i| ((f64::from(i) * step * 1e6) as i64 + i64::from(i / 100) * 60_000_000, [0.0; 4]))
            .collect()
    };
    for hz in [20.0, 100.0, 128.0, 333.0, 1000.0] {
        let rate = rate_hz(&at(1.0 / hz)).unwrap();
        assert!((rate / hz - 1.0).abs() < 0.002, "{hz}: {rate}");
    }
    let store = Store::in_memory().unwrap();
    let slow = "time,lf,rf,lr,rr\n0,0,0,0,0\n1,0,0,0,0\n2,0,0,0,0\n";
    assert!(bring_in(&store, slow).problems[0].what.contains("1.0 Hz"));
    assert!(bring_in(&store, "time,lf,rf,lr,rr\n").problems[0].what.contains("too few"));
}
