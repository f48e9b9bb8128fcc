use super::*;
use crate::record::VersionSpan;
use crate::report::farm::Farm;
use jiff::civil::date;

// Put on on the 3rd, off on the 10th; of the days between and after there is nothing to show.
#[test]
fn a_block_is_told_of_when_it_goes_on_and_on_the_day_it_is_off() {
    let animal = AnimalId("1042".into());
    let work = FootWork {
        date: date(2026, 3, 3),
        animal: animal.clone(),
        leg: Some(Leg::RR),
        lesion: true,
        block_off: Some(date(2026, 3, 10)),
        block_due: None,
        block: true,
        look: false,
        known: VersionSpan::ALWAYS,
    };
    let farm = Farm { work: vec![work], ..Farm::empty(date(2026, 3, 12)) };
    let card = farm.card(&animal, Some(date(2026, 3, 1))).expect("work is known of her");
    let events: Vec<_> = card.days.into_iter().map(|day| (day.date.day(), day.events)).collect();
    let put_on = DayEvent::FootWork { leg: Some(Leg::RR), lesion: true, block: true };
    assert_eq!(events, [(3, vec![put_on]), (10, vec![DayEvent::BlockOff])]);
}
