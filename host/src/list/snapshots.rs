//! What is printed, held against texts that were read by eye.
//!
//! `FOURPLATE_WRITE_SNAPSHOTS=1 cargo test -p host snapshots` writes them anew.

use super::farm::Farm;
use super::invented;
use super::morning::Morning;
use super::{card_text, text};
use crate::evaluate::{self, Options, pairing::Pairs};
use crate::herd::{AnimalId, Flag};
use jiff::civil::date;
use std::fmt::Write;
use std::path::Path;

#[track_caller]
fn assert_snapshot(name: &str, styled: &str) {
    let plain = anstream::adapter::strip_str(styled).to_string();
    for line in plain.lines() {
        assert!(line.chars().count() <= text::WIDTH, "{} columns: {line:?}", line.chars().count());
        assert_eq!(line, line.trim_end(), "blanks at the end of a line");
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/list/snapshots").join(name);
    if std::env::var_os("FOURPLATE_WRITE_SNAPSHOTS").is_some() {
        std::fs::write(&path, &plain).unwrap();
    }
    let wanted = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(plain == wanted, "{name} is now:\n{plain}");
}

#[test]
fn a_morning() {
    let farm = invented::farm();
    assert_snapshot("morning.txt", &text::render(&farm.morning(None), &farm.name, true));
}

#[test]
fn a_morning_on_an_old_terminal() {
    let farm = invented::farm();
    let printed = text::render(&farm.morning(Some(1)), "", false);
    assert!(printed.is_ascii());
    assert_snapshot("morning_ascii.txt", &printed);
}

#[test]
fn quiet_mornings() {
    let today = date(2026, 11, 24);
    let list = |farm: &Farm| -> Morning { farm.morning(None) };
    let mut farm = Farm::empty(today);
    let mut printed = text::render(&list(&farm), "", true);
    farm.days = vec![invented::cow_day("8", today, Flag::NoData)];
    let _ = write!(printed, "\n----\n\n{}", text::render(&list(&farm), "", true));
    farm.days.push(invented::cow_day("9", today, Flag::Clear));
    let _ = write!(printed, "\n----\n\n{}", text::render(&list(&farm), "", true));
    assert_snapshot("quiet.txt", &printed);
}

#[test]
fn cards() {
    let farm = invented::farm();
    let mut printed = String::new();
    for (animal, from) in [("1042", 1), ("77", 20), ("999", 20)] {
        let from = date(2026, 11, from);
        let card = farm.card(&AnimalId(animal.into()), Some(from)).unwrap();
        let _ = write!(printed, "{}\n----\n\n", card_text::render(&card, from, farm.date, true));
    }
    assert_snapshot("cards.txt", printed.trim_end());
    assert!(farm.card(&AnimalId("none".into()), None).is_none());
}

#[test]
fn an_evaluation() {
    let day = |d| date(2026, 11, d);
    let mut rows = Vec::new();
    for cow in 0..12 {
        for d in 1..=20 {
            let lame = cow % 3 == 0 && d > 8;
            let flagged = lame && d > 10 || cow == 5 && d == 4;
            let score = if lame { 2.0 } else { f64::from(u8::from(cow % 3 == 1)) };
            let mut row = evaluate::Judged::plain(cow, day(d), score, flagged);
            row.probability = Some(row.probability.unwrap() + 0.004 * f64::from(d) - 0.006 * cow as f64);
            row.true_place = lame.then_some(crate::herd::Place::One(shared::plate::Leg::RR));
            row.place = flagged.then_some(crate::herd::Place::One(shared::plate::Leg::RR));
            rows.push(row);
        }
    }
    let cows = (0..12).map(|cow| AnimalId(cow.to_string())).collect();
    let pairs = Pairs { cows, rows, without_row: 4 };
    let found = evaluate::evaluate(&pairs, &Options { draws: 200, ..Options::default() }).unwrap();
    assert_snapshot("evaluation.txt", &evaluate::text::render(&found, "mobility scores"));
    let picture = evaluate::plot::svg(&found).unwrap();
    assert!(picture.starts_with("<svg") && picture.trim_end().ends_with("</svg>"));
    assert!(picture.contains("ROC: area") && picture.contains("Calibration"));
    if let Some(path) = std::env::var_os("FOURPLATE_WRITE_PLOT") {
        std::fs::write(path, picture).unwrap();
    }
}
