use super::*;
use crate::record::{CowDay, Passage};
use crate::report::invented::{cow_day, morning_input, passage};
use crate::report::list::MorningInput;
use crate::report::words::Language;
use jiff::civil::{Date, date};

const TODAY: Date = date(2026, 3, 20);

/// Heading and sentence of a day on which no cow is to be checked.
fn said(days: &[CowDay], passages: &[Passage]) -> (String, String) {
    let list = Morning::new(&MorningInput { days, passages, ..morning_input(TODAY) });
    nothing(&list, &Words::new(Language::English))
}

#[test]
fn nothing_to_check_is_said_only_where_a_cow_was_judged() {
    let (title, why) = said(&[cow_day("1", TODAY, Flag::Clear)], &[]);
    assert_eq!(title, "Nothing to check");
    assert!(why.starts_with("1 cow was judged"), "{why}");
    let thin = cow_day("1", TODAY, Flag::CannotTell);
    let (title, why) = said(&[thin], &[passage("1", TODAY)]);
    assert_eq!(title, "Nothing can be said");
    assert!(why.starts_with("No cow could be judged on this day"), "{why}");
    let (title, why) = said(&[], &[]);
    assert_eq!(title, "Nothing can be said");
    assert!(why.starts_with("No passage was stored for this day"), "{why}");
}
