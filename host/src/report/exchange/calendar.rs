//! The days that somebody has to keep, as iCalendar (RFC 5545): rechecks, dressings and blocks due, ends of withdrawals.

use crate::record::finding::coded;
use crate::report::farm::Farm;
use crate::report::words::Words;
use icalendar::{Calendar, Component, Event, Property};
use jiff::Timestamp;
use jiff::civil::Date;
use serde_json::json;

/// An event of a whole day. Its name does not change, so that a calendar that reads the file again moves it.
fn day(uid: &str, date: Date, summary: &str, now: Timestamp) -> Event {
    let mut event = Event::new();
    event.uid(&format!("{uid}@fourplate.local")).summary(summary);
    event.add_property("DTSTAMP", now.strftime("%Y%m%dT%H%M%SZ").to_string());
    event.append_property(
        Property::new("DTSTART", date.strftime("%Y%m%d").to_string()).add_parameter("VALUE", "DATE").done(),
    );
    event.done()
}

/// The calendar of a farm as of its last day: rechecks that have not faded, and withdrawals that are not over.
#[must_use]
pub fn calendar(farm: &Farm, words: &Words, now: Timestamp) -> String {
    let mut calendar = Calendar::new();
    let names = &farm.directory.names;
    for recheck in farm.rechecks.iter().filter(|recheck| !recheck.faded(farm.date)) {
        let animal = crate::record::AnimalId(recheck.animal_id.clone());
        if farm.marks.gone(&animal) {
            continue;
        }
        let values = json!({
            "animal": names.short(&animal),
            "leg": words.letters_of(recheck.leg),
            "what": words.list(&recheck.look_for),
        });
        // Of one foot there may be a dressing and a recheck: what is looked for is part of the name.
        let what: Vec<String> = recheck.look_for.iter().map(|look| coded(look).code).collect();
        let uid = format!("case-{}-{}", recheck.case, what.join("-"));
        calendar.push(day(&uid, recheck.date, &words.say("calendar-recheck", values), now));
    }
    for open in &farm.withdrawals {
        for (product, end) in [("milk", open.milk_end), ("meat", open.meat_end)] {
            if let Some(end) = end {
                let values = json!({ "animal": names.short(&open.animal_id) });
                let summary = words.say(&format!("calendar-{product}"), values);
                calendar.push(day(&format!("{product}-{}", open.animal_id), end, &summary, now));
            }
        }
    }
    calendar.done().to_string()
}
