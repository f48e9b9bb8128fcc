use super::*;
use crate::record::finding::FlagReason;
use crate::record::{Flag, LaneCause, Place};
use crate::report::invented::{cow_day, lane_day};
use jiff::civil::date;
use shared::plate::{PerLeg, Plate};

fn words(words: &str) -> Cell {
    Cell::Text(words.into())
}

#[test]
fn a_day_of_a_cow_is_a_row_in_the_order_of_its_columns() {
    let today = date(2026, 3, 20);
    let lame = CowDay {
        place: Some(Place::One(Leg::RR)),
        place_probability: Some(0.93),
        leg_probability: PerLeg([0.01, 0.02, 0.04, 0.93]),
        since: Some((date(2026, 3, 1), date(2026, 3, 3), date(2026, 3, 5))),
        reasons: vec![FlagReason::NoTrustedPassage],
        days_since_trim: Some(4),
        ..cow_day("1042", today, Flag::Check)
    };
    // Without a place nothing is said of the legs either.
    let unsure = CowDay { block_on: true, ..cow_day("9", today, Flag::CannotTell) };
    let first = [
        Cell::Long(0),
        words("1042"),
        Cell::Day(today),
        words("check"),
        Cell::Exact(0.8),
        words("RR"),
        Cell::Exact(0.93),
        Cell::Exact(0.01),
        Cell::Exact(0.02),
        Cell::Exact(0.04),
        Cell::Exact(0.93),
        Cell::Day(date(2026, 3, 3)),
        Cell::Day(date(2026, 3, 1)),
        Cell::Day(date(2026, 3, 5)),
        words("no_trusted_passage"),
        words("fair"),
        Cell::Empty,
        Cell::Count(2),
        Cell::Yes(false),
        Cell::Count(4),
    ];
    let mut second = vec![Cell::Long(1), words("9"), Cell::Day(today), words("cannot_tell")];
    second.resize(15, Cell::Empty);
    second.extend([words("fair"), Cell::Empty, Cell::Count(2), Cell::Yes(true), Cell::Empty]);
    assert_eq!(days(&[lame, unsure]), [first.to_vec(), second]);
    assert_eq!(first.len(), DAYS.len());
}

#[test]
fn a_day_of_a_lane_is_a_row_with_its_plate_where_one_explains_it() {
    let day = date(2026, 3, 20);
    let light = LaneDay {
        cause: LaneCause::Plate,
        plate: Some(Plate::RR),
        plate_error_pct: Some(-2.5),
        ..lane_day("exit", day)
    };
    let begin =
        |row, lane, cause| vec![Cell::Long(row), words(lane), Cell::Day(day), Cell::Count(80), words(cause)];
    let mut first = begin(0, "exit", "plate");
    first.extend([words("RR"), Cell::Exact(-2.5)]);
    let mut second = begin(1, "entry", "steady");
    second.extend([Cell::Empty, Cell::Empty]);
    assert_eq!(first.len(), LANES.len());
    assert_eq!(lanes(&[light, lane_day("entry", day)]), [first, second]);
}
