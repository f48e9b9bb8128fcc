//! One cow: why she is on the list, her legs over time, her days, and the words for the veterinarian.

use crate::record::Flag;
use crate::record::case::KeptCase;
use crate::record::names::Names;
use crate::report::cow::card_text::{about, usual};
use crate::report::cow::{Card, card};
use crate::report::farm::Farm;
use crate::report::list::text::{lame, withdrawal};
use crate::report::pages::picture::{Picture, weight};
use crate::report::pages::render::{Page, View};
use crate::report::trim::case_line::{seen, summary};
use crate::report::words::Words;
use crate::store::Store;
use jiff::civil::Date;
use serde_json::json;

/// Passages of a cow that her page names. Our choice: two days.
const PASSAGES: usize = 6;

impl View<'_> {
    pub(super) fn cow(&self, farm: &Farm, store: &Store, id: Option<&str>) -> Page {
        let animal = match self.animal(farm, id, "/cow/") {
            Ok(animal) => animal,
            Err(page) => return page,
        };
        let Some(card) = farm.card(&animal, None) else { return self.problem(404, "page-no-animal") };
        let from = farm.card_from(None);
        let mut values = cow_values(&card, from, farm.date, self.words());
        let zone = store.time_zone().unwrap_or(jiff::tz::TimeZone::UTC);
        let hers = farm.passages.iter().rev().filter(|passage| passage.animal.as_ref() == Some(&animal));
        values["passages"] = hers
            .take(PASSAGES)
            .map(|passage| {
                let at = zone.to_datetime(passage.time);
                let time = format!("{} {}", self.words().day(at.date()), at.strftime("%H:%M"));
                json!([passage.time.as_millisecond(), time])
            })
            .collect();
        let cases = store.cases(Some(&animal)).unwrap_or_default();
        let last = cases.iter().rev().find(|kept| kept.withdrawn.is_none() && kept.case.date <= farm.date);
        values["for_vet"] = for_vet(&card, last, &farm.directory.names, self.words()).into();
        self.page("cow.html", values)
    }
}

/// What to say on the telephone: which leg, since when, what is seen, and what was done; as far as it is known.
fn for_vet(card: &Card, last: Option<&KeptCase>, names: &Names, words: &Words) -> Vec<String> {
    let mut said = vec![format!("{}. {}", card.called.long(&card.animal_id), about(card, words))];
    if let Some(row) = card.latest.as_ref().filter(|row| row.flag >= Flag::Watch) {
        let values = json!({
            "place": words.place(row.place),
            "since": words.since(row.since, row.date),
            "confidence": words.confidence(row.confidence),
        });
        said.push(words.say("page-vet-leg", values));
        said.push(words.list(&row.reasons));
    }
    if let Some(kept) = last {
        said.push(words.say("page-last-case", json!({ "summary": summary(kept, names, words) })));
        said.extend(kept.follow_ups.last().map(|look| {
            words.say("case-look", json!({ "date": words.long_day(look.date), "seen": seen(look, words) }))
        }));
    }
    said.push(words.text("page-vet-note"));
    said
}

fn cow_values(card: &Card, from: Date, to: Date, words: &Words) -> serde_json::Value {
    let share = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |value| words.number(value, 1));
    let day_row = |day: &card::CardDay| {
        let shares = [day.lf_share_pct, day.rf_share_pct, day.lr_share_pct, day.rr_share_pct].map(share);
        let flagged = day.flag.is_some_and(|flag| flag >= Flag::Watch);
        json!({
            "date": words.day(day.date),
            "flag": day.flag.map_or_else(String::new, |flag| words.flag(flag)),
            "class": day.flag.map_or("", Flag::name),
            "leg": words.place_letters(day.place.filter(|_| flagged)),
            "lame": day.probability.map(|p| words.percent(p)),
            "shares": shares,
            "kg": day.body_weight_kg.map(|kg| words.number(kg, 0)),
            "events": words.list(&day.events),
        })
    };
    let status = card.latest.as_ref().map(|row| {
        json!({
            "day": words.long_day(row.date),
            "flag": words.flag(row.flag),
            "class": row.flag.name(),
            "place": words.place(row.place),
            "since": words.since(row.since, row.date),
            "lame": row.probability.map(|p| lame(Some(p), words)),
            "confidence": words.confidence(row.confidence),
            "reasons": row.reasons.iter().map(|reason| words.finding(reason)).collect::<Vec<_>>(),
            "advice": row.advice.as_ref().map(|advice| words.finding(advice)),
            "block_on": row.block_on,
            "days_since_trim": row.days_since_trim,
            "flagged": row.flag >= Flag::Watch,
        })
    });
    json!({
        "id": card.animal_id.to_string(),
        "who": card.called.long(&card.animal_id),
        "withdrawal": card.withdrawal.as_ref().map(|open| withdrawal(open, words)),
        "about": about(card, words),
        "usual": usual(card, words),
        "status": status,
        "picture": Picture::new(card, from, to, words),
        "weight": weight(card, from, to, words),
        "days": card.days.iter().rev().map(day_row).collect::<Vec<_>>(),
    })
}
