//! What is so and worth telling.

use crate::record::Flag;
use crate::record::case::withdrawal;
use crate::record::finding::coded;
use crate::record::message::{Matter, MessageKind};
use crate::report::farm::{Farm, Part};
use crate::report::lane::{Urgency, lanes};
use crate::report::words::Words;
use crate::store::Store;
use jiff::{Timestamp, ToSpan, civil::Date};
use serde_json::json;

/// A list of a day before these is no news, days. Our choice: an import of old passages wakes nobody.
const NEWS_DAYS: i64 = 2;
/// For so many days a withdrawal that is over is worth telling. Our choice: a week without a network.
const OVER_DAYS: i64 = 7;

/// What is so now.
///
/// # Errors
/// When the store cannot be read.
pub fn matters(store: &Store, words: &Words, now: Timestamp) -> anyhow::Result<Vec<Matter>> {
    let zone = store.time_zone()?;
    let today = zone.to_datetime(now).date();
    let mut found = Vec::new();
    if let Some(farm) = Farm::load_part(store, None, Part::List)?
        && farm.date >= today.saturating_sub(NEWS_DAYS.days())
    {
        found.extend(urgent(&farm, words));
    }
    for lane in lanes(store, now)? {
        for remark in lane.remarks(now, &zone).iter().filter(|remark| remark.level == Urgency::Now) {
            let name = lane.device.lane();
            let text =
                words.say("tell-lane", json!({ "lane": name, "fault": words.lane_fault(&remark.fault) }));
            // The numbers of a fault change from hour to hour; it is the same fault.
            let fault = coded(&remark.fault);
            let plate = fault.values.get("plate").and_then(|plate| plate.as_str()).unwrap_or_default();
            let subject = format!("{name} {} {plate}", fault.code).trim_end().to_owned();
            found.push(Matter { kind: MessageKind::Lane, subject, text });
        }
    }
    found.extend(over(store, words, today)?);
    Ok(found)
}

fn urgent(farm: &Farm, words: &Words) -> Vec<Matter> {
    let list = farm.morning(None);
    let cows = list.cows.iter().filter(|cow| cow.flag == Flag::Urgent);
    cows.map(|cow| {
        let why = cow.reasons.first().map(|reason| words.finding(reason));
        let text = json!({
            "cow": farm.directory.names.long(&cow.animal_id),
            "place": words.place(cow.row.place),
            "date": cow.date,
            "why": why,
        });
        Matter {
            kind: MessageKind::Urgent,
            subject: cow.animal_id.to_string(),
            text: words.say("tell-urgent", text),
        }
    })
    .collect()
}

/// The withdrawals that were over in the last days; the latest end of each cow counts.
fn over(store: &Store, words: &Words, today: Date) -> anyhow::Result<Vec<Matter>> {
    let (names, cases) = (store.names()?, store.cases(None)?);
    let news = today.saturating_sub(OVER_DAYS.days())..today;
    let mut found = Vec::new();
    for (animal, ends) in withdrawal::latest(&cases) {
        for (of, end) in ["milk", "meat"].into_iter().zip(ends) {
            let Some(end) = end.filter(|end| news.contains(end)) else { continue };
            let text = words.say("tell-over", json!({ "cow": names.long(animal), "of": of, "date": end }));
            let subject = format!("{animal} {of} {end}");
            found.push(Matter { kind: MessageKind::WithdrawalOver, subject, text });
        }
    }
    Ok(found)
}
