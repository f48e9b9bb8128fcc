use super::*;
use crate::report::invented::{cow_day, stance, walk};
use crate::report::words::Language;
use jiff::civil::date;

const PLACE: FootPlace<'_> = FootPlace { farm: "Invented", zone: &TimeZone::UTC };

#[test]
fn a_cow_is_weighed_walking_over_or_standing_on_load_cells() {
    let day = date(2026, 3, 1);
    let passages = [walk("1", day, [60.0; 4]), stance("2", day, [25.0; 4])];
    let methods: Vec<_> =
        weights(&passages, &PLACE).into_iter().map(|event| event["weight"]["method"].clone()).collect();
    assert_eq!(methods, ["WalkOver", "LoadCell"]);
}

// To check on the 1st and 2nd, clear on the 3rd: over. Urgent on the 4th, her last day: it goes on.
#[test]
fn a_flag_has_an_end_only_once_a_later_day_is_without_it() {
    let flags = [(1, Flag::Check), (2, Flag::Check), (3, Flag::Clear), (4, Flag::Urgent)];
    let days = flags.map(|(day, flag)| cow_day("1042", date(2026, 3, day), flag));
    let events = attention(&days, &Words::new(Language::English), &PLACE);
    assert_eq!(events.len(), 2);
    assert_eq!(events[0]["eventDateTime"], "2026-03-01T23:59:59Z");
    assert_eq!(events[0]["priority"], "Normal");
    assert!(events[0]["alertEndDateTime"].is_string(), "{}", events[0]);
    assert_eq!(events[1]["eventDateTime"], "2026-03-04T23:59:59Z");
    assert_eq!(events[1]["priority"], "Urgent");
    assert!(events[1]["alertEndDateTime"].is_null(), "{}", events[1]);
}
